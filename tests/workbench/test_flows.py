"""The flows of a hall: from its log, kept while nothing changes, and handed on as the best known ones."""

from datetime import UTC, datetime

import pytest

from brinehouse import records
from brinehouse.demo import generator
from brinehouse.facility import reading
from brinehouse.network import flows as network
from brinehouse.workbench import flows
from brinehouse.workbench import hall as halls

NOON = datetime(2026, 3, 14, 6, tzinfo=UTC)


def flow_reading(number, value, unit="m³/h"):
    return records.Reading(
        id=f"{number:032x}",
        measured=NOON,
        entered=NOON,
        place="supply",
        quantity="flow",
        value=value,
        unit=unit,
        text=f"{value} {unit}",
        instrument="F-1",
    )


RUNS = """
[run.supply]
from = "sump-m"
to = "mangrove"
flow = "20 m3/h"

[run.back]
from = "mangrove"
to = "sump-m"
flow = "20 m3/h"
"""


@pytest.fixture
def hall(folder):
    file = folder / "facility.toml"
    file.write_text(file.read_text("utf-8") + RUNS, "utf-8")
    with halls.open_hall(folder) as opened:
        yield opened


def test_a_hall_without_a_log_answers_with_its_own_figures(hall):
    answer = flows.survey(hall)
    assert answer.state == "only-stated"
    assert flows.status(answer) == 0
    best = flows.best(hall)
    assert best.basis["supply"] == "stated"
    assert best.flows["supply"] == pytest.approx(20 / 3600)


def test_the_answer_is_kept_until_the_log_grows(hall):
    first = flows.survey(hall)
    assert flows.survey(hall) is first
    hall.write([flow_reading(1, 20.1)])
    again = flows.survey(hall)
    assert again is not first
    assert again.used == 1
    assert flows.best(hall).basis["supply"] == "reconciled"


def test_a_slip_of_units_needs_a_person(hall):
    hall.write([flow_reading(2, 20.0 * 1000 / 60)])
    answer = flows.survey(hall)
    assert "flows/unit-slip" in {finding.code for finding in answer.findings}
    assert flows.status(answer) == 1


@pytest.fixture(scope="module")
def history():
    return generator.generate(3, quick=True)


def test_the_best_flows_close_and_keep_near_the_truth(history):
    facility = reading.read(history.facility_text).facility
    answer = flows.examine(facility, history.readings, history.facts)
    best = flows.best_of(facility, answer)
    assert set(best.flows) == set(facility.runs)
    assert set(best.basis.values()) == {"reconciled", "stated"}
    for run, real in history.truths.flow_meter_bias.flows.items():
        assert best.flows[run] * 3600 == pytest.approx(real, rel=0.06)
    gaps = network.balances(facility).gaps(best.flows)
    assert max(abs(gaps[place]) for place in ("mangrove", "estuary", "kelp")) * 3600 < 0.02
    assert best.pumps["P-201"] > 0


def test_turns_come_from_the_pump_record(history):
    turned = records.turns(history.facts)
    assert {turn.pump for turn in turned} >= {"P-201", "P-202", "P-203", "P-204"}
    assert {turn.running for turn in turned} == {True, False}


def test_a_meter_that_does_not_fit_is_a_concern_with_its_reason_and_its_sheet(history):
    facility = reading.read(history.facility_text).facility
    answer = flows.examine(facility, history.readings, history.facts)
    (concern,) = flows.concerns_of(answer)
    assert concern.what == answer.sentence
    assert "13 of 13" in concern.why
    assert concern.href == "/flows"
    assert concern.next


def test_flows_that_agree_or_are_not_read_are_no_concern(hall):
    assert flows.concerns_of(flows.survey(hall)) == []

"""The pump that draws air in is named where the readings can tell, and nowhere else."""

import dataclasses

import pytest
import small_plant

from brinehouse.engines import gas_sources
from brinehouse.engines.gas_sources import surveying


def codes(answer):
    return [finding.code for finding in answer.findings]


def test_the_pump_that_draws_air_in_is_named_and_its_size_holds_the_truth(leaking):
    _, answer = leaking
    assert answer.state == "found"
    assert "P-2" in answer.sentence
    assert "sources/leak-found" in codes(answer)
    truth = small_plant.settled(15.0)
    for row in small_plant.table(answer, "levels"):
        low, high = row["leak"].interval()
        assert low < truth[row["place"]] < high, row["place"]


def test_the_ratio_of_nitrogen_to_oxygen_and_the_air_drawn_in_are_told():
    answer = gas_sources.survey(small_plant.given(places=("high", "low", "basin", "up")))
    low, high = answer.values["ratio"].interval()
    assert low < 1.96 < high, "0.119 of the pressure is oxygen's: air dissolved whole"
    low, high = answer.values["leaked_air"].interval()
    # science reference: 0.13 mL/L gives 1 % TGP (7.62 % per mL/L at S 35, 25.5 °C), 7.2 mmHg here
    assert low < 15.0 / 7.23 * 0.13 < high
    assert "sources/tap-assumed" in codes(answer)


def test_the_sources_add_up_to_what_was_measured(leaking):
    _, answer = leaking
    for place in ("high", "low", "basin"):
        rows = [row for row in small_plant.table(answer, "sources") if row["place"] == place]
        total = small_plant.row(rows, kind="sum")
        parts = sum(row["size"].value for row in rows if row["kind"] == "source")
        assert parts == pytest.approx(total["size"].value, abs=1e-9)
        assert total["closes"]


def test_with_the_leak_stopped_the_foretold_level_holds_the_truth(leaking):
    given, answer = leaking
    hours = (answer.as_of - small_plant.START).total_seconds() / 3600.0
    assert small_plant.running("P-2", given.turns, [hours])[0] == 1.0, "it runs at the last reading"
    _, bare = small_plant.water(0.0, "P-2", given.turns)
    rows = small_plant.table(answer, "what_ifs")
    for number, place in enumerate(("high", "low", "basin")):
        truth = sum(bare[gas][-1, number] for gas in small_plant.AIR)
        told = next(row for row in rows if row["place"] == place and "stopped" in row["change"])
        low, high = told["then"].interval()
        assert low < truth < high, place


@pytest.mark.parametrize("pump", ["P-1", "P-3"])
def test_another_leaking_pump_is_named_instead(pump):
    answer = gas_sources.survey(small_plant.given(pump=pump))
    assert answer.state == "found"
    assert answer.findings[0].data["pump"] == pump


def test_without_a_leak_none_is_found_and_the_most_that_could_hide_is_told():
    answer = gas_sources.survey(small_plant.given(leak=0.0))
    assert answer.state == "no-leak"
    found = next(f for f in answer.findings if f.code == "sources/no-leak")
    assert 0.0 <= found.data["bound"] < 5.0


def test_a_leak_at_a_suction_under_pressure_is_refused_and_says_why():
    answer = gas_sources.survey(small_plant.given(below_air="no"))
    assert answer.state == "refused"
    found = next(f for f in answer.findings if f.code == "sources/leak-refused")
    assert found.data["pump"] == "P-2"
    assert "as told" in found.text
    assert not any("air drawn in" in row["source"] for row in small_plant.table(answer, "sources"))


def test_where_heights_are_not_known_a_leak_is_not_ruled_out_and_that_is_said():
    given = dataclasses.replace(small_plant.given(), suctions={})
    answer = gas_sources.survey(given)
    assert answer.state == "found"
    assert "sources/suction-unknown" in codes(answer)


def test_two_pumps_that_always_run_together_cannot_be_told_apart_and_the_set_is_named():
    made = []
    for turn in small_plant.turns(pumps=("P-1", "P-2")):
        made.append(turn)
        if turn.pump == "P-2":
            made.append(dataclasses.replace(turn, pump="P-3"))
    answer = gas_sources.survey(small_plant.given(made=tuple(made)))
    assert answer.state == "cannot-say"
    found = next(f for f in answer.findings if f.code == "sources/cannot-say")
    assert set(found.data["set"]) == {"P-2", "P-3"}
    assert any("P-2 starts" in text or "P-3 starts" in text for text in answer.next_readings)


def test_too_few_samples_are_said_so():
    given = small_plant.given()
    answer = gas_sources.survey(dataclasses.replace(given, samples=given.samples[:5]))
    assert answer.state == "too-little"
    assert codes(answer) == ["sources/too-little"]


def test_a_run_without_a_flow_is_named():
    given = small_plant.given()
    known = {run: flow for run, flow in given.flows.items() if run != "side"}
    answer = gas_sources.survey(dataclasses.replace(given, flows=known))
    assert "sources/flow-missing" in codes(answer)


def test_what_is_mostly_assumed_is_said(leaking):
    _, answer = leaking
    found = next(f for f in answer.findings if f.code == "sources/mostly-assumed")
    assert found.data["parameters"]


def test_swapped_pumps_in_the_record_are_caught():
    given = small_plant.given()
    swap = {"P-2": "P-1", "P-1": "P-2"}
    other = tuple(dataclasses.replace(t, pump=swap.get(t.pump, t.pump)) for t in given.turns)
    answer = gas_sources.survey(dataclasses.replace(given, turns=other))
    assert answer.findings[0].data.get("pump") != "P-2"


def test_systems_stand_together_with_what_needs_a_person_first(leaking):
    _, answer = leaking
    quiet = gas_sources.survey(dataclasses.replace(small_plant.given(), samples=()))
    both = surveying.joined({"k": quiet, "s": answer}, {"s": "small loop", "k": "other"})
    assert both.state == "found"
    assert both.sentence.startswith("small loop: ")
    assert {row["system"] for row in small_plant.table(both, "sources")} == {"s"}
    assert surveying.joined({}, {}).state == "too-little"

"""An oxygen meter held against gas meters in the same water."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from brinehouse import records
from brinehouse.engines import gas_budget
from brinehouse.facility import model

START = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
HALL = model.Facility(
    name="hall",
    altitude=5.0,
    vessels={"tank": model.Vessel(id="tank", kind="tank", name="tank", salinity=34.0, temperature=25.3)},
    instruments={
        "A": model.Instrument(id="A", name="A", salinity_setting=34.0),
        "DO": model.Instrument(id="DO", name="DO", measures=("oxygen",)),
    },
)


def read(quantity, value, unit, day, instrument, minutes=0):
    when = START + timedelta(days=day, minutes=minutes)
    return records.Reading(
        id=f"{instrument}{day}{quantity}", measured=when, entered=when, place="tank", quantity=quantity,
        value=value, unit=unit, text=f"{value} {unit}", instrument=instrument,
        basis="air" if quantity == "barometer" else "",
    )  # fmt: skip


def history(turn, days=30, factor=1.2115):
    rng = np.random.default_rng(turn)
    rows = []
    for day in range(days):
        oxygen = 6.5 + 0.2 * rng.random()
        rows += [
            read("total gas pressure", 102.0, "%", day, "A"),
            read("oxygen", round(oxygen, 2), "mg/L", day, "A"),
            read("temperature", 25.3, "°C", day, "A"),
            read("barometer", 757.0, "mmHg", day, "A"),
        ]
        shown = oxygen * (factor if day < turn else 1.0) + 0.08 * rng.standard_normal()
        rows.append(read("oxygen", round(shown, 2), "mg/L", day, "DO", minutes=200))
    return rows


def survey(rows, facts=()):
    return gas_budget.survey(HALL, rows, facts=facts, as_of=START + timedelta(days=60))


def finding(answer):
    return next((one for one in answer.findings if one.code == "gas/meter-salinity-zero"), None)


@pytest.mark.parametrize("turn", [6, 15, 24])
def test_the_days_between_which_it_was_put_right_hold_the_day_it_was(turn):
    found = finding(survey(history(turn)))
    early, late = (datetime.fromisoformat(found.data[name]) for name in ("earliest", "latest"))
    assert early <= START + timedelta(days=turn) <= late + timedelta(hours=4)
    assert found.data["readings"] == turn
    assert found.data["factor"] == pytest.approx(1.21, abs=0.02)


def test_a_meter_that_stands_wrong_still_is_asked_about():
    found = finding(survey(history(30)))
    assert "stands at salinity 0" in found.text
    assert "earliest" not in found.data


def test_a_sound_meter_is_left_alone():
    assert finding(survey(history(0))) is None


def test_a_meter_three_percent_off_is_left_alone():
    assert finding(survey(history(30, factor=1.03))) is None


def test_corrected_readings_stand_beside_what_was_shown():
    answer = survey(history(10))
    table = next(one for one in answer.tables if one.name == "corrected DO")
    assert len(table.rows) == 10
    for row in table.rows:
        assert row["shown"].value / row["corrected"].value == pytest.approx(1.2115, abs=0.004)


def test_a_change_that_was_written_down_is_not_asked_for_again():
    written = records.Fact(
        id="f", kind="instrument-setting", measured=START + timedelta(days=10), entered=START,
        details={"instrument": "DO", "setting": "salinity", "value": "34"},
    )  # fmt: skip
    assert "nobody wrote" in finding(survey(history(10))).hint
    assert "nobody wrote" not in finding(survey(history(10), [written])).hint


def test_in_fresh_water_a_setting_of_zero_is_no_error():
    fresh = model.Facility(
        name="pond", altitude=5.0, instruments=HALL.instruments,
        vessels={"tank": model.Vessel(id="tank", kind="tank", name="tank", salinity=0.5, temperature=25.3)},
    )  # fmt: skip
    answer = gas_budget.survey(fresh, history(15), as_of=START + timedelta(days=60))
    assert finding(answer) is None

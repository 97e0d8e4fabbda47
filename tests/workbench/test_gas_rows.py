"""Readings of one sitting become one sample: the meter's offset taken off, the nearest salinity beside it."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import answers, records
from brinehouse.facility import reading as files
from brinehouse.workbench import gas_rows

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)


@pytest.fixture(scope="module")
def facility(lasting_folder):
    return files.read((lasting_folder / "facility.toml").read_text("utf-8")).facility


def row(quantity, value, unit, *, minutes=0.0, place="mangrove", instrument="meter-B", **changed):
    at = NOW + timedelta(minutes=minutes)
    told = {"id": f"{quantity}{minutes:g}{place}", "place": place, "instrument": instrument, **changed}
    return records.Reading(
        measured=at, entered=at, quantity=quantity, value=value, unit=unit, text=f"{value} {unit}", **told
    )


def visit(*, tgp=104.0, minutes=0.0, place="mangrove", **changed):
    kept = {"minutes": minutes, "place": place, **changed}
    return [row("total gas pressure", tgp, "%", **kept), row("oxygen", 7.0, "mg/L", **kept),
            row("temperature", 25.0, "°C", **kept), row("barometer", 760.0, "mmHg", **kept)]  # fmt: skip


def salt(value, *, hours, place="mangrove", **changed):
    return row("salinity", value, "PSU", minutes=60.0 * hours, place=place, instrument="", **changed)


def samples(facility, rows, offsets=None):
    found = gas_rows.samples(sorted(rows, key=lambda one: one.measured), facility, offsets or {})
    return [one for group in found.values() for one in group]


def test_a_sitting_becomes_one_sample_with_its_excess_pressure(facility):
    (one,) = samples(facility, [salt(33.0, hours=-1), *visit()])
    # ΔP = BP (TGP/100 - 1), the definition of total gas pressure in per cent
    assert one.delta_p == pytest.approx(760.0 * 0.04, abs=0.01)
    assert (one.place, one.at) == ("mangrove", NOW)
    assert one.oxygen < 104.0 < one.nitrogen  # the total lies between its parts


def test_a_meter_that_reads_too_high_is_corrected_by_its_offset(facility):
    rows = [salt(33.0, hours=-1), *visit()]
    (plain,) = samples(facility, rows)
    (right,) = samples(facility, rows, {"meter-B": answers.Value(value=1.5, unit="%")})
    assert plain.delta_p - right.delta_p == pytest.approx(0.015 * 760.0, abs=0.01)
    assert right.nitrogen < plain.nitrogen
    assert right.oxygen == pytest.approx(plain.oxygen)


def test_planted_fault_the_offset_of_another_meter_is_not_taken_off(facility):
    rows = [salt(33.0, hours=-1), *visit()]
    offsets = {"probe-1": answers.Value(value=1.5, unit="%"), "meter-B": answers.Value(value=None, unit="%")}
    assert samples(facility, rows, offsets) == samples(facility, rows)


def test_the_salinity_of_the_round_nearest_in_time_is_used(facility):
    near = samples(facility, [salt(33.0, hours=-1), *visit()])
    assert (
        samples(facility, [salt(5.0, hours=-9), salt(33.0, hours=-1), *visit(), salt(5.0, hours=9)]) == near
    )
    assert samples(facility, [salt(5.0, hours=-9), *visit(), salt(33.0, hours=1)]) == near
    (fresh,) = samples(facility, [salt(5.0, hours=-1), *visit()])
    assert fresh.oxygen < near[0].oxygen  # fresher water holds more: Garcia and Gordon (1992)


@pytest.mark.parametrize("rounds", [[], [salt(33.0, hours=-97)], [salt(33.0, hours=-1, quality="doubtful")],
                                    [salt(33.0, hours=-1, place="pipefish")]])  # fmt: skip
def test_without_a_salinity_of_this_water_there_is_no_sample(facility, rounds):
    assert samples(facility, [*rounds, *visit()]) == []


@pytest.mark.parametrize("gone", ["oxygen", "temperature", "barometer"])
def test_what_the_meter_did_not_show_is_not_made_up(facility, gone):
    rows = [one for one in visit() if one.quantity != gone]
    assert samples(facility, [salt(33.0, hours=-1), *rows]) == []


def test_values_further_apart_than_one_sitting_are_not_put_together(facility):
    late = [one for one in visit(minutes=16) if one.quantity == "oxygen"]
    rows = [one for one in visit() if one.quantity != "oxygen"]
    assert samples(facility, [salt(33.0, hours=-1), *rows, *late]) == []


def test_doubtful_readings_and_bounds_make_no_sample(facility):
    round_ = salt(33.0, hours=-1)
    assert samples(facility, [round_, *visit(quality="doubtful")]) == []
    assert samples(facility, [round_, *visit(bound=">")]) == []
    assert len(samples(facility, [round_, *visit(quality="unusual")])) == 1


def fact(kind, **details):
    return records.Fact(id=str(details), kind=kind, measured=NOW, entered=NOW, details=details)


def test_starts_and_stops_of_pumps_are_turns_and_nothing_else_is():
    told = [fact("pump-run", pump="p-1", running=True), fact("pump-run", pump="p-1", running=False),
            fact("event", what="new column"), fact("pump-run", running=True)]  # fmt: skip
    assert [(one.pump, one.running) for one in records.turns(told)] == [("p-1", True), ("p-1", False)]


def test_an_event_that_names_no_equipment_is_no_change_of_plant(facility):
    assert gas_rows.changes([fact("event", what="visitors")], facility, "mangrove") == []

"""The balance of the invented hall as the faces ask it."""

import datetime as dt

import pytest

from brinehouse.facility import changing, reading
from brinehouse.workbench import balance, balance_inputs, clock, known_water, mishaps
from brinehouse.workbench import hall as halls

NOW = dt.datetime(2026, 3, 14, 6, 40, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    from brinehouse.demo import building

    place = tmp_path_factory.mktemp("balance") / "hall"
    clock.freeze(NOW)
    building.build(place, seed=1, end="2026-03-14 06:40")
    clock.freeze(None)
    return place


@pytest.fixture
def hall(folder):
    clock.freeze(NOW)
    with halls.open_hall(folder) as opened:
        yield opened
    clock.freeze(None)


def rows(answer):
    return {(row["place"], row["quantity"]): row for row in answer.tables[0].rows}


def test_readings_stand_beside_the_balance(hall):
    answer = balance.survey(hall)
    got = rows(answer)
    assert got["mangrove", "temperature"]["read"].value == pytest.approx(25.5, abs=0.6)
    assert answer.used > 20
    assert answer.as_of is not None


def test_the_same_question_is_worked_out_once(hall):
    first = balance.survey(hall)
    assert balance.survey(hall) is first
    other = balance.survey(hall, balance.parse("remove column-m"))
    assert other is not first
    assert balance.survey(hall, balance.parse("remove column-m")) is other
    assert balance.survey(hall, balance.parse("  ")) is first


def test_air_that_the_readings_name_is_in_the_balance(hall):
    inputs = balance_inputs.look(hall)
    assert set(inputs.drawn.leaks) == {"P-203"}
    assert 0.0 < inputs.drawn.leaks["P-203"] < 3.0
    assert inputs.drawn.column is not None
    assert inputs.pressure.value == pytest.approx(96300.0, abs=2500.0)
    assert inputs.feed["mangrove"] > 0.2


def test_taking_the_column_out_raises_gas_where_its_water_goes(hall):
    got = rows(balance.survey(hall, balance.parse("remove column-m")))
    assert got["mangrove", "tgp"]["difference"].value > 0.3
    assert got["mangrove", "tgp"]["then"].value > got["mangrove", "tgp"]["today"].value


def test_a_change_that_cannot_be_made_says_why_and_today_still_stands(hall):
    answer = balance.survey(hall, balance.parse("remove colum-m", "line"))
    assert answer.state == "refused"
    assert [one.code for one in answer.findings if one.level.value == "stop"] == ["changing/no-such-thing"]
    assert rows(answer)["mangrove", "tgp"]["today"].value > 90.0


def test_the_file_on_disk_is_never_changed(hall):
    before = hall.file.read_bytes()
    balance.survey(hall, balance.parse("remove mangrove\nset m-side flow = 1 m3/h"))
    assert hall.file.read_bytes() == before


def test_every_example_can_be_worked_out(hall):
    made = balance.examples(hall.facility)
    assert len(made) >= 2
    for one in made:
        changed = changing.apply(hall.file.read_text("utf-8"), balance.parse(one.text))
        assert changed.facility is not None, [str(found) for found in changed.findings]
        assert one.said
        heavy = [found for found in changed.findings if found.level.value in ("ask", "stop")]
        assert heavy == [], one.text


def test_a_list_that_is_far_too_long_is_refused():
    with pytest.raises(mishaps.Refused) as refused:
        balance.parse("# " + "x" * balance.LONGEST)
    assert refused.value.findings[0].code == "balance/list-too-long"


def test_a_list_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(mishaps.Refused) as refused:
        balance.read(tmp_path / "none.toml")
    assert refused.value.findings[0].code == "balance/no-list"
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b"remove b\xe4cken")
    with pytest.raises(mishaps.Refused) as refused:
        balance.read(latin)
    assert "UTF-8" in refused.value.findings[0].text


def test_a_hall_without_a_logbook_has_a_balance_too(tmp_path, folder):
    (tmp_path / "facility.toml").write_bytes((folder / "facility.toml").read_bytes())
    clock.freeze(NOW)
    try:
        with halls.open_hall(tmp_path) as bare:
            answer = balance.survey(bare)
    finally:
        clock.freeze(None)
    assert answer.used == 0
    assert rows(answer)["mangrove", "tgp"]["read"] is None
    assert not (tmp_path / "logbook.sqlite").exists()


def test_a_reading_counted_as_the_ion_a_bound_and_a_doubtful_one_are_left_out(hall):
    facility = reading.read(hall.file.read_bytes()).facility
    good = next(r for r in hall.history(quantities=["temperature"], limit=1) if r.value is not None)
    import dataclasses

    odd = [
        dataclasses.replace(good, quantity="nitrate", unit="mg/L", basis="ion"),
        dataclasses.replace(good, bound="<"),
        dataclasses.replace(good, quality="doubtful"),
    ]
    assert known_water.newest(odd, facility) == {}
    assert known_water.newest([good], facility) != {}


def test_a_meter_that_reads_high_is_put_right(hall):
    from brinehouse import answers

    facility = hall.facility
    gas = hall.history(quantities=["total gas pressure"], newest_first=True, limit=20)
    one = next(r for r in gas if r.value is not None and r.quality == "good" and r.unit == "%")
    offset = {one.instrument: answers.Value(value=1.2, unit="%", u=0.1)}
    place = facility.place(one.place).id
    plain = known_water.newest([one], facility)[place]["total gas pressure"]
    put_right = known_water.newest([one], facility, offset)[place]["total gas pressure"]
    assert put_right.value == pytest.approx(plain.value - 1.2)
    assert put_right.u > plain.u


def test_gas_readings_stand_beside_the_balance_as_they_are_with_their_meters_error_taken_off(hall):
    from brinehouse.workbench import investigation

    offsets = investigation.offsets_of(investigation.investigate(hall).meters)
    assert offsets
    known = balance_inputs.look(hall).known
    begin = known_water.begin_of(hall)
    raw = known_water.newest(hall.history(since=begin, quantities=["total gas pressure"]), hall.facility)
    moved = {
        place: raw[place]["total gas pressure"].value - read["total gas pressure"].value
        for place, read in known.items()
        if "total gas pressure" in read and read["total gas pressure"].instrument in offsets
    }
    assert moved
    for place, by in moved.items():
        meter = known[place]["total gas pressure"].instrument
        assert by == pytest.approx(offsets[meter].value, abs=1e-9), place

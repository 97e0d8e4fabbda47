"""From a hall to its profiles: what is kept, what the readings bring, which system comes first."""

import datetime as dt
import pathlib
import sys

import pytest

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "network" / "profile"))

import oddhalls
import sketching

from brinehouse.facility import reading
from brinehouse.network.profile import parts
from brinehouse.workbench import clock, hall, loop

MMHG = 133.322387415
NOW = dt.datetime(2026, 3, 14, 6, 40, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def stopped():
    clock.freeze(NOW)
    yield
    clock.freeze(None)


@pytest.fixture
def drawn_up(monkeypatch):
    """Stations drawn up by hand stand in for the hydraulics."""
    monkeypatch.setattr(loop, "stations_of", lambda facility: (sketching.layout(facility), ()))


def facility(text):
    return reading.read(text.encode()).facility


def excess(mmhg, half=3.0):
    return parts.Excess(value=mmhg * MMHG, low=(mmhg - half) * MMHG, high=(mmhg + half) * MMHG)


def first(text, held, found=None):
    return loop.of(facility(text), held, found).systems[0]


def test_animals_above_the_line_decide_the_state(drawn_up):
    one = first(oddhalls.loop(shallow=0.1, pump_height=0.1), {"high": excess(34.0)})
    assert (one.state, one.worst.id) == ("shallow", "high")
    assert one.above == pytest.approx(0.35, abs=0.01)  # 34 mmHg is 0.45 m, the sketch of the sheet


def test_a_suction_below_air_pressure_is_named_before_the_animals(drawn_up):
    one = first(oddhalls.loop(shallow=0.1), {"high": excess(34.0)})
    assert (one.state, one.pumps) == ("air", ("P-9",))


def test_deep_animals_are_at_peace(drawn_up):
    assert first(oddhalls.loop(shallow=1.2), {"high": excess(34.0)}).state == "deep"


def test_without_readings_nothing_is_claimed(drawn_up):
    assert first(oddhalls.loop(pump_height=0.1), {}).state == "unread"


def test_the_system_that_hurts_stands_first(drawn_up):
    look = loop.of(facility(oddhalls.rack()), {"b-1": excess(40.0), "a-1": excess(1.0)})
    assert min(look.systems, key=lambda one: one.weight).profile.system == "b"


def test_places_by_themselves_stand_apart(drawn_up):
    text = oddhalls.loop() + oddhalls.table(
        "tank", "alone", name="Alone", volume="1 m3", depth="0.8 m", stands_alone=True
    )
    look = loop.of(facility(text), {})
    assert [stop.id for stop in look.alone] == ["alone"]
    assert [one.profile.system for one in look.systems] == ["p"]


def test_a_look_is_kept_until_the_file_changes(tmp_path):
    (tmp_path / "facility.toml").write_text(oddhalls.loop(), "utf-8")
    with hall.open_hall(tmp_path) as place:
        one = loop.look(place)
        assert loop.look(place) is one
        (tmp_path / "facility.toml").write_text(oddhalls.loop(crest=5.2), "utf-8")
        assert loop.look(place) is not one


def test_a_what_if_lies_beside_today_and_is_not_kept(tmp_path):
    (tmp_path / "facility.toml").write_text(oddhalls.loop(), "utf-8")
    with hall.open_hall(tmp_path) as place:
        then = loop.look(place, what_if="set high crest = 4.8 m")
        assert then.systems[0].then is not None
        assert then.systems[0].profile == loop.look(place).systems[0].profile
        assert loop.look(place).systems[0].then is None


def test_a_what_if_that_stops_leaves_today_standing(tmp_path):
    (tmp_path / "facility.toml").write_text(oddhalls.loop(), "utf-8")
    with hall.open_hall(tmp_path) as place:
        look = loop.look(place, what_if="remove nothing-here")
    assert look.systems[0].then is None
    assert any(one.code.startswith("changing/") for one in look.met)


def test_the_air_is_that_of_the_altitude():
    # standard atmosphere at 10 m: 101325 less about 12 Pa for each metre, ICAO Doc 7488
    assert loop.of(facility(oddhalls.loop()), {}).barometer == pytest.approx(101205, abs=5)


def test_plain_data_goes_out_as_json(drawn_up):
    import json

    text = json.dumps(loop.of(facility(oddhalls.loop()), {"high": excess(20.0)}).as_json())
    assert '"state": "air"' in text

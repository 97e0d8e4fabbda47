"""What is held of the last fortnight is what the logbook says, after every entry and correction."""

import contextlib
import random
from datetime import UTC, datetime, timedelta

from brinehouse import records
from brinehouse.logbook import kept
from brinehouse.workbench import clock, recent

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)


def reading(number, value, hours, place="mangrove", **more):
    told = {"text": f"{value} °C", "measured": NOW - timedelta(hours=hours), "entered": NOW} | more
    return records.Reading(
        id=f"{number:032x}", place=place, quantity="temperature", value=value, unit="°C", **told
    )


def as_read(hall):
    found = {}
    for one in hall.history(since=clock.now() - recent.LOOK_BACK):
        if one.value is not None:
            found.setdefault((one.place, one.quantity), []).append(one.id)
    return {key: sorted(ids) for key, ids in found.items()}


def held(hall):
    return {key: sorted(one.id for one in rows) for key, rows in recent.readings(hall).items() if rows}


def test_a_hall_without_a_logbook_holds_nothing_and_makes_none(hall):
    assert recent.readings(hall) == {}
    assert not (hall.folder / "logbook.sqlite").exists()


def test_it_follows_every_way_of_writing(hall):
    draw = random.Random(5)
    number = 0
    for step in range(60):
        what = draw.choice(["write", "write", "old", "correct", "withdraw", "back"])
        rows = hall.history()
        if what in ("write", "old") or not rows:
            number += 1
            hours = draw.uniform(400, 900) if what == "old" else draw.uniform(0, 330)
            hall.write([reading(number, 25.0 + step / 10, hours, draw.choice(["mangrove", "pipefish"]))])
        elif what == "correct":
            hall.supersede(draw.choice(rows).id, reason="slip", entered=NOW, value=20 + step / 100)
        elif what == "withdraw":
            hall.withdraw(draw.choice(rows).id, reason="other tank", entered=NOW + timedelta(seconds=step))
        else:
            taken = hall.facts(["withdrawal"])
            with contextlib.suppress(kept.Refused, IndexError):
                hall.withdraw(taken[-1].id, reason="it was right", entered=NOW + timedelta(seconds=step))
        assert held(hall) == as_read(hall)
    series = recent.readings(hall)["mangrove", "temperature"]
    assert [one.measured for one in series] == sorted(one.measured for one in series)


def test_only_what_is_new_is_read_again(hall, monkeypatch):
    hall.write([reading(1, 25.0, 5)])
    recent.readings(hall)
    monkeypatch.setattr(type(hall), "history", lambda *_, **__: 1 / 0)
    before = recent.readings(hall)
    hall.write([reading(2, 25.1, 4)])
    assert len(recent.readings(hall)["mangrove", "temperature"]) == 2
    assert len(before["mangrove", "temperature"]) == 1  # whoever looked before keeps what was seen


def test_a_day_later_the_oldest_are_let_go(hall):
    hall.write([reading(1, 25.0, 13 * 24), reading(2, 25.0, 1)])
    assert len(recent.readings(hall)["mangrove", "temperature"]) == 2
    clock.freeze(NOW + timedelta(days=3))
    assert len(recent.readings(hall)["mangrove", "temperature"]) == 1

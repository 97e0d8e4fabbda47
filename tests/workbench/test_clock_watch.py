"""A clock that jumps is written down, loses nothing and mixes nothing up."""

import time
from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records
from brinehouse.workbench import clock, clock_watch, desk
from brinehouse.workbench import hall as halls

NOON = datetime(2026, 3, 14, 12, tzinfo=UTC)
JUMPS = {
    "an hour ahead": NOON + timedelta(hours=1),
    "an hour back": NOON - timedelta(hours=1),
    "to 1970": datetime(1970, 1, 1, 0, 0, 5, tzinfo=UTC),
    "to 2036": datetime(2036, 2, 7, 6, 28, 16, tzinfo=UTC),
    "to 2106": datetime(2106, 2, 7, 6, 28, 15, tzinfo=UTC),
}


class Clocks:
    """A clock that may be set and one that may not, both at our word."""

    def __init__(self):
        self.told, self.ran = NOON, 500.0

    def pass_(self, seconds, set_to=None):
        self.ran += seconds
        self.told = set_to if set_to is not None else self.told + timedelta(seconds=seconds)

    def watch(self):
        return clock_watch.Watch(lambda: self.told, lambda: self.ran)


@pytest.mark.parametrize("to", JUMPS.values(), ids=JUMPS)
def test_a_jump_is_seen_once_with_how_far_and_from_when(to):
    clocks = Clocks()
    watch = clocks.watch()
    clocks.pass_(15)
    assert watch.look() is None
    clocks.pass_(15, to)
    jump = watch.look()
    assert (jump.before, jump.after) == (NOON + timedelta(seconds=30), to)
    clocks.pass_(15)
    assert watch.look() is None


def test_a_clock_set_right_by_little_or_a_slow_look_is_no_jump():
    clocks = Clocks()
    watch = clocks.watch()
    for _ in range(100):
        clocks.pass_(15, clocks.told + timedelta(seconds=15.4))  # a clock that runs too fast
        assert watch.look() is None
    clocks.pass_(7 * 3600)  # a machine that was asleep, or too busy to look
    assert watch.look() is None


def test_the_clock_that_cannot_be_set_runs_while_a_frozen_one_stands_still():
    began = clock_watch.steady()
    clock.freeze(NOON)
    try:
        time.sleep(0.01)
        assert 0.005 < clock_watch.steady() - began < 30
    finally:
        clock.freeze(None)


@pytest.mark.parametrize("to", JUMPS.values(), ids=JUMPS)
def test_a_jump_is_in_the_log_and_what_follows_stands_after_it(folder, to):
    clocks = Clocks()
    table = desk.Desk(folder)
    watcher = clock_watch.Watcher(table, clocks.watch())
    hall = table.hall()

    def write(number):
        clock.freeze(clocks.told)
        hall.write([reading(number, clocks.told)])

    write(1)
    clocks.pass_(15, to)
    clock.freeze(clocks.told)
    watcher.look()
    write(2)
    (note,) = hall.facts(["event"])
    assert note.details["what"] == clock_watch.sentence(clock_watch.Jump(NOON + timedelta(seconds=15), to))
    assert (note.measured, note.entered) == (to, to)
    order = [version.seq for id in ("1", note.id, "2") for version in hall.book.trail(id)]
    assert order == sorted(order)  # as they came, whatever their times say
    assert {(r.id, r.measured) for r in hall.history()} == {("1", NOON), ("2", to)}
    assert hall.book.verify(hall.book.head()) == []
    table.close()


def reading(number, at):
    return records.Reading(
        id=str(number), measured=at, entered=at, place="mangrove", quantity="temperature", value=25.0,
        unit="°C", text="25 °C",
    )  # fmt: skip


def test_a_jump_that_cannot_be_written_is_kept_until_it_can(folder, monkeypatch):
    from brinehouse.logbook import kept

    clocks = Clocks()
    table = desk.Desk(folder)
    table.hall().write([reading(1, NOON)])
    watcher = clock_watch.Watcher(table, clocks.watch())
    clocks.pass_(15, JUMPS["an hour back"])

    def full(*_):
        raise kept.NotSaved(kept.stop("logbook/not-saved", "the disk is full"))

    with monkeypatch.context() as broken:
        broken.setattr(halls.Hall, "write", full)
        assert watcher.look() is not None
    assert table.hall().facts(["event"]) == []
    clocks.pass_(15)
    assert watcher.look() is None
    assert len(table.hall().facts(["event"])) == 1
    table.close()


def test_a_hall_that_never_wrote_anything_begins_no_logbook_for_it(folder):
    clocks = Clocks()
    table = desk.Desk(folder)
    watcher = clock_watch.Watcher(table, clocks.watch())
    clocks.pass_(15, JUMPS["an hour ahead"])
    watcher.look()
    assert not halls.Hall.has_book(folder)
    table.close()


def test_the_thread_looks_by_itself_and_ends(folder):
    clocks = Clocks()
    table = desk.Desk(folder)
    table.hall().write([reading(1, NOON)])
    watcher = clock_watch.Watcher(table, clocks.watch(), every=0.01)
    watcher.start()
    clocks.pass_(15, JUMPS["an hour ahead"])
    end = time.monotonic() + 20
    while not table.hall().facts(["event"]) and time.monotonic() < end:
        time.sleep(0.02)
    watcher.close()
    assert len(table.hall().facts(["event"])) == 1
    table.close()

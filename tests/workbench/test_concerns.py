"""What gas and flows add to the sheet of what is not as it should be."""

from datetime import UTC, datetime

from brinehouse import findings
from brinehouse.workbench import concerns, flows, investigation, now

AT = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)


def told(what):
    return now.Concern(level=findings.Level.WATCH, since=AT, what=what)


def test_a_hall_in_which_nothing_was_written_has_none_and_gets_no_logbook(hall):
    assert concerns.of(hall) == []
    assert not (hall.folder / "logbook.sqlite").exists()


def test_what_gas_and_flows_say_stand_together(hall, monkeypatch):
    hall.book.head()  # it has a logbook now
    monkeypatch.setattr(investigation, "concerns_of", lambda found: [told("a meter reads high")])
    monkeypatch.setattr(flows, "concerns_of", lambda answer: [told("a flow meter reads low")])
    assert [one.what for one in concerns.of(hall)] == ["a meter reads high", "a flow meter reads low"]

"""Every kind of fact, as a keeper would say it."""

import typing
from datetime import UTC, datetime

import pytest

from brinehouse import records
from brinehouse.workbench import told

AT = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)


def line(kind, details=None, **more):
    return told.line(records.Fact(id="0", kind=kind, measured=AT, entered=AT, details=details or {}, **more))


@pytest.mark.parametrize(
    ("kind", "details", "said"),
    [
        ("gas-trial", {"values": [100.0, 103.0], "unit": "%", "instrument": "B"}, "2 readings, last 103.0 %"),
        ("gas-trial", {"instrument": "meter-B", "unit": "%"}, "begun"),
        ("gas-trial", {"trial": "0a", "minute": 4.0, "value": 103.1}, "minute 4.0: 103.1"),
        ("gas-trial", {"trial": "0a", "concluded": True}, "ended"),
        ("pump-run", {"pump": "P-201", "running": True}, "P-201 on"),
        ("feeding", {"food": "krill", "grams": 40, "eaten": "little"}, "40 g krill, eaten: little"),
        ("feeding", {"food": "pellets"}, "pellets"),
        ("observation", {"animals": "pipefish", "sign": "hangs at the surface", "count": 3},
         "pipefish: hangs at the surface (3)"),
        ("observation", {"animals": "wrasse", "sign": "eats as usual", "count": 0}, "wrasse: eats as usual"),
        ("instrument-check", {"check": "air", "reads": 100.7, "should_read": 100.0, "unit": "%"},
         "air check: reads 100.7 %, should read 100.0 %"),
        ("instrument-setting", {"setting": "salinity", "value": "34 PSU", "before": "0 PSU"},
         "salinity set to 34 PSU, before 0 PSU"),
        ("light", {"hours": 9.5}, "9.5 h of light"),
        ("event", {"what": "new column", "equipment": "G-2"}, "new column"),
    ],
)  # fmt: skip
def test_a_fact_is_told_as_a_keeper_would_say_it(kind, details, said):
    assert line(kind, details) == said


@pytest.mark.parametrize("kind", typing.get_args(records.FactKind))
def test_a_fact_that_lacks_what_its_kind_needs_is_still_told(kind):
    assert "krill" in line(kind, {"food": "krill"}) or kind in ("gas-trial", "withdrawal")
    assert isinstance(line(kind), str)
    assert line("note", note="calm") == "calm"


def test_what_was_taken_back_is_told_with_the_reason():
    assert (
        line("withdrawal", {"target": "0a1b2c3d4e5f"}, reason="other tank")
        == "0a1b2c3d taken back: other tank"
    )


def test_who_is_on_call_is_told_by_name_and_in_the_halls_own_time():
    details = {"person": 8, "since": "2026-07-01T21:45:00+00:00", "until": "2026-07-02T06:00:00+00:00"}
    at = datetime(2026, 7, 1, 21, 45, tzinfo=UTC)
    fact = records.Fact(id="0", kind="on-call", measured=at, entered=at, details=details)
    said = told.line(fact, {8: "Ada Wren"}, "Europe/London")
    assert said == "Ada Wren is on call from 2026-07-01 22:45 until 2026-07-02 07:00"
    assert told.line(fact, {}, "Europe/London").startswith("person 8 is")

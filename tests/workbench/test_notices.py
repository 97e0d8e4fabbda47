"""Notices of a hall: raised by its readings, told to people, and as people left them."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import findings, records
from brinehouse.workbench import clock, mishaps, notice_counts, notices, now, people, told

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)
ASKS = """cause = "air drawn in"
consequence = "bubbles in fins"
harm = "animals die"
response = "look at the strainer"
time = "4 h"
dead_band = "0.3 %"
"""
LEAD = people.Who(number=None, name="Ben", role="lead")
KEEPER = people.Who(number=None, name="Anna", role="keeper")


@pytest.fixture
def asking(hall):
    text = hall.file.read_text("utf-8")
    first = text.index('source = "house rule"')
    hall.file.write_text(text[:first] + ASKS + text[first:], "utf-8")
    return hall


def pressure(number, value, minutes=10, **more):
    at = clock.now() - timedelta(minutes=minutes)
    told = {"text": f"{value} %", "measured": at, "entered": clock.now()} | more
    return records.Reading(
        id=f"{number:032x}", place="pipefish", quantity="total gas pressure", value=value, unit="%", **told
    )


def one(hall):
    (found,) = [each for each in notices.look(hall).notices if each.quantity]
    return found


def later(**passed):
    clock.freeze(clock.now() + timedelta(**passed))


def test_a_limit_that_asks_is_a_notice_and_one_that_does_not_is_an_event(asking):
    asking.write([
        pressure(1, 101.5),
        records.Reading(id="f" * 32, measured=NOW, entered=NOW, place="mangrove", quantity="temperature",
                        value=27.0, unit="°C", text="27.0 °C"),
    ])  # fmt: skip
    found = one(asking)
    assert (found.state, found.level, found.value) == ("new", findings.Level.WATCH, "101.5 %")
    assert (found.response, found.consequence, found.hours) == (
        "look at the strainer",
        "bubbles in fins",
        4.0,
    )
    sheet = now.look(asking)
    assert [(row.what, row.state) for row in sheet.concerns] == [
        ("pipefish: total gas pressure", "new"), ("mangrove: temperature", ""),
    ]  # fmt: skip


def test_act_on_one_reading_asks_for_a_second_one(asking):
    asking.write([pressure(1, 103.0)])
    assert (one(asking).level, one(asking).second) == (findings.Level.WATCH, True)
    assert "second reading" in now.look(asking).concerns[0].next
    asking.write([pressure(2, 103.2, 2)])
    assert (one(asking).level, one(asking).second) == (findings.Level.ACT, False)


def test_little_time_in_hand_does_not_wait_and_is_told(asking, monkeypatch):
    known = {("pipefish", "total gas pressure"): (0.4, "power fails"), ("pipefish", ""): (0.4, "power fails")}
    monkeypatch.setattr(notices, "in_hand", lambda _: known)
    asking.write([pressure(1, 103.0)])
    found = one(asking)
    assert (found.level, found.hours, found.in_hand) == (findings.Level.ACT, 0.4, "power fails")
    assert found.priority == "at once"
    assert now.look(asking).in_hand["pipefish"] == (0.4, "power fails")


def test_time_in_hand_is_never_worked_out_for_a_page(asking, monkeypatch):
    import sys

    monkeypatch.delitem(sys.modules, "brinehouse.workbench.time_in_hand", raising=False)
    assert notices.in_hand(asking) == {}
    assert "brinehouse.workbench.time_in_hand" not in sys.modules


def test_what_was_seen_stays_seen_until_it_is_raised_anew(asking):
    asking.write([pressure(1, 101.5)])
    notices.act(asking, one(asking), "seen", KEEPER, person=asking.person("Anna"))
    assert (one(asking).state, one(asking).by) == ("seen", "Anna")
    later(minutes=5)
    asking.write([pressure(2, 101.6, 1)])
    assert one(asking).state == "seen"
    asking.write([pressure(3, 100.2, 0)])
    assert one(asking).state == "normal"
    later(minutes=30)
    asking.write([pressure(4, 101.6, 1)])
    assert one(asking).state == "new"


def test_one_that_came_and_went_unseen_is_still_told_for_three_days(asking):
    asking.write([pressure(1, 101.5, 60), pressure(2, 100.0, 30)])
    assert one(asking).state == "gone unseen"
    later(days=3)
    assert one(asking).state == "normal"


def test_a_shelf_has_an_end_and_a_reason_and_comes_back(asking):
    asking.write([pressure(1, 101.5)])
    notices.act(asking, one(asking), "shelved", KEEPER, until=NOW + timedelta(hours=4), why="probe out")
    found = one(asking)
    assert (found.state, found.act.why, found.act.until) == ("shelved", "probe out", NOW + timedelta(hours=4))
    assert now.look(asking).concerns == []
    later(hours=4, minutes=1)
    assert one(asking).state == "new"


@pytest.mark.parametrize(
    ("what", "who", "more", "code"),
    [
        ("shelved", KEEPER, {"until": NOW + timedelta(hours=4)}, "notice/no-reason"),
        ("shelved", KEEPER, {"why": "x"}, "notice/no-end"),
        ("shelved", KEEPER, {"why": "x", "until": NOW + timedelta(hours=13)}, "notice/no-end"),
        ("out of service", KEEPER, {"why": "x"}, "notice/not-yours"),
        ("out of service", LEAD, {}, "notice/no-reason"),
        ("in service", KEEPER, {}, "notice/not-yours"),
        ("forgotten", LEAD, {}, "notice/no-act"),
    ],
)
def test_nothing_is_put_aside_without_what_it_needs(asking, what, who, more, code):
    asking.write([pressure(1, 101.5)])
    with pytest.raises(mishaps.Refused) as refused:
        notices.act(asking, one(asking), what, who, **more)
    assert refused.value.findings[0].code == code
    assert one(asking).state == "new"


def test_a_lead_takes_one_out_of_service_and_it_is_listed_until_brought_back(asking):
    asking.write([pressure(1, 101.5)])
    notices.act(asking, one(asking), "out of service", LEAD, why="tank is empty")
    later(days=10)
    assert one(asking).state == "out of service"
    assert [row.what for row in now.look(asking).book.of("out of service")] == [
        "pipefish: total gas pressure"
    ]
    notices.act(asking, one(asking), "in service", LEAD)
    assert one(asking).state != "out of service"


def test_a_concern_keeps_its_state_while_its_numbers_change(asking):
    asking.write([pressure(1, 100.0)])

    def late(days):
        return now.Concern(
            level=findings.Level.WATCH, since=NOW - timedelta(days=2), what=f"the copy is {days} days old",
            next="make one", code="backup/overdue",
        )  # fmt: skip

    (found,) = notices.look(asking, [late(2)]).of("new")
    notices.act(asking, found, "seen", KEEPER)
    assert [each.what for each in notices.look(asking, [late(3)]).of("seen")] == ["the copy is 3 days old"]


def test_a_sensor_that_falls_silent_is_told_and_a_hand_is_not(asking):
    sensor = [pressure(at, 100.0, 200 + 5 * at, source="sensor") for at in range(1, 20)]
    asking.write(sensor)
    (found,) = [each for each in notices.look(asking).notices if each.code == "notice/sensor-silent"]
    assert "silent" in found.what
    asking.write([pressure(50, 100.0, 1)])  # somebody read it by hand since
    assert not [each for each in notices.look(asking).notices if each.code == "notice/sensor-silent"]


def test_an_id_that_is_not_there_is_refused(asking):
    with pytest.raises(mishaps.Refused) as refused:
        notices.one(notices.look(asking), "no such")
    assert refused.value.findings[0].code == "notice/unknown"


def test_the_log_says_what_was_done(asking):
    asking.write([pressure(1, 101.5)])
    notices.act(asking, one(asking), "shelved", KEEPER, until=NOW + timedelta(hours=2), why="probe out")
    (fact,) = asking.facts(["notice"])
    assert told.line(fact) == "pipefish: total gas pressure: shelved until 2026-03-14 08:40 UTC (probe out)"


def test_a_hall_counts_its_own_notices(asking):
    asking.write([pressure(at, 101.5 if at % 2 else 99.0, 60 * at) for at in range(1, 21)])
    found = notice_counts.of(asking, notices.look(asking))
    assert found.count == 10
    assert not found.enough  # twenty hours
    assert found.often[0].what == "pipefish: total gas pressure"
    assert found.often[0].chatters is False  # one an hour, read each hour: not three in three readings

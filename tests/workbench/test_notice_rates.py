"""A hall counts its own notices and holds them against published figures; with few data it says so."""

from datetime import UTC, datetime, timedelta

from brinehouse.workbench import notice_rates as rates

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)
BEGIN = NOW - timedelta(days=30)


def raised(*minutes, notice="a", priority="this day"):
    return [
        rates.Raised(at=BEGIN + timedelta(minutes=at), notice=notice, what=notice, priority=priority)
        for at in minutes
    ]


def figure(found, name):
    return next(one for one in found.figures if one.name == name)


def test_a_calm_hall_is_within_every_published_figure():
    found = rates.reckon(raised(*range(0, 30 * 1440, 300)), BEGIN, NOW)
    assert found.enough
    assert figure(found, "mean_day").value == 144 / 30  # one each five hours
    assert {one.verdict for one in found.figures if one.name != "top_ten"} == {"well"}


def test_one_each_ten_minutes_is_the_most_that_is_well_and_two_are_much():
    # EEMUA 191 by secondary sources: about 1 per 10 min is very likely acceptable, about 2 is the most
    well = rates.reckon(raised(*range(5, 30 * 1440, 10)), BEGIN, NOW)
    assert figure(well, "mean_ten").verdict == "well"
    much = rates.reckon(raised(*range(5, 30 * 1440, 6)), BEGIN, NOW)
    assert figure(much, "mean_ten").verdict == "much"
    over = rates.reckon(raised(*range(5, 30 * 1440, 4)), BEGIN, NOW)
    assert figure(over, "mean_ten").verdict == "too much"
    assert figure(over, "mean_day").verdict == "too much"


def test_a_flood_is_more_than_ten_in_ten_minutes_and_lasts_until_fewer_than_five_come():
    assert rates.flooded([BEGIN + timedelta(minutes=at) for at in range(10)]) == []
    quick = [BEGIN + timedelta(seconds=30 * at) for at in range(15)]
    slow = [quick[-1] + timedelta(minutes=2 * at) for at in range(1, 6)]
    (one,) = rates.flooded([*quick, *slow])
    assert one.begin == BEGIN
    assert one.count >= 15
    found = rates.reckon(raised(*(at / 2 for at in range(15))), BEGIN, NOW)
    assert len(found.floods) == 1
    assert figure(found, "most_ten").verdict == "too much"


def test_with_fewer_than_thirty_days_a_rate_cannot_be_told():
    found = rates.reckon(raised(40_000), NOW - timedelta(days=12), NOW, standing=7)
    assert not found.enough
    assert figure(found, "mean_day").verdict == "cannot tell"
    assert figure(found, "standing").verdict == "too much"  # that is seen in one look


def test_those_raised_most_often_are_named_and_priorities_split():
    many = [*raised(*range(0, 60, 2)), *raised(*range(0, 30, 10), notice="b", priority="at once")]
    found = rates.reckon(many, BEGIN, NOW, chattering=["a"])
    assert [(one.notice, one.count, one.chatters) for one in found.often] == [
        ("a", 30, True),
        ("b", 3, False),
    ]
    assert [(name, count) for name, count, _ in found.split] == [
        ("at once", 3),
        ("this shift", 0),
        ("this day", 30),
    ]
    assert figure(found, "chattering").verdict == "too much"


def test_nothing_raised_is_no_rate_and_no_fault():
    found = rates.reckon([], BEGIN, NOW)
    assert (found.count, list(found.often), list(found.floods)) == (0, [], [])
    assert figure(found, "flooded").value == 0.0

"""A notice is raised by readings, waits for what it should wait for, and stands as people left it."""

from datetime import UTC, datetime, timedelta

import pytest

from brinehouse.facility import model
from brinehouse.workbench import notice_states as states

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)
RULE = states.Rule(watch=model.Band(low=24.0, high=26.0), act=model.Band(low=22.0, high=28.0), dead_band=0.2)


def run(*values, step=60, rule=RULE, hand=True, meters=None, u=0.0):
    samples = [
        states.Sample(
            at=NOW + timedelta(minutes=step * at), value=value, hand=hand, u=u,
            meter=(meters or ["T"] * len(values))[at],
        )
        for at, value in enumerate(values)
    ]  # fmt: skip
    return states.episodes(samples, rule)


def at(minutes):
    return NOW + timedelta(minutes=minutes)


def test_inside_asks_nobody():
    assert run(25.0, 25.9, 24.0, 26.0) == []


def test_one_reading_outside_is_a_notice_until_it_is_back_by_the_dead_band():
    (one,) = run(25.0, 26.3, 25.9, 25.85, 25.8)
    assert (one.level, one.since, one.raised, one.left) == ("watch", at(60), at(60), at(240))


def test_without_a_dead_band_a_value_on_the_edge_comes_and_goes():
    flicker = (26.1, 25.9, 26.1, 25.9, 26.1)
    bare = states.Rule(watch=RULE.watch)
    assert len(run(*flicker, rule=bare)) == 3
    assert len(run(*flicker)) == 1


def test_act_on_one_meter_asks_for_a_second_reading_first():
    (one,) = run(28.5)
    assert (one.level, one.second) == ("watch", True)
    (two,) = run(28.5, 28.4)
    assert (two.level, two.second, two.steps) == ("act", False, ((at(0), "watch"), (at(60), "act")))


def test_a_second_reading_that_does_not_confirm_leaves_it_at_watch():
    (one,) = run(28.5, 26.4)
    assert (one.level, one.second) == ("watch", False)


def test_near_harm_does_not_wait_for_a_second_reading():
    (one,) = run(28.5, rule=states.Rule(watch=RULE.watch, act=RULE.act, near=True))
    assert (one.level, one.second) == ("act", False)


def test_an_interval_over_the_limit_asks_for_a_second_reading_and_is_not_sure():
    (one,) = run(25.9, u=0.2)
    assert (one.level, one.sure, one.second) == ("watch", False, True)
    assert run(25.0, u=0.2) == []


def test_a_sensor_waits_out_the_delay_and_a_hand_does_not():
    rule = states.Rule(watch=RULE.watch, delay=timedelta(minutes=15))
    assert run(26.5, 26.5, step=5, rule=rule, hand=False) == []
    (one,) = run(26.5, 26.5, 26.5, 26.5, step=5, rule=rule, hand=False)
    assert (one.since, one.raised) == (at(0), at(15))
    assert run(26.5, 25.0, 26.5, 25.0, step=10, rule=rule, hand=False) == []
    (by_hand,) = run(26.5, rule=rule)
    assert by_hand.raised == at(0)


def act(what, minutes, until=None):
    return states.Act(what=what, at=at(minutes), until=at(until) if until is not None else None)


@pytest.mark.parametrize(
    ("asked", "left", "acts", "now", "state"),
    [
        (None, None, [], 0, "normal"),
        (0, None, [], 5, "new"),
        (0, None, [act("seen", 2)], 5, "seen"),
        (10, None, [act("seen", 2)], 15, "new"),  # it rose to act after it was seen
        (0, 8, [], 15, "gone unseen"),
        (0, 8, [act("seen", 10)], 15, "normal"),
        (0, None, [act("shelved", 1, 60)], 5, "shelved"),
        (0, None, [act("shelved", 1, 60)], 61, "new"),  # it comes back by itself
        (0, None, [act("shelved", 1, 60), act("unshelved", 3)], 5, "new"),
        (0, None, [act("out of service", 1)], 10_000, "out of service"),
        (0, None, [act("out of service", 1), act("in service", 2)], 5, "new"),
        (0, 8, [act("out of service", 1)], 15, "out of service"),
    ],
)
def test_it_stands_as_people_left_it(asked, left, acts, now, state):
    found = states.standing(
        at(asked) if asked is not None else None, at(left) if left is not None else None, acts, at(now)
    )
    assert found.state == state


def test_nothing_is_shelved_for_longer_than_a_shift():
    assert states.shelf(at(60), NOW) == at(60)
    assert states.shelf(at(12 * 60), NOW) == at(12 * 60)
    assert states.shelf(at(13 * 60), NOW) is None
    assert states.shelf(at(-1), NOW) is None


def test_there_are_three_priorities_and_both_harm_and_time_go_in():
    found = {
        states.priority(harm, hours, level)
        for harm in ("animals die", "animals suffer", "more work", "")
        for hours in (0.1, 2.0, 12.0, None)
        for level in ("watch", "act")
    }
    assert found == set(states.PRIORITIES)
    assert states.priority("animals die", 0.4, "act") == "at once"
    assert states.priority("animals die", 12.0, "watch") == "this shift"
    order = [
        states.PRIORITIES.index(states.priority("animals suffer", hours, "act")) for hours in (0.2, 3, 9)
    ]
    assert order == sorted(order)


def test_chattering_is_counted_in_the_readings_own_time():
    minute = timedelta(minutes=1)
    assert states.chatters([NOW, at(0.4), at(0.9)], timedelta(seconds=10))
    assert not states.chatters([NOW, at(2), at(4)], timedelta(seconds=10))
    assert states.chatters([NOW, at(20), at(40)], 20 * minute)
    assert not states.chatters([NOW, at(20)], 20 * minute)

"""The rule of turns: what it promises holds for many groups, each promise with a rule that breaks it."""

import datetime as dt
import itertools
import random

import pytest

from brinehouse.engines.turns import planning, question, spans

NOW = dt.datetime(2026, 3, 2, 8, tzinfo=dt.UTC)
DAY, HOUR = question.DAY, question.HOUR
ALWAYS = spans.Spans(((NOW - 400 * DAY, NOW + 4000 * DAY),))


def group(
    wear,
    keep=1,
    turn=24.0,
    spacing=0.0,
    *,
    idle=7.0,
    free=None,
    locked=(),
    running=(),
    turns=ALWAYS,
    due=None,
):
    pumps = [f"P-{n + 1}" for n in range(len(wear))]
    return planning.Group(
        pumps=pumps,
        keep=keep,
        turn=turn * HOUR,
        idle=idle * DAY,
        due=due,
        wear=dict(zip(pumps, map(float, wear), strict=True)),
        spacing=spacing,
        running=[pumps[n] for n in running] if running else None,
        rested={pump: NOW for n, pump in enumerate(pumps) if n not in running},
        locked=frozenset(pumps[n] for n in locked),
        free={pumps[n]: one for n, one in (free or {}).items()},
        turns=turns,
    )


def play(made, days):
    return planning.play(made, NOW, NOW + days * DAY)


def spread(wear):
    return max(wear.values()) - min(wear.values())


class Worst(planning._Play):
    """A rule that does it wrong: who has run most runs on."""

    def _order(self, pumps, until):
        return list(reversed(super()._order(pumps, until)))


def play_wrong(made, days, rule=Worst):
    wrong = rule(made, NOW, NOW + days * DAY)
    while wrong.now < wrong.end:
        wrong.step()
    return wrong.finish()


# An independent calculation of the least-hours rule: steps of 500 h are even within 24 h in 90 days
@pytest.mark.parametrize(("steps", "keep"), [((0, 500, 1000, 1500), 2), ((0, 500, 1000), 1)])
def test_least_hours_even_out_steps_of_500_h_within_a_day_in_ninety_days(steps, keep):
    assert spread(play(group(steps, keep), 90).wear) <= 24.0 + 1.0
    assert spread(play_wrong(group(steps, keep), 90).wear) > 1000.0


def at_once(plan, pump, begin, end):
    """Hours a pump runs between two moments, trials with it."""
    mine = [one for one in plan.spells if one.pump == pump]
    return sum(max((min(one.end, end) - max(one.begin, begin)) / HOUR, 0.0) for one in mine)


def many(count=40):
    luck = random.Random(5)
    for _ in range(count):
        pumps = luck.randint(1, 6)
        keep = luck.randint(1, pumps)
        turn = luck.choice([6.0, 24.0, 36.0, 168.0, 336.0])
        wear = [luck.uniform(0.0, 3000.0) for _ in range(pumps)]
        running = luck.sample(range(pumps), keep)
        yield group(wear, keep, turn, luck.choice([0.0, 400.0]), running=running), luck


def too_few(plan, made):
    """Moments at which fewer run than are kept running, by spells of pumps that are no trial starts."""
    edges = sorted({one.begin for one in plan.spells} | {one.end for one in plan.spells} | {plan.begin})
    return [at for at in edges if at < plan.end and len(plan.running(at)) != made.keep]


def test_as_many_run_as_are_kept_running_at_every_moment():
    for made, _ in many():
        assert too_few(play(made, 40), made) == []
        assert play(made, 40).short == []


def test_that_check_finds_a_moment_with_one_too_few():
    made = group([0, 10, 20], 2, running=(0, 1))
    plan = play(made, 10)
    plan.spells.pop(0)
    assert too_few(plan, made)


def idle_spans(plan, made):
    """Every stretch for which a pump that may run did not run at all."""
    found = []
    for pump in made.pumps:
        mine = sorted((one.begin, one.end) for one in plan.spells if one.pump == pump)
        ends = [plan.begin, *(end for _, end in mine)]
        begins = [*(begin for begin, _ in mine), plan.end]
        found += [begin - end for end, begin in zip(ends, begins, strict=True)]
    return found


def test_no_pump_rests_longer_than_a_week():
    for made, _ in many():
        assert max(idle_spans(play(made, 60), made)) <= made.idle


def test_that_check_finds_a_rule_without_trial_starts():
    class Lazy(planning._Play):
        def _trial(self, pump):
            return None

    made = group([0, 3000, 6000], 1, spacing=0.0, running=(0,))
    assert max(idle_spans(play(made, 60), made)) <= made.idle
    assert max(idle_spans(play_wrong(made, 60, Lazy), made)) > made.idle


def test_an_offset_once_reached_is_kept_within_one_turn():
    for keep, turn in itertools.product((1, 2, 3), (12.0, 24.0, 36.0)):
        made = group([0, 2000, 4000, 6000], keep, turn, spacing=2000.0, running=range(keep))
        for days in (5, 20, 45, 70):
            plan = play(made, days)
            assert plan.spread <= turn + 1.0 + 0.5 * len(plan.spells) * 0.02
    assert play_wrong(made, 70).spread > 2 * turn


def test_an_offset_is_built_up_from_pumps_that_are_all_new():
    plan = play(group([0, 0, 0], 1, spacing=300.0), 60)
    order = sorted(plan.wear.values())
    assert order[1] - order[0] == pytest.approx(300.0, abs=25.0)
    assert order[2] - order[1] == pytest.approx(300.0, abs=25.0)


def test_a_start_is_counted_where_a_pump_begins_to_run_and_nowhere_else():
    for made, _ in many(20):
        plan = play(made, 30)
        for number, pump in enumerate(made.pumps):
            begun = [one for one in plan.spells if one.pump == pump and one.begin >= NOW]
            already = 1 if pump in (made.running or ()) else 0
            assert plan.starts[pump] == len(begun) - already, number


def test_hours_are_neither_made_nor_lost():
    for made, _ in many(20):
        plan = play(made, 30)
        for pump in made.pumps:
            assert plan.wear[pump] - made.wear[pump] == pytest.approx(at_once(plan, pump, NOW, plan.end))


def test_who_runs_goes_on_where_the_hours_are_the_same():
    plan = play(group([0, 0], 1, 24.0, running=(1,), due=NOW), 6)
    assert plan.changes[0].at == NOW + 1 * DAY  # P-2 leads by a day then
    assert len(plan.changes) <= 4  # two days each, not one


def test_a_pump_kept_free_for_work_rests_through_it_and_is_made_up_for():
    begin, end = NOW + 30 * HOUR, NOW + 36 * HOUR
    free = {0: spans.Spans(((begin, end),))}
    plan = play(group([0, 500, 900], 2, 24.0, free=free, running=(0, 1), due=NOW + 20 * DAY), 5)
    assert at_once(plan, "P-1", begin, end) == 0.0
    assert plan.running(begin) == ("P-2", "P-3")
    assert plan.changes[0].why == "work"
    never = play(group([0, 500, 900], 2, 24.0, running=(0, 1), due=NOW + 20 * DAY), 5)
    assert at_once(never, "P-1", begin, end) == 6.0  # without the window it would have run


def test_at_a_turn_before_the_work_the_pump_is_let_rest_so_that_nothing_changes_twice():
    free = {0: spans.Spans(((NOW + 5 * HOUR, NOW + 9 * HOUR),))}
    plan = play(group([0, 500, 900], 2, 24.0, free=free, due=NOW), 1)
    assert plan.running(NOW) == ("P-2", "P-3")


def test_a_pump_that_is_locked_out_never_runs_and_one_too_few_is_told():
    plan = play(group([0, 500], 2, 24.0, locked=(0,), running=(1,)), 5)
    assert at_once(plan, "P-1", NOW, plan.end) == 0.0
    assert plan.short
    assert plan.short[0][0] == NOW


def test_a_turn_waits_for_people():
    shift = spans.joined((NOW + d * DAY, NOW + d * DAY + 8 * HOUR) for d in range(30))
    plan = play(group([0, 0, 0], 1, 36.0, running=(0,), turns=shift, due=NOW + 36 * HOUR), 20)
    assert plan.changes
    assert all(shift.holds(change.at) for change in plan.changes)


def brute(wear, keep, steps, turn):
    """The least spread that any schedule of whole turns can end with."""
    best = float("inf")
    choices = list(itertools.combinations(range(len(wear)), keep))
    for schedule in itertools.product(choices, repeat=steps):
        hours = list(wear)
        for chosen in schedule:
            for pump in chosen:
                hours[pump] += turn
        best = min(best, max(hours) - min(hours))
    return best


@pytest.mark.parametrize("keep", [1, 2])
@pytest.mark.parametrize("wear", [(0, 24, 96), (0, 0, 0), (10, 60, 61), (0, 150, 200)])
def test_no_schedule_of_whole_turns_ends_more_even_than_the_rule(wear, keep):
    steps, turn = 6, 24.0
    plan = play(group(wear, keep, turn, idle=100.0, due=NOW), steps)
    assert spread(plan.wear) <= brute(wear, keep, steps, turn) + 1.0 + 1e-6
    wrong = play_wrong(group(wear, keep, turn, idle=100.0, due=NOW), steps)
    assert spread(wrong.wear) > brute(wear, keep, steps, turn) + 1.0


def test_a_pump_that_comes_to_its_hours_counts_from_nought_again():
    made = group([0, 990.0], 1, 24.0, running=(1,), due=NOW + 100 * DAY)
    object.__setattr__(made, "life", {"P-1": 1000.0, "P-2": 1000.0})
    plan = play(made, 5)
    assert plan.overhauls["P-2"] == NOW + 10 * HOUR
    assert plan.wear["P-2"] == pytest.approx(5 * 24 - 10)

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import chains, reliability

HOUR = 3600.0
LAMBDA, REPAIR = 3e-5 / HOUR, 24 * HOUR
RATES, REPAIRS = st.floats(1e-6, 1e-3).map(lambda r: r / HOUR), st.floats(1, 500).map(lambda t: t * HOUR)
DUTY = reliability.Standby(1, 2, LAMBDA, LAMBDA / 10, REPAIR, change_over=0.95, hand_start=2 * HOUR)


def alone(needed, units, crews=None, **more):
    return reliability.running_group(needed, units, LAMBDA, REPAIR, 0.0, crews, **more).independent


# Reliability Analytics, worked example of k out of n: 3 of 4 at 0.9; found in a public source
def test_three_of_four_displays_at_nine_tenths():
    assert float(1 - reliability.short_of(3, 4, 0.1)) == pytest.approx(0.9477, abs=1e-6)


# Birth-death chain, an independent calculation: computed; 3e-5/h, 24 h
@pytest.mark.parametrize(
    ("crews", "share", "often"),
    [(1, 3.105921021151481e-06, 0.0011328455275160056), (3, 1.552218037770281e-06, 0.0011328472876270157)],
)
def test_two_of_three_pumps_with_few_and_with_many_hands(crews, share, often):
    found = alone(2, 3, crews)
    assert found.unavailability == pytest.approx(share, rel=1e-4)
    assert found.failures_per_year == pytest.approx(often, rel=1e-4)
    assert found.time_to_first / HOUR == pytest.approx(7743827.160494, rel=1e-9)


# Closed forms (5l+m)/(6l²) and (3l+m)/(2l²), standard, computed
@given(rate=RATES, repair=REPAIRS)
def test_the_time_to_the_first_loss_is_the_closed_form(rate, repair):
    mend = 1 / repair
    two = reliability.running_group(2, 3, rate, repair, 0.0).independent.time_to_first
    one = reliability.running_group(1, 2, rate, repair, 0.0).independent.time_to_first
    assert two == pytest.approx((5 * rate + mend) / (6 * rate**2), rel=1e-9)
    assert one == pytest.approx((3 * rate + mend) / (2 * rate**2), rel=1e-9)


# Four-state chain, an independent calculation: computed
def test_duty_and_standby_with_a_change_over_that_fails_once_in_twenty():
    found = reliability.standby_group(DUTY, beta=0.0).both
    assert found.unavailability == pytest.approx(3.5675997215477606e-06, rel=1e-6)
    assert found.time_to_first / chains.YEAR == pytest.approx(75.02739558213703, rel=1e-9)


# The same calculation in words: 4812 years with a perfect change-over; computed
def test_a_change_over_that_never_fails_is_worth_far_more_than_a_better_pump():
    perfect = reliability.standby_group(DUTY._replace(change_over=1.0), beta=0.0).both.time_to_first
    better = reliability.standby_group(DUTY._replace(rate=LAMBDA / 2), beta=0.0).both.time_to_first
    assert perfect / chains.YEAR == pytest.approx(4812, abs=0.5)
    assert perfect > 20 * better


# Norwegian Oil and Gas guideline 070, appendix D: formulas found in a public source, values computed
def test_protection_by_one_and_by_two_channels():
    one = reliability.fails_on_demand(3e-6 / HOUR, 8760 * HOUR, 0.05)
    two = reliability.fails_on_demand(3e-6 / HOUR, 8760 * HOUR, 0.05, channels=2)
    assert one.both == pytest.approx(0.01314, abs=1e-6)
    assert two.independent == pytest.approx(0.0002302128, abs=1e-9)
    assert two.common == pytest.approx(0.000657, abs=1e-9)
    assert two.both == pytest.approx(two.independent + two.common)


# An independent calculation: computed, 7.2e-5 and 46 times
def test_leaving_out_the_shared_cause_misleads_forty_six_times():
    found = reliability.running_group(2, 3, LAMBDA, REPAIR, beta=0.1)
    assert found.common.unavailability == pytest.approx(7.2e-5, rel=1e-3)
    assert found.common.unavailability / found.independent.unavailability == pytest.approx(46, abs=0.5)
    assert found.both.unavailability > found.common.unavailability


@pytest.mark.parametrize("fault", ["crews", "common", "hands", "first"])
def test_a_wrong_chain_is_seen(monkeypatch, fault):
    real = reliability._after_hands
    if fault == "crews":  # every machine mended at once whatever the hands
        monkeypatch.setattr(reliability, "min", lambda out, hands: out, raising=False)
        check = lambda: test_two_of_three_pumps_with_few_and_with_many_hands(1, 3.105921021e-06, 0.001132845)  # noqa: E731
    elif fault == "common":  # shared cause lost
        monkeypatch.setattr(reliability, "unavailability_of_one", lambda rate, repair_time: 0.0)
        check = test_leaving_out_the_shared_cause_misleads_forty_six_times
    elif fault == "hands":  # hands start nothing
        monkeypatch.setattr(
            reliability, "_after_hands", lambda plan, now: [(s, r / 2) for s, r in real(plan, now)]
        )
        check = test_duty_and_standby_with_a_change_over_that_fails_once_in_twenty
    else:  # the time to the first loss taken for that to the first failure
        monkeypatch.setattr(reliability.chains, "_time_to_first", lambda rates, down: 1.0 / rates.max())
        check = test_duty_and_standby_with_a_change_over_that_fails_once_in_twenty
    with pytest.raises(AssertionError):
        check()


@given(needed=st.integers(1, 3), spare=st.integers(0, 2), rate=RATES, repair=REPAIRS, crews=st.integers(1, 5))
def test_one_more_spare_never_makes_a_running_group_worse(needed, spare, rate, repair, crews):
    few = reliability.running_group(needed, needed + spare, rate, repair, 0.0, crews).both
    more = reliability.running_group(needed, needed + spare + 1, rate, repair, 0.0, crews).both
    assert more.time_to_first >= few.time_to_first * (1 - 1e-9)
    assert more.unavailability <= few.unavailability * (1 + 1e-9)


@given(needed=st.integers(1, 3), spare=st.integers(0, 3), rate=RATES, repair=REPAIRS)
def test_with_hands_for_each_machine_the_chain_is_the_binomial(needed, spare, rate, repair):
    units = needed + spare
    chain = reliability.running_group(needed, units, rate, repair, 0.0).independent.unavailability
    out = reliability.unavailability_of_one(rate, repair)
    assert chain == pytest.approx(float(reliability.short_of(needed, units, out)), rel=1e-9)


@given(rate=RATES, repair=REPAIRS, beta=st.floats(0.0, 1.0), spare=st.integers(1, 4))
def test_no_number_of_spares_beats_the_shared_cause(rate, repair, beta, spare):
    found = reliability.running_group(1, 1 + spare, rate, repair, beta)
    floor = beta * float(reliability.unavailability_of_one(rate, repair))
    assert found.both.unavailability >= floor * (1 - 1e-12)
    assert found.both.time_to_first <= found.independent.time_to_first * (1 + 1e-12)


@given(better=st.floats(0, 1), worse=st.floats(0, 1), spare=st.integers(1, 3), needed=st.integers(1, 3))
def test_a_better_change_over_never_shortens_the_time_to_the_first_loss(better, worse, spare, needed):
    worse, better = sorted((better, worse))
    plan = DUTY._replace(needed=needed, units=needed + spare)
    low, high = (
        reliability.standby_group(plan._replace(change_over=c), 0.0).both.time_to_first
        for c in (worse, better)
    )
    assert high >= low * (1 - 1e-9)


def test_standby_by_hand_is_lost_at_each_failure_for_as_long_as_the_walk_takes():
    found = reliability.standby_group(DUTY._replace(change_over=0.0, standby_rate=0.0), 0.0).both
    assert found.time_to_first == pytest.approx(1 / LAMBDA, rel=1e-9)
    assert found.unavailability == pytest.approx(2 * 3e-5, rel=0.02)


def test_a_dead_standby_that_nobody_notices_appears_as_such():
    seen = reliability.standby_group(DUTY._replace(change_over=1.0), 0.0).both
    rare = reliability.standby_group(DUTY._replace(change_over=1.0, test_every=2190 * HOUR), 0.0).both
    weekly = reliability.standby_group(DUTY._replace(change_over=1.0, test_every=168 * HOUR), 0.0).both
    assert seen.unnoticed == 0.0
    assert rare.unnoticed == pytest.approx(3e-6 * 2190 / 2, rel=0.1)  # rate × half the interval
    assert rare.unavailability > weekly.unavailability > seen.unavailability
    assert rare.time_to_first < weekly.time_to_first < seen.time_to_first


def test_stopped_machines_do_not_fail():
    assert alone(2, 3, 1, rest_when_down=True).unavailability < alone(2, 3, 1).unavailability
    assert alone(2, 3, 1, rest_when_down=True).time_to_first == pytest.approx(alone(2, 3, 1).time_to_first)


def test_shares_too_small_for_an_ordinary_solve_stay_exact():
    chain = alone(1, 8).unavailability
    assert chain == pytest.approx(float(reliability.unavailability_of_one(LAMBDA, REPAIR)) ** 8, rel=1e-10)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: reliability.short_of(4, 3, 0.1), "needed is 4 of 3"),
        (lambda: reliability.running_group(1, 2, -1.0, 1.0, 0.0), "rate is -1.0"),
        (lambda: reliability.running_group(1, 2, 1.0, float("nan"), 0.0), "repair_time is nan"),
        (lambda: reliability.running_group(1, 2, 1.0, 1.0, 1.5), "beta is 1.5"),
        (lambda: reliability.running_group(1, 2, 1.0, 1.0, 0.0, 0), "crews is 0"),
        (lambda: reliability.standby_group(DUTY._replace(change_over=95), 0.0), "change_over is 95"),
        (lambda: reliability.standby_group(DUTY._replace(standby_rate=-1), 0.0), "standby_rate is -1"),
        (lambda: reliability.standby_group(DUTY._replace(test_every=0), 0.0), "test_every is 0"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(call, said):
    with pytest.raises(ValueError, match=said):
        call()


def test_a_group_without_spares_is_the_running_group_whether_all_are_needed_or_fewer():
    for needed, crews in ((2, 1), (2, 3), (3, 1)):
        plan = reliability.Standby(3, 3, LAMBDA, 0.0, REPAIR, 0.0, HOUR, crews=crews, enough=needed)
        found = reliability.standby_group(plan, 0.0).independent
        assert found.unavailability == pytest.approx(alone(needed, 3, crews).unavailability, rel=1e-9)
        assert found.time_to_first == pytest.approx(alone(needed, 3, crews).time_to_first, rel=1e-9)


@given(st.integers(1, 3), RATES)
def test_no_flow_at_all_is_rarer_than_too_few(enough, rate):
    plan = reliability.Standby(3, 4, rate, rate / 10, REPAIR, 0.9, 2 * HOUR, 12 * HOUR)
    some = reliability.standby_group(plan._replace(enough=enough), 0.0).both
    all_ = reliability.standby_group(plan, 0.0).both
    assert some.unavailability <= all_.unavailability * (1 + 1e-9)
    assert some.time_to_first >= all_.time_to_first * (1 - 1e-9)


def test_more_than_run_cannot_be_enough():
    with pytest.raises(ValueError, match="needed is 2"):
        reliability.standby_group(DUTY._replace(enough=2), 0.0)

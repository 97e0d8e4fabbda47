import math
import re
from pathlib import Path

import numpy as np
import pytest

from brinehouse.science import statistics, statistics_profile

NIST = Path(__file__).parent / "published" / "nist"
CERTIFIED = re.compile(r"^\s*b\d =\s+\S+\s+\S+\s+(\S+)\s+(\S+)", re.MULTILINE)


def nist(name):
    """Data and certified values as NIST prints them: (x, y, [b1, b2], [sd1, sd2], rss, s)."""
    text = (NIST / f"{name}.dat").read_text()
    pairs = [(float(b), float(sd)) for b, sd in CERTIFIED.findall(text)]
    rss = float(re.search(r"Residual Sum of Squares:\s+(\S+)", text)[1])
    s = float(re.search(r"Residual Standard Deviation:\s+(\S+)", text)[1])
    y, x = np.loadtxt(NIST / f"{name}.dat", skiprows=60).T
    return x, y, [p[0] for p in pairs], [p[1] for p in pairs], rss, s


def certified_digits_agree(name, order=slice(None)):
    x, y, b, sd, rss, s = nist(name)
    fit = statistics.first_order_fit(x[order], y[order], start=0.0)
    got = [fit.plateau, fit.rate, fit.plateau_sd, fit.rate_sd, fit.rss, fit.residual_sd]
    return got, [*b, *sd, rss, s]


@pytest.mark.parametrize("name", ["BoxBOD", "Misra1a"])
def test_the_nist_certified_values_and_their_standard_deviations_come_out(name):
    got, want = certified_digits_agree(name)  # NIST StRD, certified to eleven digits
    assert got == pytest.approx(want, rel=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_the_order_of_the_readings_does_not_matter(seed):
    order = np.random.default_rng(seed).permutation(14)
    got, want = certified_digits_agree("Misra1a", order)
    assert got == pytest.approx(want, rel=1e-9)


@pytest.mark.parametrize("offset", [0.3, 0.6, 0.9])
def test_a_scan_that_begins_elsewhere_ends_at_the_same_fit(monkeypatch, offset):
    monkeypatch.setattr(statistics_profile, "_SLOWEST", statistics_profile._SLOWEST * (1 + offset))
    monkeypatch.setattr(statistics_profile, "_GRID", 40)
    for name in ("BoxBOD", "Misra1a"):
        got, want = certified_digits_agree(name)
        assert got == pytest.approx(want, rel=1e-9)


def test_a_wrong_derivative_would_be_noticed(monkeypatch):
    whole = statistics_profile.Profile.jacobian
    monkeypatch.setattr(
        statistics_profile.Profile, "jacobian", lambda self, *of: whole(self, *of) * [1.0, 1.01]
    )
    got, want = certified_digits_agree("BoxBOD")
    assert got != pytest.approx(want, rel=1e-6)


def test_the_profile_interval_is_where_the_sum_of_squares_reaches_the_f_bound():
    x, y, *_ = nist("BoxBOD")
    fit = statistics.first_order_fit(x, y, start=0.0)
    bound = fit.rss * (1 + 7.708647 / 4)  # F(0.95; 1, 4) = 7.7086, NIST/SEMATECH table 1.3.6.7.3
    for plateau in fit.plateau_interval:
        rates = np.geomspace(0.01, 10, 200001)
        rss = np.sum((y - plateau * (1 - np.exp(-rates[:, None] * x))) ** 2, axis=1).min()
        assert rss == pytest.approx(bound, rel=1e-4)


def test_rising_and_falling_trials_are_mirror_images():
    t = np.array([0, 1, 2, 4, 7, 11, 16])
    y = 104 - 6 * np.exp(-t / 5) + 0.1 * np.array([1, -1, 0, 1, -1, 1, 0])
    up, down = statistics.first_order_fit(t, y), statistics.first_order_fit(t, 200 - y)
    assert up.time_constant == pytest.approx(down.time_constant, rel=1e-9)
    assert up.plateau == pytest.approx(200 - down.plateau, rel=1e-9)
    assert up.plateau_interval[0] == pytest.approx(200 - down.plateau_interval[1], rel=1e-5)


def test_minutes_may_begin_late_repeat_and_come_unsorted():
    t = np.array([12, 3, 3, 5, 8, 20, 3])
    fit = statistics.first_order_fit(t, 103 - 5 * np.exp(-(t - 3) / 4))
    assert (fit.plateau, fit.time_constant, fit.start) == pytest.approx((103, 4, 98), rel=1e-8)
    assert fit.origin == 3


def test_readings_all_alike_have_no_time_constant():
    fit = statistics.first_order_fit([0, 5, 10, 15], [104.0] * 4)
    assert math.isnan(fit.time_constant)
    assert fit.plateau == 104.0
    assert fit.time_constant_interval == (0.0, math.inf)


def test_two_readings_fit_but_bound_nothing():
    fit = statistics.first_order_fit([0, 5], [100.0, 104.0])
    assert fit.plateau_interval == (-math.inf, math.inf)
    assert fit.time_constant_interval == (0.0, math.inf)


def test_two_readings_with_a_known_start_and_scatter_are_bounded():
    fit = statistics.first_order_fit([5, 30], [104.0, 106.0], start=100.0, u=0.05)
    assert 105.8 < fit.plateau_interval[0] < fit.plateau < fit.plateau_interval[1] < 106.3


def test_a_straight_line_has_no_plateau_in_sight():
    fit = statistics.first_order_fit([0, 1, 2, 3, 4, 5], [1.0, 2.1, 2.9, 4.05, 5.0, 5.95])
    assert fit.time_constant_interval[1] == math.inf
    assert fit.plateau_interval[1] == math.inf
    assert fit.plateau_interval[0] > 5.9


def test_one_minute_alone_is_refused():
    with pytest.raises(ValueError, match="different minutes"):
        statistics.first_order_fit([4, 4], [1.0, 2.0])
    with pytest.raises(ValueError, match="two or more"):
        statistics.first_order_fit([4], [1.0])


def coverage(start, u, runs=200, seed=20):
    rng = np.random.default_rng(seed)
    t = np.arange(0 if start is None else 2, 22, 2.0)
    hits = np.zeros(3)
    for _ in range(runs):
        y = 106 - 6 * np.exp(-t / 6) + rng.normal(0, 0.25, t.size)
        fit = statistics.first_order_fit(t, y, start=start, u=u)
        left = 6 * math.exp(-20 / 6) if t[-1] == 20 else 6 * math.exp(-t[-1] / 6)
        pairs = [(fit.plateau_interval, 106), (fit.time_constant_interval, 6), (fit.remaining_interval, left)]
        hits += [low <= truth <= high for (low, high), truth in pairs]
    return hits / runs


@pytest.mark.parametrize("start", [None, 100.0])
@pytest.mark.parametrize("u", [None, 0.25])
def test_ninety_five_of_a_hundred_intervals_hold_the_truth(start, u):
    share = coverage(start, u)
    assert np.all(share >= 0.905), share  # binomial 99.9 % bounds of 200 runs at 0.95
    assert np.all(share <= 0.99), share


def test_an_interval_a_third_too_short_would_be_noticed(monkeypatch):
    whole = statistics.student
    monkeypatch.setattr(statistics, "student", lambda dof, cover=0.95: 0.66 * whole(dof, cover))
    assert np.all(coverage(None, None)[:2] < 0.905)


def test_the_time_to_go_is_when_the_curve_comes_within_the_tolerance():
    t = np.arange(0, 20, 1.0)
    fit = statistics.first_order_fit(t, 108 - 8 * np.exp(-t / 6) + 0.01 * (-1) ** t)
    best, low, high = fit.minutes_until(0.1)
    assert best == pytest.approx(6 * math.log(8 / 0.1) - 19, abs=0.3)
    assert low < best < high
    assert abs(fit.plateau - float(fit.curve(19 + best))) == pytest.approx(0.1, rel=1e-6)


def test_the_band_holds_the_curve_and_widens_beyond_the_readings():
    t = np.arange(0, 12, 1.0)
    y = 108 - 8 * np.exp(-t / 6) + 0.1 * (-1) ** t
    fit = statistics.first_order_fit(t, y)
    ahead = np.array([2.0, 11.0, 30.0])
    low, high = fit.band(ahead)
    assert np.all((low < fit.curve(ahead)) & (fit.curve(ahead) < high))
    assert high[2] - low[2] > 2 * (high[0] - low[0])


def test_three_readings_lead_to_the_plateau_by_aitken():
    y = 108 - 8 * np.exp(-np.array([0, 5, 10]) / 6)
    plateau, tau, _ = statistics.aitken(*y, 5.0)
    assert (plateau, tau) == pytest.approx((108, 6), rel=1e-9)
    assert (y[0] * y[2] - y[1] ** 2) / (y[0] + y[2] - 2 * y[1]) == pytest.approx(plateau, rel=1e-9)
    assert math.isnan(statistics.aitken(1.0, 2.0, 3.0, 5.0)[0])
    assert math.isnan(statistics.aitken(1.0, 1.0, 1.0, 5.0)[0])


@pytest.mark.parametrize("kept", [0.5, 0.7, 0.8, 0.9])
def test_the_noise_gain_is_the_scatter_seen_in_simulation(kept):
    rng = np.random.default_rng(3)
    y = 100 - 10 * kept ** np.arange(3) + rng.normal(0, 1e-5, (20000, 3))
    plateau = (y[:, 0] * y[:, 2] - y[:, 1] ** 2) / (y[:, 0] + y[:, 2] - 2 * y[:, 1])
    assert np.std(plateau) / 1e-5 == pytest.approx(statistics.aitken_noise_gain(kept), rel=0.03)


def test_student_and_chi_square_match_the_printed_tables():
    # NIST/SEMATECH e-Handbook tables 1.3.6.7.2 (t, 0.975) and 1.3.6.7.4 (chi-square, 0.95)
    assert [round(statistics.student(n), 3) for n in (1, 2, 5, 10, 30)] == [
        12.706,
        4.303,
        2.571,
        2.228,
        2.042,
    ]
    assert [round(statistics.chi_square(n), 3) for n in (1, 2, 5, 10)] == [3.841, 5.991, 11.070, 18.307]
    assert statistics.student(0) == math.inf
    assert statistics.student_tail(2.228, 10) == pytest.approx(0.05, abs=1e-4)
    assert statistics.student_tail(1.959964, math.inf) == pytest.approx(0.05, abs=1e-6)


def test_runs_are_counted_exactly():
    for signs in ([1, 1, -1, -1, 1], [1, 1, 1, -1, -1, -1], [1, -1, 1, -1, -1, -1, -1]):
        import itertools

        def runs(order):
            return 1 + sum(a != b for a, b in itertools.pairwise(order))

        every = list(itertools.permutations(signs))
        share = sum(runs(order) <= runs(signs) for order in every) / len(every)
        assert statistics.too_few_runs(signs) == pytest.approx(share)
    assert statistics.too_few_runs([1, 1, 1]) == 1.0
    assert statistics.too_few_runs([0, 0.0]) == 1.0


def test_a_straight_line_fit_matches_the_closed_form():
    # closed form of a straight line: Draper & Smith (1998), chapter 1 (from memory)
    x, y = np.array([1.0, 2, 3, 4, 5, 6]), np.array([1.1, 1.9, 3.2, 3.9, 5.1, 5.8])
    fit = statistics.linear_fit(np.column_stack([np.ones(6), x]), y)
    slope = np.sum((x - x.mean()) * (y - y.mean())) / np.sum((x - x.mean()) ** 2)
    s = math.sqrt(np.sum(fit.residuals**2) / 4)
    assert fit.coefficients == pytest.approx([y.mean() - slope * x.mean(), slope])
    assert math.sqrt(fit.covariance[1, 1]) == pytest.approx(s / math.sqrt(np.sum((x - x.mean()) ** 2)))
    assert fit.half_widths()[1] == pytest.approx(2.776445 * math.sqrt(fit.covariance[1, 1]), rel=1e-6)
    assert (fit.dof, fit.rank, fit.lag) == (4, 2, 0)


def test_weights_count_like_repeats():
    X = np.column_stack([np.ones(3), [0.0, 1, 2]])
    y = np.array([1.0, 2.5, 2.9])
    once = statistics.linear_fit(X, y, weights=[2, 1, 1])
    twice = statistics.linear_fit(np.vstack([X[:1], X]), np.append(y[:1], y))
    assert once.coefficients == pytest.approx(twice.coefficients)
    assert once.covariance / once.residual_sd**2 == pytest.approx(twice.covariance / twice.residual_sd**2)


def test_columns_that_say_the_same_lower_the_rank():
    X = np.ones((4, 2))
    fit = statistics.linear_fit(X, [1.0, 2, 3, 4])
    assert fit.rank == 1
    assert fit.coefficients == pytest.approx([1.25, 1.25])


def test_errors_that_hang_together_widen_the_interval_of_a_mean():
    rng = np.random.default_rng(8)
    e = np.zeros(400)
    for at in range(1, 400):
        e[at] = 0.8 * e[at - 1] + rng.normal()
    X = np.ones((400, 1))
    plain = statistics.linear_fit(X, e)
    honest = statistics.linear_fit(X, e, times=np.arange(400), lag=15)
    ratio = math.sqrt(honest.covariance[0, 0] / plain.covariance[0, 0])
    assert 2.0 < ratio < 3.6  # sqrt((1 + 0.8)/(1 - 0.8)) = 3, less what Bartlett weights lose
    order = rng.permutation(400)
    shuffled = statistics.linear_fit(X, e[order], times=np.arange(400)[order], lag=15)
    assert shuffled.covariance == pytest.approx(honest.covariance)
    assert statistics.linear_fit(X, e, times=np.arange(400)).lag == 5


def test_without_neighbours_the_covariance_is_the_one_for_unequal_scatter():
    X = np.column_stack([np.ones(5), np.arange(5.0)])
    y = np.array([0.0, 1.2, 1.9, 3.3, 3.8])
    fit = statistics.linear_fit(X, y, times=np.arange(5), lag=0)
    bread = np.linalg.inv(X.T @ X)
    white = bread @ (X.T * fit.residuals**2) @ X @ bread * 5 / 3  # White (1980), scaled n/(n - p)
    assert fit.covariance == pytest.approx(white)


def test_groups_are_no_neighbours():
    X, y = np.ones((4, 1)), np.array([1.0, 2.0, -1.0, -2.5])
    apart = statistics.linear_fit(X, y, times=[0, 1, 2, 3], lag=1, groups=["a", "b", "c", "d"])
    white = statistics.linear_fit(X, y, times=[0, 1, 2, 3], lag=0)
    assert apart.covariance == pytest.approx(white.covariance)


def test_one_wild_value_does_not_move_the_median_deviation():
    rng = np.random.default_rng(1)
    clean = rng.normal(0, 2.0, 4000)
    assert statistics.median_deviation(clean) == pytest.approx(2.0, rel=0.05)
    assert statistics.median_deviation([*clean, 1e9]) == pytest.approx(2.0, rel=0.05)

"""Reconciliation against published examples; what no balance checks; what cannot be told apart."""

import json
import pathlib

import numpy as np
import pytest

from brinehouse.science import reconciliation, statistics

CASES = json.loads(
    (pathlib.Path(__file__).parent / "published" / "flows" / "reconciled.json").read_text("utf-8")
)
NORMAL = 1.959963984540054


def matrix(rows, count):
    made = np.zeros((len(rows), count))
    for line, row in enumerate(rows):
        for word in row.split():
            made[line, abs(int(word)) - 1] = 1.0 if int(word) > 0 else -1.0
    return made


def half_last_digit(text):
    return 0.5 * 10.0 ** -len(text.partition(".")[2])


def case(name):
    told = CASES[name]
    y = np.array(told["measured"])
    if "half_widths" in told:
        sigma = np.array(told["half_widths"]) / NORMAL
    elif "variances" in told:
        sigma = np.sqrt(told["variances"])
    else:
        sigma = np.broadcast_to(told.get("sigmas", told.get("sigma")), y.shape)
    cov = np.diag(np.asarray(sigma, dtype=float) ** 2)
    for one, two, r in told.get("correlations", ()):
        cov[one - 1, two - 1] = cov[two - 1, one - 1] = r * sigma[one - 1] * sigma[two - 1]
    rows = np.array(told["balances"]) if "balances" in told else matrix(told["streams"], len(y))
    return told, y, cov, rows


def test_the_bypass_of_narasimhan_and_jordache():
    told, y, cov, rows = case("exchanger bypass")
    found = reconciliation.reconcile(y, cov, rows)
    for value, text in zip(found.values, told["values"], strict=True):
        assert value == pytest.approx(float(text), abs=half_last_digit(text))
    assert found.statistic == pytest.approx(told["gamma"], abs=1e-9)
    assert found.freedom == 4
    assert found.statistic < found.critical


def test_a_bias_in_the_bypass_is_found_with_its_size():
    told, y, cov, rows = case("exchanger bypass")
    biased = told["biased"]
    at = biased["stream"] - 1
    found = reconciliation.reconcile(y + biased["by"] * (np.arange(6) == at), cov, rows)
    assert found.statistic == pytest.approx(float(biased["gamma"]), abs=0.0005)
    assert found.critical == pytest.approx(float(biased["critical"]), abs=0.0005)
    assert found.score_critical == pytest.approx(float(biased["sidak"]), abs=0.0005)
    assert np.abs(found.scores) == pytest.approx(np.array(biased["scores"]), abs=1e-9)
    ratios, sizes, _ = zip(*(found.bias(stream) for stream in range(6)), strict=True)
    assert ratios == pytest.approx(biased["ratios"], abs=1e-9)
    assert int(np.argmax(ratios)) == at
    assert sizes[at] == pytest.approx(float(biased["estimate"]), abs=0.0005)
    assert next(one for one in found.suspects() if one.streams).streams == (at,)


def test_vdi_2048_to_all_its_digits():
    told, y, cov, rows = case("turbine")
    found = reconciliation.reconcile(y, cov, rows)
    assert found.values == pytest.approx(np.array(told["values"]), abs=5e-9)
    widths = NORMAL * np.sqrt(np.diag(found.covariance))
    assert widths == pytest.approx(np.array(told["new_half_widths"]), abs=5e-9)
    assert found.statistic == pytest.approx(told["gamma"], abs=1e-3)


def test_vdi_2048_accuses_the_two_feed_flows_together_and_never_one():
    told, y, cov, rows = case("turbine")
    found = reconciliation.reconcile(y, cov, rows)
    first = found.suspects()[0]
    assert [stream + 1 for stream in first.streams] == told["suspects"]
    for stream in first.streams:
        assert abs(found.scores[stream]) == pytest.approx(float(told["score"]), abs=0.0005)


def test_a_flow_in_no_balance_is_untested_and_not_perfect():
    told, y, cov, rows = case("turbine")
    found = reconciliation.reconcile(y, cov, rows)
    lone = told["untested"][0] - 1
    assert np.isnan(found.scores[lone])
    assert not found.redundant[lone]
    assert np.isnan(found.bias(lone)[0])
    assert found.values[lone] == y[lone]


@pytest.mark.parametrize("name", ["steam metering", "water balance"])
def test_the_global_test_of_published_plants(name):
    told, y, cov, rows = case(name)
    found = reconciliation.reconcile(y, cov, rows)
    assert found.statistic == pytest.approx(told["gamma"], abs=1e-4)
    assert found.critical == pytest.approx(float(told["critical"]), abs=0.0005)
    assert (found.statistic > found.critical) == (name == "water balance")
    if "values" in told:
        assert found.values == pytest.approx(np.array(told["values"]), abs=1e-4)


def test_the_global_test_notices_a_slip_in_a_published_plant():
    _, y, cov, rows = case("steam metering")
    y[12] *= 1.2  # planted: one meter a fifth too high
    found = reconciliation.reconcile(y, cov, rows)
    assert found.statistic > found.critical
    assert found.suspects()[0].streams == (12,)


def test_critical_values_of_chi_square():
    told = CASES["critical values"]
    for freedom, value in zip(told["freedom"], told["values"], strict=True):
        assert statistics.chi_square(freedom) == pytest.approx(value, abs=1e-6)


# -- properties ---------------------------------------------------------------------------------------


def network(seed, streams=12, nodes=5):
    """A random connected plant: each stream joins two of its nodes or leaves it, and true flows balance."""
    rng = np.random.default_rng(seed)
    rows = np.zeros((nodes, streams))
    for at in range(streams):
        one, two = rng.choice(nodes + 1, 2, replace=False)
        for node, sign in ((one, 1.0), (two, -1.0)):
            if node < nodes:
                rows[node, at] = sign
    loose = rng.uniform(5.0, 40.0, streams)
    truth = loose - np.linalg.pinv(rows) @ (rows @ loose)
    return rng, rows, truth


@pytest.mark.parametrize("seed", range(20))
def test_after_reconciliation_no_water_is_made_or_lost(seed):
    rng, rows, truth = network(seed)
    y = truth + rng.normal(0, 1.0, len(truth))
    y[rng.choice(len(y), 3, replace=False)] = np.nan
    b = rng.normal(0, 0.1, len(rows))
    found = reconciliation.reconcile(y, np.eye(len(y)), rows, b)
    whole = [at for at in np.flatnonzero(rows.any(axis=1)) if found.observable[rows[at] != 0].all()]
    assert whole
    used = np.nan_to_num(found.values)
    assert np.abs((rows @ used - b)[whole]).max() < 1e-10


@pytest.mark.parametrize("seed", range(10))
def test_the_order_of_the_streams_changes_nothing(seed):
    rng, rows, truth = network(seed)
    y = truth + rng.normal(0, 1.0, len(truth))
    y[2] = np.nan
    order = rng.permutation(len(y))
    cov = np.diag(rng.uniform(0.5, 2.0, len(y)))
    one = reconciliation.reconcile(y, cov, rows)
    two = reconciliation.reconcile(y[order], cov[np.ix_(order, order)], rows[:, order])
    assert two.values == pytest.approx(one.values[order], abs=1e-9, nan_ok=True)
    assert two.statistic == pytest.approx(one.statistic, rel=1e-9)
    assert two.scores == pytest.approx(one.scores[order], abs=1e-8, nan_ok=True)


def test_reconciled_intervals_hold_the_truth_as_often_as_they_say():
    rng, rows, truth = network(4)
    held = []
    for _ in range(400):
        y = truth + rng.normal(0, 1.0, len(truth))
        found = reconciliation.reconcile(y, np.eye(len(y)), rows)
        u = np.sqrt(np.diag(found.covariance))
        held.append(np.abs(found.values - truth) <= NORMAL * u + 1e-12)
    assert 0.93 < np.mean(held) < 0.97


def test_an_unmeasured_flow_is_what_the_balances_leave_for_it():
    rows = [[1.0, -1.0, -1.0], [0.0, 1.0, 1.0]]
    found = reconciliation.reconcile([10.0, 4.0, np.nan], np.eye(3), rows[:1])
    assert found.values[2] == pytest.approx(6.0)
    assert found.freedom == 0
    assert found.covariance[2, 2] == pytest.approx(2.0)
    assert np.isnan(found.scores).all()


def test_flows_that_nothing_determines_are_left_open():
    found = reconciliation.reconcile([10.0, np.nan, np.nan], np.eye(3), [[1.0, -1.0, -1.0]])
    assert list(found.observable) == [True, False, False]
    assert np.isnan(found.values[1:]).all()


@pytest.mark.parametrize("seed", range(10))
def test_a_planted_leak_is_told_as_a_leak_and_with_its_size(seed):
    rng = np.random.default_rng(seed)
    # a ring of four places with a bypass each way, topped up at the first and drained at the last
    rows = matrix(["1 -2 -5 7", "2 -3 6", "3 -4 5", "4 -1 -6 -8"], 8)
    truth = np.array([50.0, 46.0, 48.0, 58.0, 10.0, 8.0, 6.0, 0.0])
    gaps = rows @ truth
    assert list(gaps) == [0.0, 6.0, 0.0, 0.0]  # six leave at the second place, unseen
    found = reconciliation.reconcile(truth + rng.normal(0, 0.3, 8), 0.09 * np.eye(8), rows)
    first = found.suspects()[0]
    assert first.places == (1,)
    assert first.streams == ()
    assert first.sizes[0] == pytest.approx(6.0, abs=4 * first.doubts[0])
    assert found.statistic > found.critical


def test_two_meters_in_series_are_one_suspect():
    rows = matrix(["1 -2", "2 -3 -4"], 4)
    found = reconciliation.reconcile([10.0, 10.0, 6.0, 4.0], np.eye(4), rows)
    groups = found.alike()
    assert any({2, 3} <= set(streams) for streams, _ in groups)
    assert all(not {0, 1} <= set(streams) for streams, _ in groups)


def test_balances_told_twice_do_no_harm():
    rows = matrix(["1 -2 -3", "1 -2 -3"], 3)
    found = reconciliation.reconcile([10.0, 6.0, 5.0], np.eye(3), rows)
    assert found.freedom == 1
    assert found.values == pytest.approx([10 + 1 / 3, 6 - 1 / 3, 5 - 1 / 3])


def test_an_exact_flow_is_not_moved():
    found = reconciliation.reconcile([10.0, 9.0], np.diag([0.0, 1.0]), [[1.0, -1.0]])
    assert found.values == pytest.approx([10.0, 10.0])
    assert np.isnan(found.scores[0])

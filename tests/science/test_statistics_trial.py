import numpy as np
import pytest

from brinehouse.science import statistics_trial


def trial(t, y, **more):
    return statistics_trial.Trial(
        minutes=np.asarray(t, float), values=np.asarray(y, float), resolution=0.1, **more
    )


def test_settled_means_within_the_largest_of_three():
    t = np.arange(0, 40, 2.0)
    y = np.round(106 - 6 * np.exp(-t / 5), 1)
    assert statistics_trial.judge(trial(t, y, usual=0.3)).tolerance == 0.3
    assert statistics_trial.judge(trial(t, y, usual=0.3, u=0.5)).tolerance == 0.5
    assert statistics_trial.judge(trial(t, y)).tolerance == pytest.approx(0.12)  # 2 % of 6.0
    assert statistics_trial.judge(trial(t, y, tolerance=0.01)).why == "as asked for"


def test_a_level_is_no_surer_than_the_step_of_the_display():
    verdict = statistics_trial.judge(trial([0, 5, 10, 15], [104.4] * 4, usual=0.3))
    assert verdict.flat
    assert verdict.high - verdict.low == pytest.approx(2 * 1.96 * 0.1 / 12**0.5, rel=1e-3)


def test_flatness_has_to_outlast_a_usual_meter():
    assert not statistics_trial.judge(trial([0, 1, 2], [104.4] * 3, usual=0.3)).flat
    assert statistics_trial.judge(trial([0, 1, 2], [104.4] * 3, usual=0.3, usual_constant=2.0)).flat

"""What is hidden can be asked for by place and time."""

from datetime import timedelta

import numpy as np

from brinehouse.demo import truths


def levels():
    column = np.arange(7, dtype=float)
    return truths.Levels(
        start=truths.END - timedelta(hours=1),
        step=1.0 / 6.0,
        series={"mangrove": {"tgp": 100.0 + column}},
        pressure=725.0 + column,
        sea_level=762.0 + column,
    )


def test_the_true_level_is_the_nearest_in_time():
    assert levels().at("mangrove", "tgp", truths.END - timedelta(minutes=31)) == 103.0
    assert levels().at("mangrove", "tgp", truths.END - timedelta(minutes=21)) == 104.0


def test_beyond_both_ends_the_last_level_is_held():
    assert levels().at("mangrove", "tgp", truths.END + timedelta(days=1)) == 106.0
    assert levels().at("mangrove", "tgp", truths.END - timedelta(days=1)) == 100.0


def test_the_steps_have_their_times():
    times = levels().times()
    assert times[0] == truths.END - timedelta(hours=1)
    assert times[-1] == truths.END
    assert len(times) == 7

import math

import numpy as np
import pytest

from brinehouse.science import statistics_meters

Readings = statistics_meters.Readings


def readings(rows, u=0.2, **more):
    """Rows of (meter, place, sitting, value); a sitting an hour."""
    meter, place, sitting, values = zip(*rows, strict=True)
    hours = np.array([float(sorted(set(sitting)).index(s)) for s in sitting])
    return Readings(
        meter=meter, place=place, sitting=sitting, values=np.array(values, float), hours=hours, u=u, **more
    )


SWAP = [("M1", "A", "1", 103.4), ("M2", "B", "1", 101.1), ("M1", "B", "2", 102.5), ("M2", "A", "2", 102.3)]


def test_the_two_by_two_swap_gives_the_closed_form():
    # closed form of the change-over design: Grizzle (1965), Biometrics 21(2), 467-480 (from memory)
    m1a, m2b, m1b, m2a = (row[3] for row in SWAP)
    fit = statistics_meters.additive_fit(readings(SWAP, u=0.2, common=True))
    meter, u, basis = fit.difference("M1", "M2")
    assert meter == pytest.approx((m1a + m1b - m2a - m2b) / 2)
    assert (u, basis) == (pytest.approx(0.2), "readings")  # each contrast has the variance of one reading
    place, u, _ = fit.combination({("A", ""): 1, ("B", ""): -1})
    assert place == pytest.approx((m1a + m2a - m1b - m2b) / 2)
    assert u == pytest.approx(0.2)
    period, u, _ = fit.combination({("sitting", "2"): 1})
    assert period == pytest.approx((m1b + m2a - m1a - m2b) / 2)
    assert u == pytest.approx(0.2)
    assert fit.dof == 0  # saturated


def test_a_flipped_sign_in_the_design_would_be_noticed(monkeypatch):
    whole = statistics_meters.Frame.rows

    def flipped(self):
        level, few, y, sd = whole(self)
        few[1, self.column["M2"]] *= -1
        return level, few, y, sd

    monkeypatch.setattr(statistics_meters.Frame, "rows", flipped)
    with pytest.raises(AssertionError):
        test_the_two_by_two_swap_gives_the_closed_form()


def test_the_common_level_is_seen_by_no_comparison():
    fit = statistics_meters.additive_fit(readings(SWAP, common=True))
    assert fit.combination({"M1": 1.0})[2] == ""
    assert fit.combination({("A", ""): 1.0})[1] == math.inf
    fixed = statistics_meters.additive_fit(readings(SWAP, common=True), {"M1": 0.6, "M2": 0.6})
    assert fixed.combination({"M1": 1.0})[2] == "accuracies"


def test_prior_offsets_never_bend_a_difference():
    rows = [("M1", "A", "1", 105.0), ("M2", "A", "1", 102.0)]
    fit = statistics_meters.additive_fit(readings(rows), {"M1": 0.1, "M2": 0.1})
    assert fit.difference("M1", "M2")[0] == pytest.approx(3.0)
    assert fit.combination({"M1": 1.0})[0] == pytest.approx(1.5)
    uneven = statistics_meters.additive_fit(readings(rows), {"M1": 2.0, "M2": 0.01})
    assert uneven.combination({"M2": 1.0})[0] == pytest.approx(0.0, abs=1e-3)  # the exact one is believed


def test_the_common_offset_is_in_the_interval_of_a_level():
    rows = [("M1", "A", "1", 102.0), ("M2", "A", "1", 102.0)]
    fit = statistics_meters.additive_fit(readings(rows, u=0.2), {"M1": 0.6, "M2": 0.6})
    _, u, _ = fit.combination({("A", ""): 1.0})
    assert u == pytest.approx(math.hypot(0.6, 0.2) / math.sqrt(2))


def test_a_check_makes_it_absolute():
    anchors = (statistics_meters.Anchor(meter="M1", value=0.5, u=0.1),)
    rows = [("M1", "A", "1", 105.0), ("M2", "A", "1", 102.0)]
    fit = statistics_meters.additive_fit(readings(rows, anchors=anchors), {"M1": 9.0, "M2": 9.0})
    value, u, basis = fit.combination({("A", ""): 1.0})
    assert (value, basis) == (pytest.approx(104.5), "readings")
    assert u == pytest.approx(math.hypot(0.1, 0.2))
    assert fit.groups[0].absolute
    assert fit.combination({"M2": 1.0})[0] == pytest.approx(-2.5)


def test_parts_that_nothing_connects_are_named():
    rows = [
        ("M1", "A", "1", 1),
        ("M2", "A", "1", 2),
        ("M3", "B", "1", 3),
        ("M4", "C", "1", 4),
        ("M3", "C", "1", 5),
    ]
    fit = statistics_meters.additive_fit(readings(rows))
    assert [(set(g.meters), set(g.places)) for g in fit.groups] == [
        ({"M1", "M2"}, {"A"}),
        ({"M3", "M4"}, {"B", "C"}),
    ]
    assert fit.difference("M1", "M3")[2] == ""
    assert fit.difference("M4", "M3")[:1] == (pytest.approx(-1.0),)


def test_a_place_that_wanders_connects_sittings_the_less_the_longer_it_takes():
    rows = [("M1", "A", "1", 102.0), ("M2", "A", "2", 103.0)]
    for drift, hours in ((0.04, 1.0), (0.04, 9.0)):
        given = readings(rows, u=0.1, drift=drift)
        given = Readings(
            **{**{n: getattr(given, n) for n in given.__slots__}, "hours": np.array([0.0, hours])}
        )
        value, u, _ = statistics_meters.additive_fit(given).difference("M2", "M1")
        assert value == pytest.approx(1.0)
        assert u == pytest.approx(math.sqrt(2 * 0.1**2 + drift * hours))
    apart = statistics_meters.additive_fit(readings(rows, drift=math.inf))
    assert apart.difference("M2", "M1")[2] == ""


def test_a_pressure_check_fixes_the_gain_and_an_air_check_the_zero():
    # a meter that shows 0.5 + 1.02 times what is above air (100)
    truth = np.array([103.0, 110.0])
    shows = 100 + 0.5 + 1.02 * (truth - 100)
    gain = 0.02 / 1.02  # of what is shown above the zero
    anchors = (
        statistics_meters.Anchor(meter="M", value=0.5, u=1e-3, gain="M", distance=0.5),
        statistics_meters.Anchor(
            meter="M", value=0.5 + 0.02 * 40, u=1e-3, gain="M", distance=0.5 + 1.02 * 40
        ),
    )
    rows = [("M", "A", "1", shows[0]), ("M", "B", "1", shows[1])]
    fit = statistics_meters.additive_fit(readings(rows, u=1e-3, anchors=anchors, gains={"M": ("M", 100.0)}))
    assert fit.combination({("gain", "M"): 1.0})[0] == pytest.approx(gain, rel=1e-6)
    assert fit.combination({("B", ""): 1.0})[0] == pytest.approx(110.0, abs=1e-6)


def hall(rng, meters=5, places=12, sittings=6, u=0.2, wander=0.3, share=0.35):
    """An unbalanced invented hall: (Readings, true offsets, true levels)."""
    offset = rng.normal(0, 0.6, meters)
    level = 101 + rng.normal(0, 2, places)
    levels = level + np.vstack(
        [np.zeros(places), np.cumsum(rng.normal(0, wander, (sittings - 1, places)), 0)]
    )
    rows = [
        (f"M{m}", f"T{p:02}", f"{s}", levels[s, p] + offset[m] + rng.normal(0, u))
        for s in range(sittings)
        for p in range(places)
        for m in range(meters)
        if rng.random() < share
    ]
    return readings(rows, u=u, drift=wander**2), offset, levels


def share_held(seeds, **change):
    held = []
    for seed in seeds:
        given, offset, levels = hall(np.random.default_rng(seed))
        for name, value in change.items():
            given = Readings(**{**{n: getattr(given, n) for n in given.__slots__}, name: value})
        fit = statistics_meters.additive_fit(given, {f"M{m}": 0.6 for m in range(5)})
        for a in range(1, 5):
            value, u, _ = fit.difference(f"M{a}", "M0")
            held.append(abs(value - offset[a] + offset[0]) <= 1.96 * u)
        for place, sitting in fit.levels[:20]:
            value, u, _ = fit.combination({(place, sitting): 1.0})
            held.append(abs(value - levels[int(sitting), int(place[1:])]) <= 1.96 * u)
    return float(np.mean(held))


def test_an_unbalanced_five_by_twelve_survey_finds_the_truth():
    assert 0.90 <= share_held(range(12)) <= 0.99


def test_a_scatter_taken_too_small_would_be_noticed():
    assert share_held(range(12), u=0.05, drift=0.002) < 0.90


@pytest.mark.soak
def test_a_hundred_surveys_find_the_truth():
    assert 0.935 <= share_held(range(100, 200)) <= 0.965


def test_a_jump_does_not_bend_the_offsets():
    rng = np.random.default_rng(2)
    rows = []
    for turn in range(20):
        level = 101 + 0.1 * turn + (40.0 if turn == 9 else 0)  # one slip or one wild day
        rows.append(("AB"[turn % 2], "t", f"{turn:02}", level + 0.5 * (turn % 2) + rng.normal(0, 0.1)))
    still = statistics_meters.additive_fit(readings(rows, u=0.1, drift=0.02)).difference("B", "A")
    free = statistics_meters.additive_fit(readings(rows, u=0.1, drift=0.02, jumps=True)).difference("B", "A")
    assert abs(still[0] - 0.5) > 3
    assert abs(free[0] - 0.5) < 2 * free[1]
    assert free[1] < 0.15

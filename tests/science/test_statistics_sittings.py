import math

import numpy as np
import pytest

from brinehouse.science import statistics_meters, statistics_sittings

Readings = statistics_meters.Readings


def readings(rows, u=0.2, **more):
    """Rows of (meter, place, sitting, value); a sitting an hour."""
    meter, place, sitting, values = zip(*rows, strict=True)
    hours = np.array([float(sorted(set(sitting)).index(s)) for s in sitting])
    return Readings(
        meter=meter, place=place, sitting=sitting, values=np.array(values, float), hours=hours, u=u, **more
    )


SWAP = [("M1", "A", "1", 103.4), ("M2", "B", "1", 101.1), ("M1", "B", "2", 102.5), ("M2", "A", "2", 102.3)]


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


def test_in_the_swap_a_change_of_period_looks_like_a_meter_that_suits_a_place():
    meter, place, period = np.array([1, -1, 1, -1]), np.array([1, -1, -1, 1]), np.array([1, 1, -1, -1])
    design = np.column_stack([np.ones(4), meter, place, period])
    leak = statistics_sittings.aliases(design, (meter * place)[:, None])
    assert leak[:, 0] == pytest.approx([0, 0, 0, 1])


def test_scatter_comes_from_meters_that_stood_side_by_side():
    given, _, _ = hall(np.random.default_rng(4), share=0.8)
    u, dof = statistics_sittings.repeatability(given)
    assert u == pytest.approx(0.2, rel=4 / math.sqrt(2 * dof))
    assert statistics_sittings.repeatability(readings(SWAP))[1] == 0


def test_one_mistyped_reading_is_found_and_scatter_alone_is_not():
    given, _, _ = hall(np.random.default_rng(7), share=0.7)
    fit = statistics_meters.additive_fit(given)
    assert statistics_sittings.odd_one(fit, 0.2)[1] > 0.05
    values = given.values.copy()
    values[17] += 1.8
    wrong = Readings(**{**{n: getattr(given, n) for n in given.__slots__}, "values": values})
    at, chance = statistics_sittings.odd_one(statistics_meters.additive_fit(wrong), 0.2)
    assert (at, chance < 0.01) == (17, True)
    again = statistics_meters.additive_fit(wrong.without(17))
    assert again.difference("M1", "M0")[0] == pytest.approx(fit.difference("M1", "M0")[0], abs=0.05)


def test_a_reading_that_stands_alone_cannot_be_judged():
    assert (
        statistics_sittings.odd_one(statistics_meters.additive_fit(readings(SWAP, common=True)), 0.2) is None
    )


def test_the_next_sitting_joins_what_is_apart():
    rows = [("M1", "A", "1", 1), ("M2", "A", "1", 2), ("M3", "B", "1", 3), ("M4", "B", "1", 4)]
    pair = statistics_sittings.next_pair(readings(rows, drift=0.01), ["M1", "M2", "M3", "M4"], {})
    stood = {"M1": "A", "M2": "A", "M3": "B", "M4": "B"}
    assert any(stood[meter] != place for meter, place in (pair.first, pair.second))
    assert pair.after < 0.01 * pair.before


def test_the_next_sitting_is_worth_what_it_promises():
    rows = [("M1", "A", "1", 1), ("M2", "A", "1", 2), ("M2", "A", "1", 2), ("M3", "A", "1", 2)]
    given = readings(rows, u=0.2, drift=0.01)
    pair = statistics_sittings.next_pair(given, ["M1", "M2", "M3"], {})
    after = readings([*rows, *((m, p, "2", 2.0) for m, p in (pair.first, pair.second))], u=0.2, drift=0.005)
    pairs = [("M1", "M2"), ("M1", "M3"), ("M2", "M3")]
    fit = statistics_meters.additive_fit(after)
    got = math.sqrt(np.mean([fit.difference(*two)[1] ** 2 for two in pairs]))
    assert pair.after == pytest.approx(got, rel=1e-3)
    before = statistics_meters.additive_fit(given)
    assert pair.before == pytest.approx(
        math.sqrt(np.mean([before.difference(*two)[1] ** 2 for two in pairs])), rel=1e-3
    )
    assert {pair.first[0], pair.second[0]} == {"M1", "M3"}


def test_one_meter_has_no_next_pair():
    assert statistics_sittings.next_pair(readings([("M1", "A", "1", 1)]), ["M1"], {}) is None


def walk(seed, drift, jumps=0):
    """One meter, six places, forty hours apart by chance, with a few jumps."""
    rng = np.random.default_rng(seed)
    rows, hours = [], []
    for place in "ABCDEF":
        level, hour = 101.0, 0.0
        for turn in range(12):
            gap = rng.uniform(0.5, 30)
            hour += gap
            level += rng.normal(0, math.sqrt(drift * gap)) + (
                4.0 if turn == 5 and place in "ABCDEF"[:jumps] else 0
            )
            rows.append(("M", place, f"{place}{turn}", level + rng.normal(0, 0.1)))
            hours.append(hour)
    given = readings(rows, u=0.1)
    return Readings(**{**{n: getattr(given, n) for n in given.__slots__}, "hours": np.array(hours)})


def test_how_far_places_wander_is_seen_when_meters_come_back():
    got = [statistics_sittings.wander(walk(seed, 0.01)) for seed in range(12)]
    assert 0.004 < np.median(got) < 0.01  # a scale: normal steps look like Student-3 of a smaller one
    with_jumps = [statistics_sittings.wander(walk(seed, 0.01, jumps=3)) for seed in range(12)]
    assert np.median(with_jumps) < 2 * np.median(got)
    still = [statistics_sittings.wander(walk(seed, 0.0)) for seed in range(12)]
    assert np.median(still) < 0.0005
    assert math.isnan(statistics_sittings.wander(readings(SWAP)))

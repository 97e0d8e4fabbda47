import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import cut_sets

PARTS = "abcdef"
CUTS = st.lists(st.frozensets(st.sampled_from(PARTS), min_size=1, max_size=3), min_size=1, max_size=6)
OUT = st.fixed_dictionaries({part: st.floats(0.001, 0.9) for part in PARTS})
# Two pumps and their valve, the board and the mains; every figure is invented.
HALL = [{"pump 1", "pump 2"}, {"board"}, {"pump 1", "valve"}, {"mains", "generator"}]
CHANCE = {"pump 1": 1e-3, "pump 2": 1e-3, "board": 1e-5, "valve": 1e-3, "mains": 1e-4, "generator": 0.03}


def counted(cuts, out):
    """Every state of every part, one by one."""
    parts = sorted({part for cut in cuts for part in cut})
    total = 0.0
    for state in itertools.product((False, True), repeat=len(parts)):
        dead = {part for part, is_out in zip(parts, state, strict=True) if is_out}
        if any(set(cut) <= dead for cut in cuts):
            total += math.prod(out[p] if p in dead else 1 - out[p] for p in parts)
    return total


@given(cuts=CUTS, out=OUT)
def test_the_exact_probability_is_that_of_counting_every_state(cuts, out):
    assert cut_sets.probability(cuts, out) == pytest.approx(counted(cuts, out), rel=1e-9)


@given(cuts=CUTS, out=OUT)
def test_the_sum_of_sets_is_never_too_low(cuts, out):
    assert cut_sets.rare_event(cuts, out) >= cut_sets.probability(cuts, out) * (1 - 1e-12)


def test_while_all_is_rare_the_sum_is_close():
    exact, rare = cut_sets.probability(HALL, CHANCE), cut_sets.rare_event(HALL, CHANCE)
    assert rare == pytest.approx(1e-6 + 1e-5 + 1e-6 + 3e-6, rel=1e-12)  # by hand
    assert exact == pytest.approx(counted(HALL, CHANCE), rel=1e-12)
    assert 0 < rare - exact < 1e-8


def test_a_sum_taken_for_the_exact_value_is_seen(monkeypatch):
    monkeypatch.setattr(cut_sets, "probability", cut_sets.rare_event)
    with pytest.raises(AssertionError):
        test_while_all_is_rare_the_sum_is_close()


def test_sets_that_hold_a_smaller_one_are_left_out():
    found = cut_sets.least([{"a", "b"}, {"b"}, {"b", "c"}, {"c", "a"}, {"a", "c"}])
    assert found == [frozenset("b"), frozenset("ac")]


def test_the_part_in_most_losses_comes_first():
    found = cut_sets.importances(HALL, CHANCE)
    assert next(iter(found)) == "board"
    # by hand with the sum of sets: 10, 2 and 3 of 15 in a million
    assert found["board"].contribution == pytest.approx(10 / 15, rel=1e-3)
    assert found["pump 1"].contribution == pytest.approx(2 / 15, rel=2e-3)
    assert found["mains"].contribution == pytest.approx(3 / 15, rel=1e-3)
    assert found["board"].if_failed == pytest.approx(1 / 15e-6, rel=1e-3)
    assert found["board"].if_perfect == pytest.approx(3.0, rel=2e-3)
    assert found["generator"].sensitivity == pytest.approx(1e-4, rel=1e-3)


def test_a_contribution_that_leaves_out_a_set_is_seen(monkeypatch):
    monkeypatch.setattr(cut_sets, "least", lambda sets: [frozenset(one) for one in sets][:-1])
    with pytest.raises((AssertionError, KeyError)):
        test_the_part_in_most_losses_comes_first()


@given(cuts=CUTS, out=OUT)
def test_each_measure_keeps_its_place(cuts, out):
    for one in cut_sets.importances(cuts, out).values():
        assert 0 <= one.contribution <= 1 + 1e-12
        assert one.sensitivity >= -1e-12
        assert one.if_failed >= 1 - 1e-9
        assert one.if_perfect >= 1 - 1e-9


def test_what_all_sets_need_leaves_nothing_when_it_is_perfect():
    found = cut_sets.importances([{"a", "b"}, {"a", "c"}], {"a": 0.1, "b": 0.1, "c": 0.1})
    assert found["a"].contribution == pytest.approx(1.0)
    assert math.isinf(found["a"].if_perfect)


def test_where_nothing_can_fail_no_part_matters():
    assert cut_sets.probability([], {}) == 0.0
    assert cut_sets.importances([{"a"}], {"a": 0.0})["a"] == (0.0, 1.0, 1.0, 1.0)


def test_a_part_without_a_probability_is_named():
    with pytest.raises(KeyError, match="generator"):
        cut_sets.probability(HALL, {key: value for key, value in CHANCE.items() if key != "generator"})
    with pytest.raises(ValueError, match="'board' is 2"):
        cut_sets.rare_event(HALL, {**CHANCE, "board": 2.0})

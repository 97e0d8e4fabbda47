"""Rounds as they were walked: clean water first, some missed, some cut short."""

from collections import Counter
from datetime import timedelta

import pytest

from brinehouse.demo import generator, rounds, truths


@pytest.fixture(scope="module")
def history():
    return generator.generate(5, quick=True)


def walked(history):
    return [row for row in history.readings if row.instrument == "T-2" and not row.supersedes]


def test_quarantine_comes_last():
    kinds = [place.startswith("q-") for place, _, _ in rounds.STOPS]
    assert kinds == sorted(kinds)


def test_some_rounds_are_missed_and_most_are_walked(history):
    begun = Counter(
        (row.measured.date(), row.measured.hour < 12) for row in walked(history) if row.place == "mangrove"
    )
    assert max(begun.values()) == 1
    assert 150 <= len(begun) < 180


def test_some_rounds_are_cut_short(history):
    places = Counter(row.place for row in walked(history))
    assert places["q-3"] < places["mangrove"]


def test_kits_are_read_with_their_basis_once_a_week_and_twice_in_quarantine(history):
    days = {}
    for row in history.readings:
        if row.quantity == "ammonia":
            assert row.basis == "N"
            days.setdefault(row.place, set()).add(row.measured.date())
        elif row.quantity in ("nitrite", "nitrate"):
            assert row.basis == "ion"
    assert 11 <= len(days["mangrove"]) <= 14
    assert 23 <= len(days["q-1"]) <= 27


def test_probes_log_every_hour_through_the_last_ten_days():
    full = generator.generate(5)
    logged = [row.measured for row in full.readings if row.instrument == "T-kelp"]
    assert min(logged) >= truths.END - timedelta(days=10)
    assert 235 <= len(logged) <= 241
    feed = [row for row in full.readings if row.instrument == "weather-feed"]
    assert 24 * 90 * 0.95 < len(feed) < 24 * 90
    assert {row.source for row in feed} == {"sensor"}
    assert {row.basis for row in feed} == {""}


def test_a_person_who_reads_coarsely_gives_halves(history):
    halves = {row.value for row in walked(history) if row.person == 4 and row.quality == "good"}
    fine = {row.value for row in walked(history) if row.person == 1}
    assert len(halves) < len(fine)

"""Who guesses gets slower and slower; who has a phone of the hall is not kept out by strangers."""

import hypothesis
import hypothesis.strategies as st

from brinehouse.workbench import guessing


class Clock:
    """Seconds, moved by hand."""

    def __init__(self):
        self.now = 1000.0

    def __call__(self):
        return self.now


def tried(guesses, clock, keys, times, every):
    """How many of so many tries were let through to be looked at."""
    looked = 0
    for _ in range(times):
        clock.now += every
        if guesses.wait(keys) <= 0.0:
            looked += 1
            guesses.failed(keys)
    return looked


def test_ten_thousand_tries_on_one_name_are_looked_at_a_few_dozen_times():
    clock = Clock()
    guesses = guessing.Guesses(clock)
    keys = guessing.keys(name="Ada Wren", address="192.0.2.9")
    looked = tried(guesses, clock, keys, 10_000, 1.0)  # one a second: 2 h 47 min
    assert looked == 25  # ten at once, then after 30 s, 1, 2, 4, 8 and each 15 min
    day = guessing.Guesses(clock)
    assert tried(day, clock, keys, 24 * 3600, 1.0) <= 110


def test_within_a_quarter_of_an_hour_ten_are_looked_at_and_then_waits_begin():
    clock = Clock()
    guesses = guessing.Guesses(clock)
    keys = guessing.keys(name="Ada Wren", address="192.0.2.9")
    for _ in range(9):
        assert not guesses.failed(keys)
    assert guesses.wait(keys) == 0.0
    assert guesses.failed(keys)
    assert guesses.wait(keys) == guessing.FIRST_WAIT


def test_one_try_on_each_of_ten_thousand_names_is_stopped_by_the_address():
    clock = Clock()
    guesses = guessing.Guesses(clock)
    looked = 0
    for number in range(10_000):
        clock.now += 0.1
        keys = guessing.keys(name=f"name {number}", address="192.0.2.9")
        if guesses.wait(keys) <= 0.0:
            looked += 1
            guesses.failed(keys)
    assert looked <= guessing.LIMITS["address"] + 7


def test_a_stranger_keeps_nobody_out_of_the_hall_s_own_phones():
    clock = Clock()
    guesses = guessing.Guesses(clock)
    stranger = guessing.keys(name="Ada Wren", address="192.0.2.9")
    tried(guesses, clock, stranger, 5_000, 1.0)
    assert guesses.wait(stranger) > 0.0
    assert guesses.wait(guessing.keys(name="Ada Wren", device="phone-3", address="192.0.2.9")) == 0.0


def test_two_hundred_phones_of_one_address_do_not_stop_each_other():
    clock = Clock()
    guesses = guessing.Guesses(clock)
    for phone in range(200):
        keys = guessing.keys(name="Ada Wren", device=f"phone-{phone}", address="192.0.2.9")
        for _ in range(3):
            assert guesses.wait(keys) == 0.0
            guesses.failed(keys)


def test_whoever_comes_in_begins_anew_and_so_does_the_day_after():
    clock = Clock()
    guesses = guessing.Guesses(clock)
    keys = guessing.keys(name="Ada Wren", address="192.0.2.9")
    tried(guesses, clock, keys, 2_000, 1.0)
    for key in keys:
        guesses.succeeded(key)
    assert guesses.wait(keys) == 0.0
    tried(guesses, clock, keys, 5_000, 1.0)
    clock.now += guessing.FORGOTTEN + 1.0
    guesses.failed(keys)
    assert guesses.wait(keys) == 0.0


@hypothesis.given(st.lists(st.floats(0.0, 5_000.0), max_size=60))
def test_no_wait_lasts_longer_than_the_longest(steps):
    clock = Clock()
    guesses = guessing.Guesses(clock)
    keys = guessing.keys(name="Ada Wren", address="192.0.2.9")
    for step in steps:
        clock.now += step
        guesses.failed(keys)
        assert guesses.wait(keys) <= guessing.LONGEST_WAIT


def test_what_is_remembered_has_an_end(monkeypatch):
    monkeypatch.setattr(guessing, "MOST", 100)
    guesses = guessing.Guesses(Clock())
    for number in range(500):
        guesses.failed([("name", f"name {number}")])
    assert len(guesses._known) == 100

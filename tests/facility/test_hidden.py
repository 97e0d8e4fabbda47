"""Characters one cannot see, and names that look alike."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.facility import alike, hidden


@pytest.mark.parametrize(
    "sign",
    ["\x00", "\x1b", "\x7f", "\u200b", "\u202e", "\u2066", "\ufeff", "\u00ad", "\u2028", "\u3164", "\u2800"],
)
def test_what_shows_nothing_is_hidden(sign):
    assert hidden.is_hidden(sign)
    assert hidden.visible(f"a{sign}b") == f"a‹U+{ord(sign):04X}›b"
    assert hidden.hidden(f"a{sign}b")[0].startswith(f"U+{ord(sign):04X} ")


@pytest.mark.parametrize("sign", "aé°µ³ \u00a0ß漢ا🐟-‑")
def test_what_shows_something_is_not(sign):
    assert not hidden.is_hidden(sign)


@given(st.text())
def test_a_shown_text_is_short_and_can_be_seen(text):
    shown = hidden.visible(text)
    assert not any(hidden.is_hidden(char) for char in shown)
    assert len(shown) <= 9 * hidden.LONGEST


@pytest.mark.parametrize("other", ["t-1", "T\u20111", "T\u20131", "T\uff0d1", "T_1", "\uff34-1", "T-\uff11"])
def test_ids_that_cannot_be_told_apart_fold_to_one(other):
    assert alike.fold(other) == alike.fold("T-1")


def test_ids_that_can_be_told_apart_do_not():
    assert len({alike.fold(name) for name in ("T-1", "T-11", "T1", "S-1", "T-l")}) == 5

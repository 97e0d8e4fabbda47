"""Which passwords and PINs are taken: long ones that are not made of the words everybody uses.

The words are our own, written for this module; no list of other people's passwords comes with Brinehouse.
A password is taken apart into them: what is left has to be long enough by itself.
"""

from __future__ import annotations

import functools
import importlib.resources
import itertools
import re
from collections.abc import Iterable

from brinehouse import findings

SHORTEST, LONGEST = 12, 128
PIN = re.compile(r"[0-9]{4,8}")
LEFT = 6
"""So many signs of a password must be something else than common words, rows of keys and repeats."""

ROWS = (
    "01234567890123456789",
    "abcdefghijklmnopqrstuvwxyz",
    "qwertyuiop",
    "asdfghjkl",
    "zxcvbnm",
    "qwertzuiop",
    "yxcvbnm",
    "azertyuiop",
    "qsdfghjklm",
    "1qaz2wsx3edc4rfv5tgb",
    "qazwsxedcrfvtgb",
)


@functools.cache
def words() -> frozenset[str]:
    """The words everybody uses."""
    page = importlib.resources.files("brinehouse.workbench").joinpath("common_words.txt").read_text("ascii")
    return frozenset(word for line in page.splitlines()[1:] for word in line.split())


_LOOKS = str.maketrans("0134578@$!|+", "oieastbasiit")


def faults(password: str, *, names: Iterable[str] = (), box: str = "password") -> list[findings.Finding]:
    """What stands against a password: nothing, or one finding.

    Parameters
    ----------
    password : str
    names : iterable of str
        The person's and the hall's name: what others know.
    box : str
        The box of the form it was typed in.
    """
    if len(password) < SHORTEST:
        return [
            _stop(
                "people/password-short",
                f"The password has {len(password)} signs; it needs {SHORTEST}",
                "three or four words that have nothing to do with one another are long and easy to keep",
                box,
            )
        ]
    if len(password) > LONGEST:
        said = f"The password has {len(password)} signs; {LONGEST} are enough"
        return [_stop("people/password-long", said, "leave some out", box)]
    if left(password, names) < LEFT:
        return [
            _stop(
                "people/password-common",
                "The password is made of words and rows of keys that are tried first",
                "take words nobody connects with you, this hall or the sea",
                box,
            )
        ]
    return []


def left(password: str, names: Iterable[str] = ()) -> int:
    """How many different signs are left of a password without what is tried first.

    >>> left("Password2026!!"), left("qwertyuiop12345"), left("fish-fish-fish-fish")
    (0, 0, 0)
    >>> left("P4ssw0rdOcean1"), left("brown kettle under nine ladders") >= LEFT
    (1, True)
    """
    known = {part for name in names for part in re.split(r"\W+", name.lower()) if len(part) >= 3}
    known |= words()
    return min(_left(text, known) for text in (password.lower(), password.lower().translate(_LOOKS)))


def _left(text: str, known: Iterable[str]) -> int:
    for word in sorted(known, key=len, reverse=True):
        if len(word) >= 3:
            text = text.replace(word, " ")
    for row in ROWS:
        for way in (row, row[::-1]):
            for size in range(len(way), 2, -1):
                for start in range(len(way) - size + 1):
                    text = text.replace(way[start : start + size], " ")
    text = re.sub(r"(19|20)\d\d", " ", text)
    text = re.sub(r"(.{1,4}?)\1{2,}", r" \1 ", text)  # what comes three times and more counts once
    text = re.sub(r"[\W_\d]+", "", text) if len(re.sub(r"[\W_\d]+", "", text)) < LEFT / 2 else text
    return len(set(re.sub(r"[\W_]+", "", text)))


def pin_faults(pin: str, *, box: str = "pin") -> list[findings.Finding]:
    """What stands against a PIN."""
    if not PIN.fullmatch(pin):
        return [_stop("people/pin-digits", "A PIN is four to eight digits", "six are better than four", box)]
    steps = {(int(b) - int(a)) % 10 for a, b in itertools.pairwise(pin)}
    year = len(pin) == 4 and pin[:2] in ("19", "20")
    halves = len(pin) % 2 == 0 and len(set(re.findall("..", pin))) == 1
    if len(steps) == 1 or year or halves or len(set(pin)) < 3:
        return [
            _stop(
                "people/pin-common",
                "This PIN is among those that are tried first",
                "no row, no year, no pair said again; three different digits at least",
                box,
            )
        ]
    return []


def _stop(code: str, text: str, hint: str, box: str) -> findings.Finding:
    return findings.Finding(
        code=code, level=findings.Level.STOP, text=text, hint=hint, spot=findings.Spot(field=box)
    )

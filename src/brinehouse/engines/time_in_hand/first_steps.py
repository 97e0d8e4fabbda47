"""First steps from sentences in data: each is said only where everything it names is known."""

from __future__ import annotations

import functools
import importlib.resources
import string
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """How a failure is noticed, what to do first, and what to beware of."""

    noticed: str
    steps: tuple[str, ...]
    cautions: tuple[str, ...] = ()


@functools.cache
def cards() -> Mapping[str, Mapping[str, Any]]:
    """Every card of the data by its name."""
    page = importlib.resources.files("brinehouse.engines.time_in_hand").joinpath("first_steps.toml")
    return tomllib.loads(page.read_text("utf-8"))


def told(card: str, words: Mapping[str, str]) -> Card:
    """A card with its words put in.

    Parameters
    ----------
    card : str
        Its name in the data.
    words : mapping
        What to put in; a sentence with a word that is missing or empty is left out, or its next form taken.
    """
    page = cards()[card]
    steps = [_said(step, words) for step in page["steps"]]
    return Card(
        noticed=_said(page["noticed"], words),
        steps=tuple(dict.fromkeys(step for step in steps if step)),
        cautions=tuple(page.get("cautions", ())),
    )


def _said(forms: str | Sequence[str], words: Mapping[str, str]) -> str:
    """The first form of a sentence of which every word is known."""
    for form in [forms] if isinstance(forms, str) else forms:
        if all(words.get(name) for name in names_in(form)):
            said = form.format(**words)
            return said[0].upper() + said[1:]
    return ""


def names_in(form: str) -> list[str]:
    """The words that a sentence needs."""
    return [name for _, name, _, _ in string.Formatter().parse(form) if name]

"""The words of the pages, one file a language; finding codes are never translated.

English is the reference. ``xb`` is an invented language for tests: every English word stands in marks, so a
page that shows an unmarked word of ours has it from somewhere else than the catalogue.
"""

from __future__ import annotations

import functools
import importlib.resources
import tomllib
from collections.abc import Mapping
from typing import Any

REFERENCE = "en"
INVENTED = "xb"


def languages() -> tuple[str, ...]:
    """Languages that a facility may name."""
    folder = importlib.resources.files("brinehouse.web").joinpath("words")
    files = sorted(
        page.name.removesuffix(".toml") for page in folder.iterdir() if page.name.endswith(".toml")
    )
    return (*files, INVENTED)


@functools.cache
def words(language: str = REFERENCE) -> Mapping[str, str]:
    """Key to text, keys as ``page.name``; an unknown language falls back to English.

    >>> words("en")["nav.now"]
    'now'
    >>> words("xb")["nav.now"]
    '⟦now⟧'
    """
    if language == INVENTED:
        return {key: _invented(text) for key, text in words(REFERENCE).items()}
    page = importlib.resources.files("brinehouse.web").joinpath("words", f"{language}.toml")
    if not page.is_file():
        return words(REFERENCE)
    flat: dict[str, str] = {}
    for table, rows in tomllib.loads(page.read_text("utf-8")).items():
        for name, text in rows.items():
            flat[f"{table}.{name}"] = text
    return flat


def _invented(text: str) -> str:
    return f"⟦{text}⟧"


class Words:
    """``t('sheet.age', age='3 h')`` for one language."""

    def __init__(self, language: str = REFERENCE) -> None:
        self.language = language
        self._words = words(language)

    def __call__(self, key: str, **values: Any) -> str:
        """Text of a key with its gaps filled; a missing key is a bug and raises KeyError."""
        text = self._words.get(key)
        if text is None:
            text = words(REFERENCE)[key]
        return text.format(**values) if values else text

    def many(self, key: str, count: int, **values: Any) -> str:
        """The form of a key for a count: ``key.one`` or ``key.other``, with ``{count}`` filled."""
        return self(f"{key}_{'one' if count == 1 else 'other'}", count=count, **values)

"""What a person may answer about a file, what is remembered of it, and for which files."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence

from brinehouse import glossary
from brinehouse.logbook.intake import decoding, headings, saying, times

_CHOICES: dict[str, tuple[str, ...]] = {
    "decimal": ("comma", "point"),
    "encoding": decoding.ENCODINGS,
    "time": times.KINDS,
    "dates": ("day first", "month first"),
    "fold": ("file order", "first", "second"),
    "gap": ("not moved",),
    "hidden": ("take", "leave"),
    "sheet": (),
    "zone": (),
    "hour": (),
    "at": (),
    "by": (),
    "method": (),
    "with": (),
}
"""Each question by its key, with its choices; none where any text may answer."""

_OPEN = re.compile(r"map:.+|unit:.*|basis:.+|person:.+|unit@\d+(?:-\d+)?|value@\d+", re.DOTALL)
_HOUR = re.compile(r"(?:[01]\d|2[0-3]):[0-5]\d", re.ASCII)
_ONCE = re.compile(r"fold|gap|hidden|by|person:.*|unit@.*|value@.*")
"""What is never remembered: it is about this one file."""


def clean(answers: Mapping[str, str]) -> tuple[dict[str, str], list[saying.Fault]]:
    """The answers that name a question and one of its choices, and what is wrong with the others.

    >>> clean({"decimal": ",", "tiem": "seconds"})[0]
    {'decimal': 'comma'}
    """
    kept: dict[str, str] = {}
    faults: list[saying.Fault] = []
    for key, text in answers.items():
        name, answer = key.strip(), text.strip()
        answer = {",": "comma", ".": "point"}.get(answer, answer) if name == "decimal" else answer
        if _OPEN.fullmatch(name):
            kept[name] = answer
        elif name not in _CHOICES:
            near = glossary.nearest(name[:40], list(_CHOICES))
            hint = f"did you mean '{near[0]}'?" if near else f"questions are {', '.join(_CHOICES)}"
            said = f"{saying.shown(name)} is no question about a file"
            faults.append(saying.stop("intake/unknown-answer", said, hint))
        elif _CHOICES[name] and answer not in _CHOICES[name]:
            said = f"{saying.shown(answer)} does not answer '{name}'"
            hint = "answer " + " or ".join(f"'{choice}'" for choice in _CHOICES[name])
            faults.append(saying.stop("intake/unknown-answer", said, hint))
        elif name == "hour" and not _HOUR.fullmatch(answer):
            said = f"{saying.shown(answer)} is no time of day"
            faults.append(saying.stop("intake/unknown-answer", said, "write it like '09:00'"))
        elif answer:
            kept[name] = answer
    return kept, faults


def source(name: str, header: Sequence[str]) -> str:
    """What files of one source have in common: their name without digits, and their header.

    >>> source("log-2026-03.csv", ["time", "value"]) == source("log-2026-04.csv", ["Time", "Value"])
    True
    """
    shape = re.sub(r"\d+", "#", name)
    digest = hashlib.sha256("|".join(headings.fold(one) for one in header).encode("utf-8", "replace"))
    return f"{shape}|{digest.hexdigest()[:12]}"


def import_id(sha256: str, answers: Mapping[str, str]) -> str:
    """The id of an import: of the file alone, or of the file and the answers that say what its rows mean.

    >>> import_id("ab" * 32, {}) == import_id("ab" * 32, {"person:a": "new"}) == "ab" * 16
    True
    >>> import_id("ab" * 32, {"at": "T-1"}) == import_id("ab" * 32, {"at": "T-2"})
    False
    """
    telling = sorted(item for item in answers.items() if not item[0].startswith("person:"))
    if not telling:
        return sha256[:32]
    return hashlib.sha256(repr((sha256, telling)).encode("utf-8", "replace")).hexdigest()[:32]


def lasting(answers: Mapping[str, str], automatic: frozenset[str]) -> dict[str, str]:
    """The answers that hold for later files of the same source."""
    return {
        key: text
        for key, text in answers.items()
        if not _ONCE.fullmatch(key) or (key == "by" and text in automatic)
    }

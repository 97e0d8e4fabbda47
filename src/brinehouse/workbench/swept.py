"""Sweeps of a hall that came to their end, for whoever asks the same question again."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.time_in_hand import question
from brinehouse.workbench import pieces

Floats = NDArray[np.float64]


def plainly(asked: question.Asked) -> question.Asked:
    """A question without what samples do not depend on."""
    return dataclasses.replace(
        asked,
        pairs=False,
        less_than=question.LESS_THAN,
        notice=question.NOTICE,
        travel=question.TRAVEL,
        clock=0.0 if asked.begin == "worst" else asked.clock,
    )


def key_of(asked: question.Asked, ids: Sequence[str]) -> str:
    """The digest of a question with the failures swept and the code that answers."""
    return pieces.digest((plainly(asked), tuple(ids), pieces.model()))


def sheets(hall: Path) -> list[dict[str, Any]]:
    """What is written down about the sweeps of a hall; what cannot be read is left out."""
    found: list[dict[str, Any]] = []
    for file in sorted((hall / pieces.FOLDER).glob(f"*/{pieces.SHEET}")):
        try:
            told = json.loads(file.read_text("utf-8"))
        except (OSError, ValueError):
            continue
        if isinstance(told, dict):
            found.append({str(name): value for name, value in told.items()})
    return found


def mark(hall: Path) -> tuple[tuple[str, int], ...]:
    """Something that changes when a sweep is begun or ends."""
    files = sorted((hall / pieces.FOLDER).glob(f"*/{pieces.SHEET}"))
    return tuple((file.parent.name, file.stat().st_mtime_ns) for file in files)


def finished(hall: Path, asked: question.Asked) -> tuple[tuple[str, ...], Floats] | None:
    """Failures and samples of the largest sweep of this very question that is whole; None where none is."""
    best: tuple[tuple[str, ...], Floats] | None = None
    for told in sheets(hall):
        ids, samples = _listed(told.get("failures")), told.get("whole")
        if not ids or not isinstance(samples, int) or samples <= (0 if best is None else len(best[1])):
            continue
        key = key_of(asked, ids)
        if told.get("question") != key:
            continue
        kept = pieces.Kept(pieces.folder_of(hall, key), key)
        found = pieces.gather(kept, samples)
        if len(found) == len(kept.spans(samples)):
            best = ids, pieces.joined(found)
    return best


def _listed(told: object) -> tuple[str, ...]:
    return tuple([str(one) for one in told]) if isinstance(told, list) else ()

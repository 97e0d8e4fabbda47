"""What came twice under one id with two contents: what stands, and what was kept beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from brinehouse import records
from brinehouse.workbench import hall, told


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One id with two contents, each as a person reads it, and who wrote it."""

    id: str
    place: str
    measured: datetime | None
    kept: str
    kept_by: int | None
    offered: str
    offered_by: int | None


def of(place: hall.Hall) -> list[Pair]:
    """Every pair, oldest first; none without a logbook."""
    if not hall.Hall.has_book(place.folder):
        return []
    return [_pair(one.id, one.kept, one.offered) for one in place.book.asides()]


def _pair(id: str, kept: records.Reading | records.Fact | None, offered: Mapping[str, Any]) -> Pair:
    person = offered.get("person")
    return Pair(
        id=id,
        place=kept.place if kept is not None else str(offered.get("place", "")),
        measured=kept.measured if kept is not None else None,
        kept=_says(kept),
        kept_by=kept.person if kept is not None else None,
        offered=str(offered.get("text") or offered.get("details") or ""),
        offered_by=person if isinstance(person, int) else None,
    )


def _says(kept: records.Reading | records.Fact | None) -> str:
    if kept is None:
        return ""
    return kept.text if isinstance(kept, records.Reading) else told.line(kept)

"""The facility file's earlier versions: from when each held, who brought it, why, and what it changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from brinehouse import records
from brinehouse.facility import differing
from brinehouse.logbook import kept
from brinehouse.workbench import hall, plant_edit, plant_things


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One version: `since` it holds, `at` it was written down; `said` is what it changed.

    ``holds`` is false where a later entry put another text in its place for the same time.
    """

    number: int
    since: datetime
    at: datetime
    by: str
    reason: str
    said: Sequence[str]
    digest: str
    text: str
    holds: bool = True


def versions(place: hall.Hall) -> list[Version]:
    """Every version the log keeps, newest first."""
    if not hall.Hall.has_book(place.folder):
        return []
    texts = place.book.facility_texts()
    names = {person.number: person.name for person in place.book.people()}
    whys = _whys(place.facts(kinds=["event"]))
    found: list[Version] = []
    for number, one in enumerate(texts):
        last = all(other.since != one.since for other in texts[number + 1 :])
        found.append(_version(number, one, _before(texts, number), names, whys, holds=last))
    return found[::-1]


def _before(texts: Sequence[kept.FacilityText], number: int) -> str:
    """The text that held right before one, or that it took the place of."""
    return texts[number - 1].text if number else ""


def _version(
    number: int,
    one: kept.FacilityText,
    before: str,
    names: Mapping[int, str],
    whys: Mapping[str, records.Fact],
    *,
    holds: bool,
) -> Version:
    why = whys.get(plant_edit.kept_digest(one.text))
    return Version(
        number=number + 1,
        since=one.since,
        at=one.at,
        by=names.get(one.person, "") if one.person is not None else "",
        reason=why.note if why is not None else "",
        said=differing.said(_bare(before), _bare(one.text)) if before else (),
        digest=one.digest,
        text=one.text,
        holds=holds,
    )


def _bare(text: str) -> str:
    return text.removeprefix("\ufeff")


def _whys(events: Sequence[records.Fact]) -> dict[str, records.Fact]:
    """Changes made by a form, by the file they led to."""
    return {str(fact.details["facility"]): fact for fact in events if fact.details.get("facility")}


def version(place: hall.Hall, number: int) -> tuple[Version, Sequence[differing.Line]]:
    """One version as it was then, and the difference to the one before.

    Raises
    ------
    mishaps.Refused
        There is no version of that number.
    """
    from brinehouse.workbench import mishaps

    found = versions(place)
    one = next((each for each in found if each.number == number), None)
    if one is None:
        said = f"the log keeps no version {number} of the facility file"
        raise mishaps.Refused(plant_things.stop("plant/no-version", said, "look at the list of versions"))
    texts = place.book.facility_texts()
    return one, differing.lines(_before(texts, number - 1), one.text)

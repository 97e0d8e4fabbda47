"""Least sets of failures that leave less than a chosen time, and the parts that stand in most of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from brinehouse.engines.time_in_hand import failures, question
from brinehouse.science import cut_sets

WHOLE: Mapping[str, str] = {
    "power": "power of the hall", "room": "cooling of the room", "no-exchange": "make-up water",
    "feed": "feeding",
}  # fmt: skip
"""What stands behind an effect that names no part."""


def least(
    rows: Sequence[question.Row], known: Mapping[str, failures.Failure], less_than: float
) -> list[question.CutSet]:
    """Single and double failures that leave less than so many hours and hold no other such.

    Parameters
    ----------
    rows : sequence of Row
        Singles and pairs.
    known : mapping
        Failures by id.
    less_than : float
        [h]
    """
    short = {frozenset(row.failures): row for row in rows if row.hours < less_than}
    found = [short[cut] for cut in cut_sets.least(short)]
    made: list[question.CutSet] = []
    for row in sorted(found, key=lambda one: (one.hours, one.id)):
        first = row.first
        assert first is not None
        made.append(
            question.CutSet(
                failures=row.failures,
                titles=tuple(known[name].title for name in row.failures),
                hours=row.hours,
                crossing=first,
                parts=tuple(dict.fromkeys(part for name in row.failures for part in parts_of(known[name]))),
            )
        )
    return made


def parts_of(failure: failures.Failure) -> list[str]:
    """The parts of the plant behind a failure: of a board the board itself, not all that it feeds."""
    return list(dict.fromkeys(one.part or WHOLE.get(one.kind, one.kind) for one in failure.effects))


def ranking(sets: Sequence[question.CutSet]) -> list[question.Part]:
    """Parts by the number of least sets they stand in, then by the shortest time of those."""
    names = dict.fromkeys(part for one in sets for part in one.parts)
    found = [
        question.Part(
            name=name,
            sets=sum(name in one.parts for one in sets),
            of=len(sets),
            shortest=min(one.hours for one in sets if name in one.parts),
        )
        for name in names
    ]
    return sorted(found, key=lambda one: (-one.sets, one.shortest, one.name))

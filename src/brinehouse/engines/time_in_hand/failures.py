"""Every failure a plant can have, made from its facility: what it does, how it shows, what to do first."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from brinehouse.engines.time_in_hand import first_steps as cards
from brinehouse.engines.time_in_hand import mishaps, neighbours, question
from brinehouse.facility import model
from brinehouse.network.transients import effects

UNSEEN = "Nobody does"
"""How the way a failure is noticed begins where nothing at the plant shows it."""

AIRED = ("oxygen", "oxygen_percent", "co2", "ph", "ammonia")
"""Quantities whose limits say that a tank wants air."""

AT_ITS_PLACE = ("leak", "top-up", "screen", "suction")
"""Kinds whose steps name the one place where it happens."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """One failure.

    Attributes
    ----------
    id : str
        Permanent, readable, without blanks: ``pump-P-201-stops``.
    title : str
        What happens, in a keeper's words.
    kind : str
        One of `mishaps.KINDS`.
    effects : tuple of Effect
        What it does to the plant.
    parts : tuple of str
        Ids of the parts behind it: of a board, of everything it feeds, change-overs with it.
    noticed : str
        How the crew notices it, or that they cannot.
    first_steps : tuple of str
        What to do, in order, for the person on the spot.
    cautions : tuple of str
    source : str
        Where the steps are from.
    card, words : str, mapping
        The card the steps are made from, and what is put into it; empty where the file has its own.
    """

    id: str
    title: str
    kind: str
    effects: tuple[effects.Effect, ...]
    parts: tuple[str, ...]
    noticed: str
    first_steps: tuple[str, ...]
    cautions: tuple[str, ...]
    source: str = cards.SOURCE
    card: str = ""
    words: Mapping[str, str] = field(default_factory=dict[str, str])

    @property
    def unseen(self) -> bool:
        """Whether nothing at the plant shows it."""
        return self.noticed.startswith(UNSEEN)


def catalogue(facility: model.Facility, running: Mapping[str, bool] | None = None) -> tuple[Failure, ...]:
    """Every failure of a facility.

    Parameters
    ----------
    facility : Facility
    running : mapping, optional
        Pump to whether it runs now; the first ``keep`` of each duty group where not given. A pump that runs
        can stop; one that rests can be dead without anybody noticing.

    Returns
    -------
    tuple of Failure
        In the order of the facility's tables, its own failures last.
    """
    taken: set[str] = set()
    return tuple(_made(facility, one, taken) for one in mishaps.every(facility, running))


def _made(facility: model.Facility, one: mishaps.Mishap, taken: set[str]) -> Failure:
    told = cards.told(one.card, one.words)
    return Failure(
        id=_unique(one.id, taken),
        title=one.title[:1].upper() + one.title[1:],
        kind=one.kind,
        effects=one.effects,
        parts=tuple(dict.fromkeys(_parts(facility, one.effects))),
        noticed=one.noticed or told.noticed,
        first_steps=one.steps or told.steps,
        cautions=(*question.CAUTIONS, *told.cautions),
        source="the facility file" if one.steps else cards.SOURCE,
        card="" if one.steps else one.card,
        words=one.words,
    )


def steps(failure: Failure, facility: model.Facility, soonest: Sequence[str]) -> tuple[str, ...]:
    """The first steps with the tanks in the order in which they are in need.

    Parameters
    ----------
    failure : Failure
    facility : Facility
    soonest : sequence of str
        Places whose limits are crossed, the first first. Without any, the steps stay as the catalogue has
        them: by how many animals a tank holds for its water.
    """
    tanks = [place for place in dict.fromkeys(soonest) if place in facility.tanks]
    if not tanks or not failure.card or failure.kind in AT_ITS_PLACE or "first" not in failure.words:
        return failure.first_steps
    first = neighbours.label(facility, tanks[0])
    others = [neighbours.label(facility, tank) for tank in tanks[1:2]]
    others += [failure.words.get(name, "") for name in ("first", "next")]
    words = {
        **failure.words,
        "first": first,
        "next": next((one for one in others if one and one != first), ""),
        "battery": neighbours.remedy(facility, "battery air", tanks[0]),
    }
    return cards.told(failure.card, words).steps


def _unique(name: str, taken: set[str]) -> str:
    """An id without blanks that no other failure has."""
    plain = re.sub(r"[\s/]+", "-", name.strip())
    found, number = plain, 2
    while found in taken:
        found, number = f"{plain}-{number}", number + 1
    taken.add(found)
    return found


def _parts(facility: model.Facility, done: Iterable[effects.Effect]) -> Iterable[str]:
    for one in done:
        if one.part:
            yield one.part
        if one.kind == "board":
            dark = facility.boards_behind(one.part)
            yield from facility.fed_by_board(one.part)
            yield from (duty.id for duty in facility.duties.values() if duty.board in dark)

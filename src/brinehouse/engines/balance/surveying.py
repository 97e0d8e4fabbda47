"""The balance of a plant as it stands, and beside it as it would be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from brinehouse import answers, findings
from brinehouse.engines.balance import cases, comparing, plants, question, telling


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """One plant worked out as assumed, and with each assumption moved."""

    made: plants.Made
    shifted: Mapping[str, Sequence[comparing.Numbers]]

    assumed: Sequence[plants.Assumption]

    @property
    def side(self) -> cases.Side:
        """It as it is told."""
        return cases.Side(
            facility=self.made.plant.facility,
            settled=self.made.settled,
            spread=comparing.spreads(self.made.settled.values, self.shifted),
        )


def survey(
    today: question.Plant | Worked,
    then: question.Plant | None = None,
    *,
    known: Mapping[str, Mapping[str, question.Known]] | None = None,
    as_of: datetime | None = None,
    refused: Sequence[findings.Finding] = (),
    title: str = "",
) -> answers.Answer:
    """Where the water settles, how long it takes, what holds it there, and what a change would do.

    Parameters
    ----------
    today : Plant or Worked
        As it stands; worked out before, where several changes are asked of one plant.
    then : Plant, optional
        As it would be.
    known : mapping, optional
        Place to glossary word to its newest reading: shown beside, and told where the balance does not
        explain it.
    as_of : datetime, optional
        The newest reading used.
    refused : sequence of Finding
        Why a change list cannot be worked out; then `title` is the list.

    Returns
    -------
    Answer
        Tables ``places``, ``terms`` and ``assumptions``; with a change also ``said`` and ``differences``.
    """
    now = today if isinstance(today, Worked) else work(today)
    assumed = now.assumed
    later = work(then, assumed) if then is not None else None
    moved: dict[comparing.Key, float] = {}
    spread: dict[comparing.Key, comparing.Spread] = {}
    if later is not None:
        moved = comparing.differences(now.made.settled.values, later.made.settled.values)
        pairs = {
            name: [comparing.differences(a, b) for a, b in zip(sides, later.shifted[name], strict=True)]
            for name, sides in now.shifted.items()
        }
        spread = comparing.spreads(moved, pairs)
    change = then
    if refused:
        change = question.Plant(
            facility=now.made.plant.facility,
            flows=None,
            conditions=None,
            findings=tuple(refused),
            title=title,
        )
    return telling.answer(
        cases.Case(
            today=now.side,
            then=later.side if later is not None else None,
            change=change,
            moved=moved,
            spread=spread,
            hours=plants.hours(now.made, later.made if later is not None else None),
            assumed=[one.told for one in assumed],
            known=known or {},
            as_of=as_of,
        )
    )


def work(plant: question.Plant, assumed: Sequence[plants.Assumption] | None = None) -> Worked:
    """A plant in balance, and again with each assumption up and down by its standard uncertainty."""
    assumed = plants.assumptions(plant) if assumed is None else assumed
    made = plants.make(plant)
    shifted: dict[str, Sequence[comparing.Numbers]] = {
        one.told.name: [plants.numbers(one.shifted(plant, sign), made) for sign in (1.0, -1.0)]
        for one in assumed
    }
    return Worked(made=made, shifted=shifted, assumed=assumed)

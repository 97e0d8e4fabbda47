"""What the parts of the hall add to the sheet of what is not as it should be."""

from __future__ import annotations

from brinehouse.workbench import (
    flows,
    hall,
    handing_over,
    investigation,
    keeping,
    lock_outs,
    now,
    rounds,
    sending,
    turns,
    upkeep,
    works,
)


def of(
    place: hall.Hall, found: investigation.Investigation | None = None, *, ahead: bool = False
) -> list[now.Concern]:
    """Gas, flows and every part that can be overdue; nothing where nothing was ever written down.

    Parameters
    ----------
    place : Hall
    found : Investigation, optional
        Where it is known already.
    ahead : bool
        Whether gas and flows are left out: they are still being worked out, and nobody waits for them.
    """
    if not hall.Hall.has_book(place.folder):
        return []
    slow = [] if ahead else _slow(place, found)
    return [
        *slow,
        *sending.concerns_of(place),
        *handing_over.concerns_of(place),
        *lock_outs.concerns_of(place),
        *works.concerns_of(place),
        *upkeep.concerns_of(place),
        *turns.concerns_of(place),
        *rounds.concerns_of(place),
        *keeping.concerns_of(place),
    ]


def _slow(place: hall.Hall, found: investigation.Investigation | None) -> list[now.Concern]:
    gas = investigation.concerns_of(found or investigation.investigate(place))
    return [*gas, *flows.concerns_of(flows.survey(place))]

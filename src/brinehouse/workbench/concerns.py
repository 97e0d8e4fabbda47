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


def of(place: hall.Hall, found: investigation.Investigation | None = None) -> list[now.Concern]:
    """Gas and flows; nothing where nothing was ever written down.

    Parameters
    ----------
    place : Hall
    found : Investigation, optional
        Where it is known already.
    """
    if not hall.Hall.has_book(place.folder):
        return []
    gas = investigation.concerns_of(found or investigation.investigate(place))
    return [
        *gas,
        *flows.concerns_of(flows.survey(place)),
        *sending.concerns_of(place),
        *handing_over.concerns_of(place),
        *lock_outs.concerns_of(place),
        *works.concerns_of(place),
        *upkeep.concerns_of(place),
        *turns.concerns_of(place),
        *rounds.concerns_of(place),
        *keeping.concerns_of(place),
    ]

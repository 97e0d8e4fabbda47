"""The way of a run: what it passes, what of it is open to air, and what it shares with others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from brinehouse.facility import model

OPEN_KINDS = ("packed column", "screen", "drum screen", "trickle", "cascade", "weir box")
"""Kinds of machine that water falls through in the open; so is any with a height or a pool."""
COLUMNS = ("packed column", "trickle", "cascade")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One part on the way: ``kind`` is place, pumps, open, column, closed or outside."""

    part: str
    kind: str

    @property
    def pressed(self) -> bool:
        """Whether water passes it under pressure."""
        return self.kind in ("pumps", "closed")


def group_of(facility: model.Facility) -> dict[str, str]:
    """Pump to its duty group; a pump of none stands for itself."""
    return {pump: group(facility, pump) for pump in facility.pumps}


def group(facility: model.Facility, part: str) -> str:
    """The duty group of a pump; any other part, and a pump of none, stands for itself."""
    if part in facility.pumps:
        return next((duty.id for duty in facility.duties.values() if part in duty.pumps), part)
    return part


def members(facility: model.Facility, name: str) -> tuple[str, ...]:
    """The pumps of a duty group, or the pump itself."""
    duty = facility.duties.get(name)
    if duty is not None:
        return tuple(dict.fromkeys(pump for pump in duty.pumps if pump in facility.pumps))
    return (name,) if name in facility.pumps else ()


def is_column(machine: model.Equipment) -> bool:
    """Whether water trickles down through it into a pool."""
    told = machine.height is not None or machine.pool is not None
    return told or any(word in machine.kind for word in COLUMNS)


def is_open(machine: model.Equipment) -> bool:
    """Whether water meets the air in it."""
    return is_column(machine) or any(word in machine.kind for word in OPEN_KINDS)


def steps(facility: model.Facility, run: model.Run) -> tuple[Step, ...]:
    """Every part of a run from its start to its end; a pump stands for its duty group."""
    return tuple(
        Step(part=group(facility, part), kind=kind(facility, part))
        for part in (run.source, *run.through, run.target)
    )


def kind(facility: model.Facility, part: str) -> str:
    """What kind of step a part is."""
    if part in facility.vessels:
        return "place"
    if part in facility.pumps or part in facility.duties:
        return "pumps"
    machine = facility.equipment.get(part)
    if machine is None:
        return "outside"
    return "column" if is_column(machine) else "open" if is_open(machine) else "closed"


def driven(facility: model.Facility, run: model.Run) -> bool:
    """Whether a pump stands on its way."""
    return any(step.kind == "pumps" for step in steps(facility, run)[:-1])


def overflows(facility: model.Facility, run: model.Run) -> bool:
    """Whether a run is what runs over the crest of its place: no pump on it, and it starts no lower."""
    vessel = facility.vessels.get(run.source)
    if vessel is None or vessel.crest is None or driven(facility, run):
        return False
    return run.high is None or run.high >= vessel.crest - 0.1


def groups_on(facility: model.Facility, run: model.Run) -> tuple[str, ...]:
    """The duty groups (or single pumps) on its way."""
    return tuple(step.part for step in steps(facility, run)[:-1] if step.kind == "pumps")


def running_now(facility: model.Facility, running: Mapping[str, bool] | None) -> dict[str, bool]:
    """Pump to whether it runs: as told, else each duty group runs its first pumps, as many as it keeps."""
    found = dict.fromkeys(facility.pumps, True)
    for duty in facility.duties.values():
        for n, pump in enumerate(members(facility, duty.id)):
            found[pump] = n < duty.keep
    if running is not None:
        found = {pump: bool(running.get(pump, False)) for pump in found}
    return found


def passed_by(facility: model.Facility, runs: Iterable[model.Run]) -> dict[str, list[str]]:
    """Part to the runs that pass it or start or end at it, in file order."""
    found: dict[str, list[str]] = {}
    for run in runs:
        for step in steps(facility, run):
            found.setdefault(step.part, []).append(run.id)
    return found

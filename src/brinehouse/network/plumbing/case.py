"""Everything one layout rests on, gathered once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from brinehouse import answers, findings
from brinehouse.facility import hidden, model
from brinehouse.network.plumbing import levels, parts, way


@dataclass(slots=True)
class Case:
    """One facility with what runs, what flows and how high the water stands; findings gather here."""

    facility: model.Facility
    flows: dict[str, float]
    running: Mapping[str, bool]
    levels: Mapping[str, parts.Head]
    pump_flows: dict[str, float]
    surroundings: parts.Surroundings
    said: list[findings.Finding] = field(default_factory=list[findings.Finding])
    working: list[answers.Step] = field(default_factory=list[answers.Step])
    solved: dict[tuple[str, str], parts.Head] = field(default_factory=dict[tuple[str, str], parts.Head])
    """Heads that were computed, by part and where: they come before any estimate."""
    computed: set[str] = field(default_factory=set[str])
    """Runs whose flow was computed."""
    flow_halves: dict[str, float] = field(default_factory=dict[str, float])
    """Half of the 95 % interval of a computed flow. [m³/s]."""
    followed: set[str] = field(default_factory=set[str])
    """Runs whose flow follows from computed ones."""

    def say(
        self,
        code: str,
        text: str,
        hint: str,
        *,
        level: findings.Level = findings.Level.NOTE,
        spot: findings.Spot = model.NOWHERE,
        **data: Any,
    ) -> None:
        """Add a finding of plumbing."""
        found = findings.Finding(code=code, level=level, text=text, hint=hint, spot=spot, data=data)
        self.said.append(found)

    def runs_any(self, group: str) -> bool:
        """Whether any pump of a group runs."""
        return any(self.running.get(pump, False) for pump in way.members(self.facility, group))

    def end(self, run: model.Run) -> parts.Head | None:
        """Head at which a run lets go of its water: the water it ends in, or its mouth above it."""
        level = self.levels.get(run.target)
        if run.outlet is not None and (level is None or run.outlet > level.value):
            return parts.Head(run.outlet, run.outlet - 0.02, run.outlet + 0.1)
        if level is None or run.outlet is not None or run.high is None or run.high <= level.value:
            return level
        return parts.Head(level.value, level.low, max(level.high, run.high))

    def falls_free(self, run: model.Run) -> bool:
        """Whether a run is known to end above the water."""
        level = self.levels.get(run.target)
        return run.outlet is not None and (level is None or run.outlet > level.value)


def shown(name: str) -> str:
    """An id as it is safe to show."""
    return hidden.visible(name)


def surfaces(
    facility: model.Facility, flows: Mapping[str, float], told: Mapping[str, float] | None
) -> dict[str, parts.Head]:
    """Levels, with those told of places that exist."""
    known = {place: level for place, level in (told or {}).items() if place in facility.vessels}
    return levels.surfaces(facility, flows, known)

"""A duty group looked at: how its pumps stand, its plan, what is due."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from brinehouse.engines.turns import counting, planning, question, worth
from brinehouse.facility import model


@dataclass(frozen=True, slots=True, kw_only=True)
class Overhaul:
    """When a pump comes to the end of its hours: ``low`` and ``high`` are 95 %.

    ``share`` of the time it is to run until then, ``scatter`` of a week's share, over that many ``weeks``.
    """

    at: datetime
    low: datetime
    high: datetime
    share: float
    scatter: float
    weeks: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """One group: times as they are planned, hours in h."""

    duty: model.Duty
    units: Sequence[counting.Unit]
    life: float | None
    counted: bool
    share: float
    spacing: float
    turn: timedelta
    idle: timedelta
    plan: planning.Plan
    overhauls: Mapping[str, Overhaul] = field(default_factory=dict[str, Overhaul])
    tested: question.ChangeOver | None = None
    logged: datetime | None = None
    """Since when anything was written down of pumps."""
    worth: worth.Worth | None = None

    @property
    def spares(self) -> int:
        """Pumps that rest while all is well."""
        return max(len(self.units) - self.duty.keep, 0)

    @property
    def test_due(self) -> datetime | None:
        """When the automatic change-over is to be tried next; None where the file asks for no trial."""
        every = self.duty.test_change_over
        if every is None or self.duty.standby != "automatic":
            return None
        last = self.tested.at if self.tested is not None else self.logged
        return self.plan.begin if last is None else last + timedelta(seconds=every)

    def unit(self, pump: str) -> counting.Unit:
        """A pump of the group."""
        return next(one for one in self.units if one.pump == pump)

    def ran(self, pump: str) -> float:
        """Hours since its overhaul; of a group not all counted, those that are logged of each. [h]."""
        unit = self.unit(pump)
        return unit.wear if self.counted else unit.logged

    def wanted(self, pump: str) -> float:
        """Where a pump's hours would lie, were all as far apart as they are to be kept. [h]."""
        return offset_of(self, pump) + self.level

    @property
    def level(self) -> float:
        """What the hours of all pumps lie above their offsets on average [h]."""
        above = [unit.wear - offset_of(self, unit.pump) for unit in self.units]
        return sum(above) / len(above)

    @property
    def apart(self) -> float:
        """Hours between the pump furthest above its offset and the one furthest below, as they stand [h]."""
        above = [unit.wear - offset_of(self, unit.pump) for unit in self.units]
        return max(above) - min(above)


def listed(words: Sequence[str]) -> str:
    """Words in a row.

    >>> listed(["P-1", "P-2", "P-3"])
    'P-1, P-2 and P-3'
    """
    if len(words) < 2:
        return "".join(words)
    return ", ".join(words[:-1]) + " and " + words[-1]


def offset_of(one: Study, pump: str) -> float:
    """The wanted offset of a pump as the group stands now [h]."""
    rank = sorted(one.units, key=lambda unit: unit.wear)
    return one.spacing * [unit.pump for unit in rank].index(pump)

"""What one system's survey found, before it is put into words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from brinehouse.engines.gas_sources import fitting, leaks, narrowing, question, supposing
from brinehouse.engines.gas_sources import foretelling as ft
from brinehouse.facility import hidden


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What one system's survey found."""

    given: question.Given
    fit: fitting.Fit
    state: str
    pumps: tuple[str, ...]
    weighed: leaks.Weighed
    told: ft.Told
    supposed: tuple[supposing.Supposed, ...]
    hour: float
    next: tuple[narrowing.Reading, ...]

    @property
    def newest(self) -> datetime:
        """When the newest sample was taken."""
        return self.fit.case.start + timedelta(hours=self.hour)

    def name(self, id: str) -> str:
        """What the keeper calls a thing."""
        facility = self.given.facility
        for shelf in (facility.vessels, facility.runs, facility.equipment, facility.systems):
            if id in shelf:
                return hidden.visible(shelf[id].name or id)
        return hidden.visible(id)


def most(sizes: Mapping[str, tuple[float, float]]) -> str:
    """The place where the leak is felt most."""
    return max(sizes, key=lambda place: sizes[place][0])

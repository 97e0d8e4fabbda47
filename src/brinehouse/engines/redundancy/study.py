"""A duty group that was looked at: what it is, how it is lost, what would help."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from brinehouse.engines.redundancy import groups, helping, losing


@dataclass(frozen=True, slots=True, kw_only=True)
class Studied:
    """A duty group; ``losses`` are too few and none at all, the same one where that is one thing."""

    group: groups.Group
    losses: Sequence[losing.Loss] = ()
    ends: Sequence[losing.Ends | None] = ()
    gains: Sequence[helping.Gain] = ()

    @property
    def told(self) -> bool:
        """Whether the file tells enough."""
        return bool(self.losses)

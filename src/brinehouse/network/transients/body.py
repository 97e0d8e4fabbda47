"""A joined body of water laid out for courses: its tables, and what of the plant stands behind each row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinehouse import findings
from brinehouse.facility import model
from brinehouse.network.compartments import conditions as given
from brinehouse.network.transients import pumping, tables

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

_NONE: Ints = np.zeros(0, dtype=np.intp)
FOREVER = 1e12  # s: the end of a last phase


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Pumps that serve together: a duty group, or one pump by itself.

    Attributes
    ----------
    id : str
        Of the duty group or pump.
    pumps, running : tuple of str
        All, and those that run as a rule.
    keep : int
    automatic : bool
        Whether a resting pump starts by itself.
    delay : float
        Until it has. [s]
    ways : ndarray of int
        Ways that it drives.
    watts, air : mapping
        Pump to what it warms the water with [W], and to the air it draws in [mL/L at 0 °C and 1 atm].
    returns : tuple of (int, float)
        Places to which the water of its pipes comes back when it stands, and how much. [m³]
    siphons : tuple of (int, float)
        Ways by which water is sucked back while it stands, and their scale.
    """

    id: str
    pumps: tuple[str, ...]
    running: tuple[str, ...]
    keep: int
    automatic: bool
    delay: float
    ways: Ints
    watts: Mapping[str, float] = field(default_factory=dict[str, float])
    air: Mapping[str, float] = field(default_factory=dict[str, float])
    returns: tuple[tuple[int, float], ...] = ()
    siphons: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """Ways that no run draws: index of each by its place (index), -1 where there is none."""

    top_up: Ints
    change: Ints
    drain: Ints
    rim: Ints
    hole: Ints


@dataclass(frozen=True, slots=True)
class Warmed:
    """Ops that warm or hold, the number of the part behind each, and (parts, ways): 1 where it is passed."""

    heat: Ints
    hold: Ints
    heat_part: Ints
    hold_part: Ints
    gets: Floats


@dataclass(slots=True, kw_only=True)
class Body:
    """One joined body of water.

    Attributes
    ----------
    places : tuple of str
    structure : Structure
        Without limits: see `laying.with_limits`.
    base : Tables
        One scenario, one phase: the plant as it runs.
    area, rim, cut : ndarray
        By place: open surface [m²]; water at the rim, infinite where nobody told; water at which the pumps
        that draw from it begin to fail, not a number where none does. [m³]
    assumed : tuple of Assumed
    findings : tuple of Finding
    runs, parts : tuple of tuple of str
        Of each way: runs it goes along and parts it passes; empty for ways that no run draws.
    usual : ndarray
        Flow of each way as a rule. [m³/s]
    joins : tuple of (int, tuple of (str, float))
        For each way over a machine where runs join or part: the way, and the runs that go on from there
        with their flows. [m³/s]
    op_way, op_full : ndarray
        Of each op: its way, and for a holder the most it can do [K] where it runs full on.
    quiet : ndarray
        By place: oxygen's transfer at 20 °C without the air of its own. [m³/s]
    alone : ndarray of bool
        Tanks with filter, air and heater of their own.
    """

    places: tuple[str, ...]
    structure: tables.Structure
    base: tables.Tables
    area: Floats
    rim: Floats
    cut: Floats
    assumed: tuple[given.Assumed, ...]
    findings: tuple[findings.Finding, ...]
    facility: model.Facility
    groups: Mapping[str, Group]
    runs: tuple[tuple[str, ...], ...]
    parts: tuple[tuple[str, ...], ...]
    usual: Floats
    extra: Extra
    op_way: Ints
    op_full: Floats
    quiet: Floats
    alone: NDArray[np.bool_]
    shares: pumping.Shares
    joins: tuple[tuple[int, tuple[tuple[str, float], ...]], ...]
    air_unit: float  # µmol/kg for each mL/L of air
    heat_capacity: float  # J/m³/K
    standing: Mapping[str, int] = field(default_factory=dict[str, int])  # machine in a place, on no way
    home: Mapping[str, int] = field(default_factory=dict[str, int])
    _index: Warmed | None = field(default=None, repr=False)
    _ops: dict[tuple[str, int], Ints] = field(default_factory=dict[tuple[str, int], Ints], repr=False)
    _passing: dict[str, Ints] = field(default_factory=dict[str, Ints], repr=False)
    _along: dict[str, Ints] = field(default_factory=dict[str, Ints], repr=False)

    def __post_init__(self) -> None:
        """Index places by name."""
        if not self.home:
            self.home = {place: at for at, place in enumerate(self.places)}

    @property
    def x(self) -> Floats:
        """(species, places) at the start."""
        return self.base.x[0]

    @property
    def volume(self) -> Floats:
        """(places,) at the start. [m³]."""
        return self.base.volume[0]

    def passing(self, part: str) -> Ints:
        """Ways that pass a part."""
        if part not in self._passing:
            self._passing[part] = _with(part, self.parts)
        return self._passing[part]

    def ops(self, part: str, kind: int) -> Ints:
        """Ops of one kind that stand for a part."""
        if not self._ops:
            found: dict[tuple[str, int], list[int]] = {}
            kinds: list[int] = self.structure.kind.tolist()
            for at, one in enumerate(zip(self.structure.machines, kinds, strict=True)):
                found.setdefault(one, []).append(at)
            self._ops |= {one: np.array(rows, dtype=np.intp) for one, rows in found.items()}
        return self._ops.get((part, kind), _NONE)

    @property
    def warmed(self) -> Warmed:
        """Ops whose effect on each litre goes with the water that their part gets."""
        if self._index is None:
            kinds = self.structure.kind
            heat, hold = (np.flatnonzero(kinds == one) for one in (tables.HEAT, tables.HOLD))
            names = list(dict.fromkeys(self.structure.machines[at] for at in (*heat, *hold)))
            gets = np.zeros((len(names), len(self.usual)))
            for row, name in enumerate(names):
                gets[row, self.passing(name)] = 1.0
            heat_part, hold_part = (
                np.array([names.index(self.structure.machines[at]) for at in ops], dtype=np.intp)
                for ops in (heat, hold)
            )
            self._index = Warmed(heat, hold, heat_part, hold_part, gets)
        return self._index

    def along(self, run: str) -> Ints:
        """Ways that go along a run."""
        if run not in self._along:
            self._along[run] = _with(run, self.runs)
        return self._along[run]

    def place_of(self, name: str) -> int:
        """Index of a place, also by a part of it or a machine in it; -1 where it is none of this body."""
        vessel = self.facility.place(name)
        seen: set[str] = set()
        while vessel is not None and vessel.id not in self.home and vessel.part_of not in seen:
            seen.add(vessel.part_of)
            vessel = self.facility.vessels.get(vessel.part_of)
        return self.home.get(vessel.id, -1) if vessel is not None else -1


def _with(name: str, ways: tuple[tuple[str, ...], ...]) -> Ints:
    return np.array([at for at, names in enumerate(ways) if name in names], dtype=np.intp)

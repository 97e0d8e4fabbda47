"""The ways of one body of water by their laws, and what stands along them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinehouse.facility import model
from brinehouse.network.compartments import plant as plants
from brinehouse.network.plumbing import way as plumbed
from brinehouse.network.transients import heights, tables

Floats = NDArray[np.float64]
ROW = plants.ROW
TOP_UP = 10.0  # times what evaporates: what a float valve can give
TOP_UP_BAND = 0.02  # of the working volume: from shut to open
OUT = -1


@dataclass(slots=True)
class Drawn:
    """Rows of ways while they are gathered."""

    names: list[str] = field(default_factory=list[str])
    source: list[int] = field(default_factory=list[int])
    target: list[int] = field(default_factory=list[int])
    law: list[int] = field(default_factory=list[int])
    way: list[tuple[float, float, float, float]] = field(
        default_factory=list[tuple[float, float, float, float]]
    )
    outside: list[Floats] = field(default_factory=list[Floats])
    runs: list[tuple[str, ...]] = field(default_factory=list[tuple[str, ...]])
    parts: list[tuple[str, ...]] = field(default_factory=list[tuple[str, ...]])
    usual: list[float] = field(default_factory=list[float])

    def add(
        self,
        name: str,
        ends: tuple[int, int],
        law: int,
        row: tuple[float, float, float, float],
        *,
        outside: Floats | None = None,
        runs: tuple[str, ...] = (),
        parts: tuple[str, ...] = (),
        usual: float = 0.0,
    ) -> int:
        """A way; its index."""
        self.names.append(name)
        self.source.append(ends[0])
        self.target.append(ends[1])
        self.law.append(law)
        self.way.append(row)
        self.outside.append(np.zeros(len(plants.SPECIES)) if outside is None else outside)
        self.runs.append(runs)
        self.parts.append(parts)
        self.usual.append(usual)
        return len(self.names) - 1


class Ways:
    """Draws the ways of a body.

    Parameters
    ----------
    facility, plant : Facility, Plant
    members : sequence of int
        Places of the plant that belong to the body.
    shapes : sequence of Shape
        Of these places, in their order.
    assume : callable
        Called with what, value, unit, source.
    """

    def __init__(
        self,
        facility: model.Facility,
        plant: plants.Plant,
        members: Sequence[int],
        shapes: Sequence[heights.Shape],
        assume: Callable[[str, float, str, str], None],
    ) -> None:
        self.facility, self.plant, self.members, self.shapes = facility, plant, members, shapes
        self.assume = assume
        self.here = {place: at for at, place in enumerate(members)}
        self.drawn = Drawn()
        self.columns: list[int] = []  # passage of the plant behind each way, -1 where none is
        size = len(members)
        self.cut = np.full(size, np.nan)
        self.rim = np.full(size, np.inf)
        self.top_up, self.change = np.full(size, OUT), np.full(size, OUT)
        self.drain, self.over, self.hole = np.full(size, OUT), np.full(size, OUT), np.full(size, OUT)

    def draw(self, free: Sequence[int]) -> Drawn:
        """Every way: those of the plant, then rims, top-ups, changes of water and holes."""
        transport = self.plant.transport
        for column, passage in enumerate(transport.passages):
            ends = self._ends(int(transport.source[column]), int(transport.target[column]))
            if ends is None:
                continue
            self._passage(column, ends, passage.run, passage.parts, passage.runs, passage.flow)
        for at, shape in enumerate(self.shapes):
            self._besides(at, shape, at in free)
        return self.drawn

    def _ends(self, source: int, target: int) -> tuple[int, int] | None:
        if source not in self.here and target not in self.here:
            return None
        return self.here.get(source, OUT), self.here.get(target, OUT)

    def _passage(
        self,
        column: int,
        ends: tuple[int, int],
        name: str,
        parts: tuple[str, ...],
        runs: tuple[str, ...],
        flow: float,
    ) -> None:
        law, row = self._law(ends, name, parts, flow)
        drawn = name in self.facility.runs
        at = self.drawn.add(
            name, ends, law, row, outside=self.plant.outside[:, column].copy(), usual=flow,
            runs=runs if drawn else (), parts=parts if drawn else (),
        )  # fmt: skip
        self.columns.append(column)
        if not drawn:
            self._note(name, ends, at)

    def _note(self, name: str, ends: tuple[int, int], at: int) -> None:
        kind = name.partition(" ")[0]
        if kind == "top-up":
            self.top_up[ends[1]] = at
        elif kind == "change":
            self.change[ends[1]] = at
        elif kind == "drain":
            self.drain[ends[0]] = at

    def _law(
        self, ends: tuple[int, int], name: str, parts: tuple[str, ...], flow: float
    ) -> tuple[int, tuple[float, float, float, float]]:
        """By which law a way goes, and its numbers."""
        source, target = ends
        drawn = name in self.facility.runs
        if not drawn and name.startswith("top-up "):
            return tables.MAKE_UP, self._float_valve(target, flow)
        if source == OUT:
            return tables.PUMPED, (flow, 0.0, 0.0, 1.0)
        shape = self.shapes[source]
        if not drawn:  # a change of water by hand
            return tables.PUMPED, (flow, 0.0, 2.0 * heights.FLOOR * shape.usual, 0.05 * shape.usual)
        if self.pumped(parts):
            return tables.PUMPED, (flow, 0.0, *self._suction(source, parts))
        return tables.SPILL, (0.0, self._spill(shape, flow), shape.crest, 1.0)

    def pumped(self, parts: tuple[str, ...]) -> bool:
        """Whether a pump drives the water."""
        return any(part in self.facility.duties or part in self.facility.pumps for part in parts)

    def _spill(self, shape: heights.Shape, flow: float) -> float:
        if not shape.told:
            self.assume(f"water over the crest of {shape.vessel.id}", shape.over, "m", heights.COMMON)
        return flow / max(shape.usual - shape.crest, 1e-9) ** 1.5

    def _float_valve(self, place: int, flow: float) -> tuple[float, float, float, float]:
        """Gives what evaporates at the usual level, and all it can when that has fallen a little."""
        shape = self.shapes[place]
        usual, band = shape.usual, TOP_UP_BAND * shape.usual
        if shape.vessel.top_up_by == "hand":  # people bring what evaporates, and look no closer
            return flow, 0.0, 1e12, 1.0
        most = shape.vessel.top_up
        if most is None:
            most = TOP_UP * flow
            self.assume(f"most that the top-up of {shape.vessel.id} gives", most, "m³/s", heights.COMMON)
        most = max(most, 1.01 * flow)
        share = 0.5 - math.sin(math.asin(1.0 - 2.0 * flow / most) / 3.0)  # the ramp turned round
        return most, 0.0, usual + share * band, band

    def _suction(self, place: int, parts: tuple[str, ...]) -> tuple[float, float]:
        """Water at which the pumps of a way begin to draw air, and from there to their whole flow."""
        shape = self.shapes[place]
        groups = [plumbed.group(self.facility, part) for part in parts]
        pumps = [pump for group in groups for pump in plumbed.members(self.facility, group)]
        heard = [one for name in pumps if (one := self.facility.pumps[name].elevation) is not None]
        level, told = shape.cut(max(heard) if heard else None)
        if not told:
            self.assume(
                f"water in {shape.vessel.id} at which its pumps begin to draw air",
                level,
                "m³",
                heights.COMMON,
            )
        before = self.cut[place]
        self.cut[place] = level if np.isnan(before) else max(level, before)
        return level, min(heights.BAND * shape.usual, 0.9 * (shape.usual - level))

    # --- ways that no run draws ----------------------------------------------------------------------------

    def _besides(self, at: int, shape: heights.Shape, free: bool) -> None:
        water = self.plant.start[:, self.members[at]].copy()
        water[[plants.AT[name] for name in ("tan", "nitrite", "nitrate", "tracer")]] = 0.0
        if self.change[at] == OUT:
            self.change[at] = self._add(f"change {shape.vessel.id}", (OUT, at), tables.PUMPED,
                                        (0.0, 0.0, 0.0, 1.0), outside=water)  # fmt: skip
        if self.drain[at] == OUT:
            row = (0.0, 0.0, 2.0 * heights.FLOOR * shape.usual, 0.05 * shape.usual)
            self.drain[at] = self._add(f"drain {shape.vessel.id}", (at, OUT), tables.PUMPED, row)
        most = shape.vessel.top_up
        if (free or most is not None) and self.top_up[at] == OUT:
            fresh = water.copy()
            fresh[[plants.AT["salinity"], plants.AT["alkalinity"]]] = 0.0
            fresh[plants.AT["carbon"]] = 15.0
            given = 0.0 if shape.vessel.top_up_by == "hand" else most or 0.0
            row = (given, 0.0, shape.usual, TOP_UP_BAND * shape.usual)
            self.top_up[at] = self._add(f"top-up {shape.vessel.id}", (OUT, at), tables.MAKE_UP, row,
                                        outside=fresh)  # fmt: skip
        rim = shape.rim
        if rim is not None:
            self.rim[at] = rim
            self.over[at] = self._add(
                f"over the rim of {shape.vessel.id}", (at, OUT), tables.SPILL, (0.0, shape.lip, rim, 1.0)
            )
        self.hole[at] = self._add(
            f"hole in {shape.vessel.id}", (at, OUT), tables.PORT,
            (0.0, 0.0, heights.FLOOR * shape.usual, 1e-3 * shape.usual),
        )  # fmt: skip

    def _add(
        self,
        name: str,
        ends: tuple[int, int],
        law: int,
        row: tuple[float, float, float, float],
        outside: Floats | None = None,
    ) -> int:
        self.columns.append(-1)
        return self.drawn.add(name, ends, law, row, outside=outside)

    def siphon(self, column: int) -> tuple[int, float] | None:
        """The way by which a pumped way sucks water back while it stands: its index and scale."""
        source, target = self.drawn.source[column], self.drawn.target[column]
        run = self.facility.runs[self.drawn.runs[column][-1]]
        if OUT in (source, target) or source == target or self._breathes(run):
            return None
        found = heights.siphon(run, self.shapes[target], self.shapes[source])
        if found is None:
            return None
        level, scale = found
        row = (0.0, 0.0, level, 1e-3 * self.shapes[target].usual)
        return self._add(f"siphon {run.id}", (target, source), tables.PORT, row), scale

    def _breathes(self, run: model.Run) -> bool:
        return any(step.kind in ("open", "column") for step in plumbed.steps(self.facility, run))


@dataclass(slots=True)
class Ops:
    """What stands along the ways, in order."""

    begin: list[int] = field(default_factory=list[int])
    end: list[int] = field(default_factory=list[int])
    kind: list[int] = field(default_factory=list[int])
    rows: list[list[float]] = field(default_factory=list[list[float]])
    machines: list[str] = field(default_factory=list[str])
    way: list[int] = field(default_factory=list[int])

    def add(self, way: int, kind: int, part: str, *values: float) -> None:
        """One op of a way."""
        self.kind.append(kind)
        self.rows.append([*values, *(0.0,) * (tables.OP_COLUMNS - len(values))])
        self.machines.append(part)
        self.way.append(way)


def ops(ways: Ways) -> Ops:
    """Machines along every way: dense positions of the plant made into a list.

    Every pump gets a place for air drawn in, so that a failure may put some there.
    """
    made = Ops()
    machines = ways.plant.machines
    for way, column in enumerate(ways.columns):
        made.begin.append(len(made.kind))
        if column >= 0:
            for at in range(len(machines.heat)):
                _position(made, ways, way, at, column)
        made.end.append(len(made.kind))
    return made


def _position(made: Ops, ways: Ways, way: int, at: int, column: int) -> None:
    rows, gases = ways.plant.machines, ("oxygen", "nitrogen", "argon")
    part = str(rows.part[at, column])
    spot = (at, column)
    pump = part != "" and ways.pumped((part,))
    if rows.heat[spot] != 0.0:
        made.add(way, tables.HEAT, part, float(rows.heat[spot]))
    if rows.cooling[spot] > 0.0 or rows.warming[spot] > 0.0:
        hold = (rows.setpoint[spot], rows.cooling[spot], rows.warming[spot])
        made.add(way, tables.HOLD, part, *(float(one) for one in hold))
    share = rows.effectiveness[:, at, column]
    if share.any():
        pressure = rows.pressure[:, at, column]
        mixture = rows.mixture[:, at, column]
        made.add(way, tables.CONTACT, part, *(float(share[ROW[gas]]) for gas in (*gases, "carbon")),
                 float(pressure[ROW["oxygen"]]), float(pressure[ROW["carbon"]]),
                 *(float(mixture[ROW[gas]]) for gas in (*gases, "carbon")))  # fmt: skip
    air = rows.air[:, at, column]
    if pump or air.any():
        made.add(way, tables.AIR, part, *(float(air[ROW[gas]]) for gas in gases))
    if rows.ammonia[spot] > 0.0 or rows.nitrite[spot] > 0.0:
        made.add(way, tables.BIO, part, float(rows.ammonia[spot]), float(rows.nitrite[spot]))
    if rows.removal[spot] > 0.0:
        made.add(way, tables.REMOVE, part, float(rows.removal[spot]))

"""A loop profile out of a facility, its stations and what the water holds."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

from brinehouse.facility import model
from brinehouse.network.profile import along, gas_lines, parts, pipes, way
from brinehouse.science import seawater

PLAIN = (25.0, 35.0)  # where nobody has written temperature [°C] and salinity: common practice, no source
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def build(
    facility: model.Facility,
    system: str,
    layout: Any,
    excess: Mapping[str, parts.Excess],
    *,
    waters: Mapping[str, tuple[float, float]] | None = None,
    blamed: str = "",
) -> parts.Profile:
    """One system drawn the way its water goes.

    Parameters
    ----------
    facility : Facility
    system : str
        Its id.
    layout : Layout or None
        Stations of every run and the state of every pump; without it no static head is drawn.
    excess : mapping
        What the water holds: by place, by run (at its tap), or by ``run/machine`` (where it leaves it).
    waters : mapping, optional
        Place to temperature [°C] and salinity, where something newer is known than the facility file.
    blamed : str
        A pump with which gas comes in, as readings have it.

    Returns
    -------
    Profile
    """
    made = _Build(facility, system, layout, excess, waters or {}).profile()
    return dataclasses.replace(made, blamed=blamed)


def _packed(kind: str) -> bool:
    return "column" in kind or "tower" in kind or "degas" in kind


@dataclasses.dataclass(slots=True)
class _Build:
    facility: model.Facility
    system: str
    layout: Any
    excess: Mapping[str, parts.Excess]
    waters: Mapping[str, tuple[float, float]]
    letters: dict[str, list[str]] = dataclasses.field(default_factory=dict[str, list[str]])
    missing: list[parts.Missing] = dataclasses.field(default_factory=list[parts.Missing])

    def profile(self) -> parts.Profile:
        here = self.facility.systems[self.system]
        vessels = [self.facility.vessels[place] for place in here.places]
        runs = self._runs(set(here.places))
        drawn = self._drawable(vessels, runs)
        way_of = way.order(
            [
                run
                for run in runs
                if {run.source, run.target} & set(drawn)
                and not {run.source, run.target} & (set(here.places) - set(drawn))
            ],
            drawn,
            getattr(self.layout, "flows", {}),
        )
        reaches = self._reaches(way_of)
        shown = {stop.id for reach in reaches for stop in reach.stops if stop.place}
        alone = tuple(self.place(vessel) for vessel in vessels if vessel.id not in shown)
        return parts.Profile(
            system=self.system,
            name=here.name,
            reaches=reaches,
            alone=alone,
            closed=way_of.closed,
            missing=tuple(dict.fromkeys(self.missing)),
            basis=str(getattr(self.layout, "basis", "")) if reaches else "",
            names=self._names(),
        )

    def _names(self) -> dict[str, str]:
        shelves: tuple[Mapping[str, Any], ...] = (
            self.facility.vessels,
            self.facility.duties,
            self.facility.equipment,
            self.facility.pumps,
            self.facility.runs,
        )
        return {
            id: getattr(thing, "tag", "") or thing.name or id
            for shelf in shelves
            for id, thing in shelf.items()
        }

    def _runs(self, places: set[str]) -> list[model.Run]:
        """The runs of this system, ends that are machines moved to the place the machine is at."""
        found: list[model.Run] = []
        for run in self.facility.runs.values():
            source, target = self._end(run.source), self._end(run.target)
            if source in places or target in places:
                found.append(dataclasses.replace(run, source=source, target=target))
        tied = {(run.source, run.target) for run in found}
        for vessel in self.facility.vessels.values():
            for feeder in vessel.fed_by:
                source = self._end(feeder)
                if {vessel.id, source} <= places and (source, vessel.id) not in tied:
                    name = f"{source} to {vessel.id}"
                    found.append(model.Run(id=name, name=name, source=source, target=vessel.id))
        return found

    def _end(self, end: str) -> str:
        vessel = self.facility.place(end) if end not in self.facility.vessels else None
        return vessel.id if vessel else end

    def _drawable(self, vessels: Sequence[model.Vessel], runs: Sequence[model.Run]) -> list[str]:
        """Places of known floor and water level that runs tie to something; sumps, then inlets, first."""
        tied = {end for run in runs for end in (run.source, run.target)}
        known: list[model.Vessel] = []
        for vessel in vessels:
            if vessel.id not in tied:
                continue
            if vessel.elevation is None:
                self.missing.append(parts.Missing(thing=vessel.id, name=vessel.name, word="elevation"))
            elif self.surface(vessel) is None:
                self.missing.append(parts.Missing(thing=vessel.id, name=vessel.name, word="depth"))
            else:
                known.append(vessel)
        inside = {vessel.id for vessel in vessels}
        open_to = {run.target for run in runs if run.source not in inside}
        return [v.id for v in sorted(known, key=lambda v: (v.kind != "sump", v.id not in open_to))]

    def surface(self, vessel: model.Vessel) -> float | None:
        """How high its water stands. [m]."""
        told = along.surface(self.layout, vessel.id)
        if told is not None:
            return told
        if vessel.elevation is None:
            return vessel.crest
        if vessel.depth is not None:
            return vessel.elevation + vessel.depth
        volume = vessel.working or vessel.volume
        if volume is not None and vessel.surface:
            return vessel.elevation + volume / vessel.surface
        return vessel.crest

    def density(self, place: str) -> float:
        """Of the water at a place. [kg/m³]."""
        vessel = self.facility.vessels.get(place)
        temperature, salinity = self.waters.get(place, (None, None))
        if vessel is not None:
            temperature = vessel.temperature if temperature is None else temperature
            salinity = vessel.salinity if salinity is None else salinity
        return float(
            seawater.density(
                PLAIN[0] if temperature is None else temperature, PLAIN[1] if salinity is None else salinity
            )
        )

    def place(self, vessel: model.Vessel, returns: tuple[parts.Return, ...] = ()) -> parts.Stop:
        """A place with its water, gas line and animals."""
        surface, density, gas = self.surface(vessel), self.density(vessel.id), self.excess.get(vessel.id)
        depth = vessel.depth if surface is None or vessel.elevation is None else surface - vessel.elevation
        floor, level = vessel.elevation, surface
        if surface is None or vessel.elevation is None:
            floor, level = (-depth, 0.0) if depth is not None else (None, None)
        line = gas_lines.below(level, level, level, gas, density) if gas and level is not None else None
        return parts.Stop(
            id=vessel.id,
            kind=vessel.kind,
            name=vessel.name,
            elevation=floor,
            surface=level,
            crest=vessel.crest if vessel.elevation is not None else None,
            rim=vessel.rim if vessel.elevation is not None else None,
            area=vessel.surface,
            density=density,
            gas=gas,
            line=line,
            animals=tuple(
                gas_lines.animals(group, depth, gas, density)
                for group in self.facility.animals_at(vessel.id)
                if group.depth
            ),
            returns=returns,
            assumed=vessel.elevation is None,
        )

    def machine(self, id: str) -> parts.Stop:
        """A machine or a group of pumps."""
        thing = self.facility.equipment.get(id)
        if thing is not None:
            packed = along.height(self.layout, id, "pool") is not None or _packed(thing.kind)
            return parts.Stop(
                id=id,
                kind=thing.kind,
                name=thing.name,
                tag=thing.tag,
                elevation=thing.elevation,
                top=along.height(self.layout, id, "in") if packed else None,
                pool=along.height(self.layout, id, "pool") if packed else None,
                packing=thing.height if packed else None,
            )
        duty = self.facility.duties.get(id)
        names = duty.pumps if duty is not None else (id,)
        members = tuple(
            self.member(self.facility.pumps[name], duty, n)
            for n, name in enumerate(names)
            if name in self.facility.pumps
        )
        heights = [one.elevation for one in members if one.elevation is not None]
        known = self.facility.pumps.get(id)
        name = duty.name if duty is not None else known.name if known is not None else id
        return parts.Stop(
            id=id,
            kind="pumps" if members else "machine",
            name=name,
            members=members,
            elevation=sum(heights) / len(heights) if heights else None,
            keep=duty.keep if duty is not None else len(members),
        )

    def member(self, pump: model.Pump, duty: model.Duty | None, n: int) -> parts.Member:
        """One pump with its state, where that was worked out."""
        state = getattr(self.layout, "pumps", {}).get(pump.id)
        return parts.Member(
            id=pump.id,
            name=pump.name,
            elevation=pump.elevation,
            running=state.running if state is not None else duty is None or n < duty.keep,
            flow=getattr(state, "flow", None),
            head=getattr(state, "head", None),
            suction=getattr(state, "suction_head", None),
            suction_low=getattr(state, "suction_low", None),
            suction_high=getattr(state, "suction_high", None),
            air=getattr(state, "below_air", "no"),
            strainer=bool(pump.strainer),
        )

    # -- reaches ----------------------------------------------------------------------------------------

    def _reaches(self, way_of: way.Way) -> tuple[parts.Reach, ...]:
        backs: dict[str, list[parts.Return]] = {}
        for back in way_of.backs:
            flow = self._flow(back.run)
            backs.setdefault(back.start, []).append(
                parts.Return(run=back.run, target=back.target, over=back.over, flow=flow)
            )
        placed: set[str] = set()
        made = [self._stops(stretch, placed, n) for n, stretch in enumerate(way_of.stretches)]
        reaches: list[parts.Reach] = []
        for stretch, stops in zip(way_of.stretches, made, strict=True):
            marked = tuple(
                dataclasses.replace(
                    stop,
                    returns=tuple(backs.pop(stop.id, ())) if stop.flag == "" else (),
                    letters=tuple(self.letters.pop(stop.id, ())) if stop.flag == "" else stop.letters,
                )
                for stop in stops
            )
            reaches.append(along.reach(stretch, marked, self.layout, self.excess, self.facility))
        for reach in reaches:
            for stop in reach.stops:
                if stop.kind not in ("flag", *parts.PLACES) and stop.assumed:
                    self.missing.append(parts.Missing(thing=stop.id, name=stop.name, word="elevation"))
        return tuple(reaches)

    def _flow(self, run: str) -> float | None:
        flows: Mapping[str, float] = getattr(self.layout, "flows", {})
        known = self.facility.runs.get(run)
        return flows.get(run, known.flow if known else None)

    def _stops(self, stretch: tuple[way.Step, ...], placed: set[str], n: int) -> list[parts.Stop]:
        stops: list[parts.Stop] = []
        first = stretch[0]
        if first.source in self.facility.vessels and self._mine(first.source) and first.source not in placed:
            placed.add(first.source)
            stops.append(self.place(self.facility.vessels[first.source]))
        else:
            letter = LETTERS[sum(len(row) for row in self.letters.values()) % len(LETTERS)]
            known = self._mine(first.source)
            if known:
                self.letters.setdefault(first.start, []).append(letter)
            stops.append(self._flag(first.start, "from" if known else "outside", letter if known else ""))
        for step in stretch:
            stops += [self.machine(part) for part in step.parts]
            if step.end in self.facility.vessels and self._mine(step.end) and step.end not in placed:
                placed.add(step.end)
                stops.append(self.place(self.facility.vessels[step.end]))
            else:
                mine = self._mine(step.end) or step.end != step.target
                stops.append(self._flag(step.end, "to" if mine else "outside", ""))
        return stops

    def _mine(self, place: str) -> bool:
        vessel = self.facility.vessels.get(place)
        return vessel is not None and vessel.system == self.system and self.surface(vessel) is not None

    def _flag(self, id: str, flag: str, letter: str) -> parts.Stop:
        """Where the way is drawn on elsewhere, at the height of the thing it comes from or goes to."""
        vessel = self.facility.vessels.get(id)
        if vessel is not None:
            surface = self.surface(vessel)
            z = surface + pipes.OVER if surface is not None and flag == "to" else surface
            name = vessel.name
        else:
            machine = self.machine(id) if self.facility.find(id) else None
            z, name = (machine.elevation, machine.tag or machine.name) if machine else (None, "")
        return parts.Stop(
            id=id, kind="flag", name=name, elevation=z, flag=flag, letters=(letter,) if letter else ()
        )

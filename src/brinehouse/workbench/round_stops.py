"""The rounds of a hall as screens: one quantity, one look at animals or one feeding after the other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from brinehouse import findings, glossary
from brinehouse.facility import model
from brinehouse.workbench import clock, mishaps

MADE = "round"  # the id of the round that is made where a facility names none
SIGNS = ("appetite", "behaviour", "breathing")
CHOICES: Mapping[str, tuple[str, ...]] = {
    "appetite": ("as usual", "less than usual", "none"),
    "behaviour": ("as usual", "listless", "hiding", "rubbing", "at the surface", "other"),
    "breathing": ("as usual", "faster than usual", "laboured"),
}
"""What can be answered with one tap; the first is what gives no cause to look again."""
EATEN = ("all", "most", "half", "little", "nothing")


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """One stop as one screen.

    Attributes
    ----------
    key : str
        Stable: the point or place, and what is asked: ``mangrove-low.oxygen``, ``mangrove.look``.
    kind : str
        ``reading``, ``observation`` or ``feeding``.
    at, place, point, place_name : str
        As the facility names it; the tank, sump, vessel or run; the point, where it is one; what people say.
    zone : Zone or None
        Where it lies.
    change : Zone or None
        The zone that is entered here and wants a foot bath or its own tools.
    quantity, instrument, basis : str
        Of a reading.
    look : tuple of str
        Of an observation.
    food, grams
        Of a feeding. [g]
    """

    key: str
    kind: str
    at: str
    place: str
    place_name: str
    point: str = ""
    zone: model.Zone | None = None
    change: model.Zone | None = None
    quantity: str = ""
    instrument: str = ""
    basis: str = ""
    look: tuple[str, ...] = ()
    animals: str = ""
    food: str = ""
    grams: float | None = None
    note: str = ""

    @property
    def title(self) -> str:
        """What stands over the screen: the place and what is asked there."""
        if self.kind == "reading":
            return f"{self.place_name}, {self.quantity}"
        return f"{self.place_name}, {'animals' if self.kind == 'observation' else 'feeding'}"


def rounds(facility: model.Facility) -> Mapping[str, model.Round]:
    """The rounds that the facility names, one without stops filled in; or one made from its tanks."""
    if not facility.rounds:
        return {MADE: model.Round(id=MADE, name="Round", stops=tuple(_stops(facility)), made=True)}
    return {
        name: whole
        if whole.stops
        else model.Round(
            id=name, name=whole.name, stops=tuple(_stops(facility)), at=whole.at, every=whole.every,
            within=whole.within, made=True, spot=whole.spot,
        )
        for name, whole in facility.rounds.items()
    }  # fmt: skip


def find(facility: model.Facility, name: str) -> model.Round:
    """The round of that id; refused where there is none."""
    found = rounds(facility).get(name)
    if found is None:
        raise mishaps.Refused(
            findings.Finding(
                code="round/unknown",
                level=findings.Level.STOP,
                text=f"This hall has no round '{name}'",
                hint="known: " + ", ".join(rounds(facility)),
            )
        )
    return found


def _stops(facility: model.Facility) -> Iterator[model.Stop]:
    """Every tank in use, from the cleanest zone on: its points with a quantity, or itself; its animals."""
    tanks = [tank for tank in facility.tanks.values() if _in_use(facility, tank.id)]
    tanks.sort(key=lambda tank: zone.order if (zone := facility.zone_of(tank.id)) else -1)
    for tank in tanks:
        points = [
            point
            for point in facility.points.values()
            if point.quantity and _in_use(facility, point.id) and facility.place(point.id) is tank
        ]
        yield from (model.Stop(at=point.id) for point in points)
        animals = facility.animals_at(tank.id)
        read = () if points else ("temperature",)
        if read or animals:
            yield model.Stop(at=tank.id, read=read, look=SIGNS if animals else ())


def _in_use(facility: model.Facility, name: str) -> bool:
    return facility.in_use(name, f"{clock.now():%Y-%m-%d}")


def screens(facility: model.Facility, whole: model.Round) -> Sequence[Screen]:
    """The screens of a round in walking order; what is retired is not asked for."""
    made: list[Screen] = []
    zone: model.Zone | None = None
    keys: dict[str, int] = {}
    for stop in whole.stops:
        if not _in_use(facility, stop.at):
            continue
        here = facility.zone_of(stop.at)
        change = (
            here if here is not None and here is not zone and (here.foot_bath or here.own_tools) else None
        )
        zone = here or zone
        for told in _asked(facility, stop):
            count = keys[told.key] = keys.get(told.key, 0) + 1
            key = told.key if count == 1 else f"{told.key}~{count}"
            made.append(replace(told, key=key, zone=here, change=change))
            change = None
    return made


def _asked(facility: model.Facility, stop: model.Stop) -> Iterator[Screen]:
    vessel, point = facility.place(stop.at), facility.points.get(stop.at)
    place = vessel.id if vessel is not None else (point.at if point is not None else stop.at)
    run = facility.runs.get(place)
    name = vessel.name if vessel is not None else (run.name if run is not None else place)
    common: dict[str, Any] = {"at": stop.at, "place": place, "place_name": name, "note": stop.note}
    common["point"] = point.id if point is not None else ""
    own = (point.quantity,) if point is not None and point.quantity else ()
    for quantity in stop.read or own:
        yield Screen(
            key=f"{stop.at}.{quantity.replace(' ', '-')}",
            kind="reading",
            quantity=quantity,
            instrument=_meter(facility, stop, point, quantity),
            basis=_basis(stop, quantity),
            **common,
        )
    animals = ", ".join(dict.fromkeys(one.species for one in facility.animals_at(stop.at)))
    if stop.look:
        yield Screen(key=f"{place}.look", kind="observation", look=stop.look, animals=animals, **common)
    if stop.feed:
        grams = None if stop.ration is None else round(stop.ration * 1000.0, 3)
        yield Screen(
            key=f"{place}.feed", kind="feeding", food=stop.feed, grams=grams, animals=animals, **common
        )


def _basis(stop: model.Stop, quantity: str) -> str:
    """What the stop says amounts are counted as, for a quantity that can be counted so."""
    word = glossary.quantity(quantity)
    return stop.basis if word is not None and stop.basis in word.basis else ""


def _meter(facility: model.Facility, stop: model.Stop, point: model.Point | None, quantity: str) -> str:
    """The meter that the stop names for it, else the point's own, else the only one there is."""
    named = [facility.instruments[name] for name in stop.instruments if name in facility.instruments]
    for meter in named:
        if quantity in meter.measures and _in_use(facility, meter.id):
            return meter.id
    if point is not None and point.instrument and point.quantity == quantity:
        return point.instrument
    able = [
        meter.id
        for meter in facility.instruments.values()
        if quantity in meter.measures and _in_use(facility, meter.id)
    ]
    return able[0] if len(able) == 1 else ""

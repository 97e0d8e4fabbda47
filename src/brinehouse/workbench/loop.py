"""The loop profile of a hall: its facility, stations and readings made into data that a face can draw."""

from __future__ import annotations

import dataclasses
import importlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from brinehouse import answers, findings, units
from brinehouse.facility import changing, model
from brinehouse.network.profile import building, parts
from brinehouse.network.profile import pressures as pressed
from brinehouse.science import barometer
from brinehouse.workbench import gas_sources, hall, investigation

Profile = parts.Profile
Reach = parts.Reach
Stop = parts.Stop
Line = parts.Line
Dot = parts.Dot
Station = parts.Station
Member = parts.Member
Animals = parts.Animals
Excess = parts.Excess
Height = parts.Height
Return = parts.Return
Missing = parts.Missing
GRAVITY = parts.GRAVITY
pressures = pressed.lines
OLD = timedelta(days=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    """One system as its sheet shows it.

    Attributes
    ----------
    profile : Profile
    then : Profile or None
        The same under a what-if.
    state : str
        ``pump`` where gas goes with one pump, ``air`` where a suction stands below air pressure, ``shallow``
        where animals stand above the gas line, ``deep`` where none do, ``unread``.
    pumps : tuple of str
        The pumps that `state` speaks of.
    worst : Stop or None
        The place that feels it most.
    """

    profile: parts.Profile
    then: parts.Profile | None = None
    state: str = "unread"
    pumps: tuple[str, ...] = ()
    worst: parts.Stop | None = None
    above: float | None = None

    @property
    def weight(self) -> tuple[int, float]:
        """What matters first stands first."""
        order = ("pump", "air", "shallow", "may be", "deep", "unread")
        return (0 if self.above is not None and self.above > 0 else 1, order.index(self.state))


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """All systems of a hall.

    Attributes
    ----------
    systems : tuple of System
        Those with a way to draw, or with more than one place.
    alone : tuple of Stop
        Tanks that no water joins to another.
    findings : tuple of Finding
        What the stations could not be told.
    met : tuple of Finding
        What a what-if met.
    barometer : float or None
        The usual pressure of the air at the hall's altitude. [Pa]
    said : tuple of str
        What a what-if changes, in words.
    asked : str
        The what-if as it was typed.
    foreseen : bool
        Whether the second gas line rests on what the water would then hold, not on today's readings.
    """

    systems: tuple[System, ...]
    alone: tuple[parts.Stop, ...] = ()
    findings: tuple[findings.Finding, ...] = ()
    said: tuple[str, ...] = ()
    met: tuple[findings.Finding, ...] = ()
    asked: str = ""
    foreseen: bool = False
    as_of: datetime | None = None
    barometer: float | None = None
    display: units.Display = field(default_factory=units.Display)

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "systems": [
                {
                    "state": one.state,
                    "pumps": list(one.pumps),
                    "worst": one.worst.id if one.worst else None,
                    "profile": dataclasses.asdict(one.profile),
                    "then": dataclasses.asdict(one.then) if one.then else None,
                }
                for one in self.systems
            ],
            "alone": [dataclasses.asdict(one) for one in self.alone],
            "findings": [finding.as_json() for finding in (*self.met, *self.findings)],
            "said": list(self.said),
            "as_of": self.as_of.isoformat() if self.as_of else None,
            "advice": "Advice, not a command.",
        }


_kept: dict[str, tuple[tuple[Any, ...], Look]] = {}


def look(
    place: hall.Hall,
    found: investigation.Investigation | None = None,
    *,
    what_if: str = "",
    name: str = "what-if",
    predicted: Mapping[str, parts.Excess] | None = None,
) -> Look:
    """The profiles as things stand; kept while neither logbook nor facility file has changed.

    Parameters
    ----------
    place : Hall
    found : Investigation, optional
        What is known of the gas; asked for where left out and anything was ever written down.
    what_if : str
        A list of changes; the profiles then carry the second lines.
    name : str
        What messages call that list.
    predicted : mapping, optional
        What the water would then hold, by place; as it was read today where nothing is known.
    """
    facility = place.facility
    written = hall.Hall.has_book(place.folder)
    if found is None and written:
        found = investigation.investigate(place)
    stamp = (facility.digest, place.book.head() if written else (), id(found))
    key = str(place.folder.resolve())
    known = _kept.get(key)
    if known is None or known[0] != stamp:
        known = (stamp, of(facility, excess_of(found), found))
        _kept[key] = known
    if not what_if.strip():
        return known[1]
    return changed(known[1], place, found, what_if, name, predicted or {})


def changed(
    today: Look,
    place: hall.Hall,
    found: investigation.Investigation | None,
    what_if: str,
    name: str,
    predicted: Mapping[str, parts.Excess],
) -> Look:
    """The same with what a list of changes would make of it laid beside."""
    made = changing.apply(place.file.read_text("utf-8"), changing.parse(what_if, name))
    if made.facility is None:
        return dataclasses.replace(today, met=made.findings, said=made.said, asked=what_if)
    held = excess_of(found)
    if predicted:  # a tap was read today: what it would show after the change nobody has worked out
        held = {**{id: one for id, one in held.items() if id in place.facility.vessels}, **predicted}
    then = of(made.facility, held, found)
    other = {one.profile.system: one.profile for one in then.systems}
    systems = tuple(dataclasses.replace(one, then=other.get(one.profile.system)) for one in today.systems)
    return dataclasses.replace(
        today, systems=systems, met=made.findings, said=made.said, asked=what_if, foreseen=bool(predicted)
    )


def sources(place: hall.Hall, what_if: str = "", name: str = "what-if") -> answers.Answer:
    """Where the gas of every system comes from, and what a list of changes would do to it; takes its time."""
    return gas_sources.survey(place, changing.parse(what_if, name) if what_if.strip() else None)


def foreseen(answer: answers.Answer | None, what_if: str, name: str = "what-if") -> dict[str, parts.Excess]:
    """What the water of each place would hold after a list of changes, as the sources have it."""
    changes = changing.parse(what_if, name) if what_if.strip() else None
    rows = next((one.rows for one in answer.tables if one.name == "what_ifs"), ()) if answer else ()
    titles = [str(row["change"]) for row in rows]
    if changes is None or not titles:
        return {}
    wanted = changes.title if changes.title in titles else titles[-1]
    made: dict[str, parts.Excess] = {}
    for row in rows:
        then = row["then"]
        span = then.interval()
        if row["change"] != wanted or then.value is None or span is None:
            continue
        value, low, high = (
            float(units.convert(one, then.unit, "Pa", "pressure")) for one in (then.value, *span)
        )
        made[str(row["place"])] = parts.Excess(value=value, low=low, high=high, basis="computed")
    return made


def of(
    facility: model.Facility,
    excess: Mapping[str, parts.Excess],
    found: investigation.Investigation | None = None,
) -> Look:
    """The profiles of a facility and of what its water holds."""
    layout, told = stations_of(facility)
    systems: list[System] = []
    alone: list[parts.Stop] = []
    for id in facility.systems:
        pump = _pump_of(found, id)
        profile = building.build(facility, id, layout, excess, blamed=pump)
        if profile.reaches or len(facility.systems[id].places) > 1:
            systems.append(_system(profile, pump))
        else:
            alone += [stop for stop in profile.alone if stop.kind == "tank"]
    return Look(
        systems=tuple(systems),
        alone=tuple(alone),
        findings=told,
        as_of=found.as_of if found else None,
        barometer=_air(facility),
        display=facility.shown,
    )


def _air(facility: model.Facility) -> float | None:
    """The usual pressure of the air at the hall, as good as any for a drawing."""
    if facility.altitude is None:
        return None
    return float(barometer.station_pressure_from_altitude(facility.altitude))


def stations_of(facility: model.Facility) -> tuple[Any, tuple[findings.Finding, ...]]:
    """The stations of every run, and what was said about them; none where they cannot be told."""
    try:
        plumbing = importlib.import_module("brinehouse.network.plumbing")
    except ImportError:
        return None, ()
    layout: Any = plumbing.stations(facility)
    return layout, tuple(getattr(layout, "findings", ()))


def excess_of(found: investigation.Investigation | None) -> dict[str, parts.Excess]:
    """The newest ΔP of every place and tap, meters put right."""
    budget = next((one for one in found.water.tables if one.name == "budget"), None) if found else None
    rows: Sequence[Mapping[str, Any]] = budget.rows if budget else ()
    made: dict[str, parts.Excess] = {}
    for row in rows:
        value = row.get("delta_p")
        if not isinstance(value, answers.Value) or value.value is None:
            continue
        low, high = value.interval() or (value.value, value.value)
        middle, low, high = (
            float(units.convert(one, value.unit, "Pa", "pressure")) for one in (value.value, low, high)
        )
        when = datetime.fromisoformat(str(row["measured"]))
        total = row.get("total_gas_pressure")
        known = total if isinstance(total, answers.Value) and total.value is not None else None
        span = known.interval() if known is not None else None
        made[str(row["place"])] = parts.Excess(
            value=middle,
            low=low,
            high=high,
            when=when.isoformat(),
            total=known.value if known is not None else None,
            total_half=(span[1] - span[0]) / 2 if span else None,
            old=found is not None and found.as_of is not None and found.as_of - when > OLD,
        )
    return made


def _pump_of(found: investigation.Investigation | None, system: str) -> str:
    """The pump that gas comes with, where the readings named one."""
    answer = found.changes.get(system) if found else None
    if answer is None or answer.state != "found":
        return ""
    return next((str(one.data["pump"]) for one in answer.findings if "pump" in one.data), "")


def _system(profile: parts.Profile, pump: str, then: parts.Profile | None = None) -> System:
    worst, above, state = None, None, "unread"
    for stop in profile.stops:
        for group in stop.animals:
            if group.above is not None and (above is None or group.above > above):
                worst, above = stop, group.above
                state = {"above": "shallow", "may be": "may be"}.get(group.state, "deep")
    low = tuple(one.id for stop in profile.stops for one in stop.members if one.running and one.air == "yes")
    pumps: tuple[str, ...] = ()
    if pump:
        state, pumps = "pump", (pump,)
    elif low and state in ("shallow", "may be"):
        state, pumps = "air", low
    return System(profile=profile, then=then, state=state, pumps=pumps, worst=worst, above=above)

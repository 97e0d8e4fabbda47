"""What stands around the water: readings where there are any, else the file, else a named assumption."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field

from brinehouse.engines.balance import question
from brinehouse.facility import model
from brinehouse.science import barometer

COMMON = "common practice, no source"
COLUMNS = ("packed column", "degasser", "contactor")
SKIMMERS = ("fractionator", "screen", "ozone")
HOLDERS = ("chiller", "heater")


@dataclass(frozen=True, slots=True, kw_only=True)
class Knob:
    """One assumed number: its value, its standard uncertainty, its unit, where it is from."""

    label: str
    value: float
    u: float
    unit: str
    source: str = COMMON
    least: float = 0.0


KNOBS: Mapping[str, Knob] = {
    "velocity": Knob(label="gas exchange at open surfaces", value=1.0, u=0.4, unit="m/day", least=0.05,
                     source="quiet to stirred tanks: 0.3 to 1.5 m/day (common practice, no source)"),
    "alone": Knob(label="gas exchange of a tank that stands alone, over that of its surface: its own air",
                  value=8.0, u=2.5, unit="times", least=1.0),
    "column": Knob(label="share of the way to balance in a column or degasser", value=0.7, u=0.1, unit="1",
                   source="a new column 0.82 to 0.84: Dawson and Marking (1986), Prog. Fish-Cult. 48:281; "
                   "taken lower for one in use (common practice, no source)"),
    "skim": Knob(label="share of the way to balance in a screen or fractionator", value=0.15, u=0.07,
                 unit="1"),
    "fall": Knob(label="share of the way to balance where water falls", value=0.45, u=0.12, unit="1"),
    "under": Knob(label="depth to which a fall carries bubbles", value=0.15, u=0.08, unit="m"),
    "pumps": Knob(label="share of the pumps' power that warms the water", value=0.85, u=0.07, unit="1",
                  source="all shaft power warms; shaft over electric power (common practice, no source)"),
    "room": Knob(label="temperature of the room", value=20.0, u=2.0, unit="\u00b0C", least=-20.0),
    "humidity": Knob(label="humidity of the room", value=0.6, u=0.1, unit="1"),
    "warmth": Knob(label="warmth through open surfaces, beside evaporation", value=10.0, u=4.0,
                   unit="W/m\u00b2/K", least=1.0),
    "air": Knob(label="carbon dioxide in the room's air", value=48.0, u=8.0, unit="Pa", least=30.0,
                source="some 480 \u00b5atm in a hall with fresh air (common practice, no source)"),
    "hold": Knob(label="temperature the chillers hold (and warm to, where no heater is drawn), over what the "
                 "tanks read or state", value=0.0, u=0.15, unit="K", least=-5.0),
    "cold": Knob(label="cold or warmth that a chiller or heater gives, over its stated power", value=1.0,
                 u=0.2, unit="times", least=0.1),
    "feed": Knob(label="feed, over what is told or assumed", value=1.0, u=0.15, unit="1"),
    "protein": Knob(label="protein in the feed", value=0.45, u=0.05, unit="1",
                    source="0.092 of it leaves as ammonia nitrogen, from memory; protein: common practice, "
                    "no source"),
    "activity": Knob(label="oxygen use of the animals, over that at rest", value=1.75, u=0.35, unit="1",
                     least=0.3,
                     source="at rest: Clarke and Johnston (1999); routine 1.5 to 2 times that, from memory"),
    "nitrify": Knob(label="nitrification on all surfaces", value=15.0, u=5.0, unit="1/day", least=0.5,
                    source="grown in, it holds ammonia below 0.1 mg/L (common practice, no source)"),
    "biofilter": Knob(label="ammonia taken at one pass of a biofilter", value=0.3, u=0.1, unit="1"),
    "exchange": Knob(label="water exchanged", value=1.0, u=0.3, unit="%/day", least=0.02),
    "alkalinity": Knob(label="alkalinity that dosing holds, where none was read", value=2.3, u=0.15,
                       unit="meq/L", least=0.2),
    "leak": Knob(label="air drawn in at pumps, over what the gas readings tell", value=1.0, u=0.3, unit="1",
                 source="fitted to gas readings: see gas sources"),
    "pressure": Knob(label="pressure of the air", value=101325.0, u=700.0, unit="Pa", least=50000.0),
}  # fmt: skip
"""What is assumed where nothing better is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What stands around the water of a hall.

    Attributes
    ----------
    knobs : mapping
        By name, as `KNOBS`.
    temperature, salinity, alkalinity : mapping
        Place to what was read, else to what the file states. [°C, -, meq/L]
    feed : mapping
        Place to feed. [kg/day]
    leaks : mapping
        Pump to air drawn in at its suction and dissolved. [mL of air at 0 °C and 1 atm per L of water]
    """

    knobs: Mapping[str, Knob]
    temperature: Mapping[str, float] = field(default_factory=dict[str, float])
    salinity: Mapping[str, float] = field(default_factory=dict[str, float])
    alkalinity: Mapping[str, float] = field(default_factory=dict[str, float])
    feed: Mapping[str, float] = field(default_factory=dict[str, float])
    leaks: Mapping[str, float] = field(default_factory=dict[str, float])

    def __getitem__(self, name: str) -> float:
        """The value of a knob."""
        return self.knobs[name].value

    def turned(self, name: str, value: float, u: float | None = None, source: str = "") -> Around:
        """The same with one knob set."""
        knob = self.knobs[name]
        told = dataclasses.replace(
            knob, value=value, u=knob.u if u is None else u, source=source or knob.source
        )
        return dataclasses.replace(self, knobs={**self.knobs, name: told})

    def shifted(self, name: str, sign: float) -> Around:
        """The same with one knob moved by its standard uncertainty, never past what can be."""
        knob = self.knobs[name]
        value = max(knob.value + sign * knob.u, knob.least)
        if knob.unit == "1" and knob.value < 1.0:
            value = min(value, 0.98)
        return dataclasses.replace(self, knobs={**self.knobs, name: dataclasses.replace(knob, value=value)})


def of(
    facility: model.Facility,
    known: Mapping[str, Mapping[str, question.Known]] | None = None,
    *,
    pressure: question.Known | None = None,
    feed: Mapping[str, float] | None = None,
    leaks: Mapping[str, float] | None = None,
    leak_doubt: float | None = None,
    column: float | None = None,
) -> Around:
    """What stands around the water of a facility.

    Parameters
    ----------
    facility : Facility
    known : mapping, optional
        Place to glossary word to its newest reading.
    pressure : Known, optional
        Station pressure as read. [Pa]
    feed : mapping, optional
        Place to feed as the logbook tells it; else 1 % of the animals' mass a day. [kg/day]
    leaks : mapping, optional
        Pump to air drawn in. [mL/L]
    leak_doubt : float, optional
        Its standard uncertainty as a share of it.
    column : float, optional
        How far columns go, as the gas readings tell it.
    """
    known = known or {}
    knobs = dict(KNOBS)
    knobs["pressure"] = _pressure(facility, pressure)
    for name, stated, u in (
        ("room", facility.room_temperature, 1.0),
        ("humidity", facility.room_humidity, 0.05),
    ):
        if stated is not None:
            knobs[name] = dataclasses.replace(
                knobs[name], value=stated, u=u, source="stated in the facility file"
            )
    if leak_doubt is not None:
        knobs["leak"] = dataclasses.replace(knobs["leak"], u=leak_doubt)
    if column is not None:
        source = "fitted to gas readings before and behind it"
        knobs["column"] = dataclasses.replace(knobs["column"], value=column, source=source)
    fed, knobs["feed"] = _fed(facility, feed or {})
    return Around(
        knobs=knobs,
        temperature=_read(facility, known, "temperature", "temperature"),
        salinity=_read(facility, known, "salinity", "salinity"),
        alkalinity=_read(facility, known, "alkalinity", ""),
        feed=fed,
        leaks=dict(leaks or {}),
    )


def _fed(facility: model.Facility, told: Mapping[str, float]) -> tuple[dict[str, float], Knob]:
    """Feed by place [kg/day], and how sure it is: as the logbook tells, as the file states, or by mass."""
    knob = KNOBS["feed"]
    if told:
        return dict(told), dataclasses.replace(knob, u=0.1, source="feedings of the logbook")
    stated = {one.id: one.feed for one in facility.places if one.feed is not None}
    fed = dict(stated)
    for group in facility.animals:
        if group.mass and group.at not in stated:
            fed[group.at] = fed.get(group.at, 0.0) + 0.01 * group.mass
    by_mass = "1 % of the animals' mass a day (common practice, no source)"
    if stated:
        source = "stated in the facility file" + ("" if len(fed) == len(stated) else f"; else {by_mass}")
        return fed, dataclasses.replace(knob, u=0.15, source=source)
    return fed, dataclasses.replace(knob, u=0.4, source=by_mass, least=0.05)


def _pressure(facility: model.Facility, read: question.Known | None) -> Knob:
    knob = KNOBS["pressure"]
    if read is not None:
        source = f"read with {read.instrument}" if read.instrument else "read"
        return dataclasses.replace(knob, value=read.value, u=read.u or 130.0, source=source)
    if facility.altitude is not None:
        value = float(barometer.station_pressure_from_altitude(facility.altitude))
        return dataclasses.replace(knob, value=value, source="standard atmosphere at the hall's altitude")
    return dataclasses.replace(knob, u=2000.0, source="sea level, for the file states no altitude")


def _read(
    facility: model.Facility, known: Mapping[str, Mapping[str, question.Known]], word: str, stated: str
) -> dict[str, float]:
    """What was read at each place, else stated for it, else what the rest of its system has."""
    found = {place: read[word].value for place, read in known.items() if word in read}
    if stated:
        for vessel in facility.places:
            told = getattr(vessel, stated)
            if vessel.id not in found and told is not None:
                found[vessel.id] = float(told)
    for system in facility.systems.values():
        mine = [found[place] for place in system.places if place in found]
        for place in system.places if mine else ():
            found.setdefault(place, sum(mine) / len(mine))
    return found

"""The limits courses are held against: the facility's own, and those that hold without anybody stating them.

No number is invented where the file states none: what cannot be told for that is said.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from brinehouse import findings
from brinehouse.engines.time_in_hand import question
from brinehouse.facility import model
from brinehouse.network.compartments import building
from brinehouse.science import constants, dissociation, nitrogen, seawater

LEAST_WATER = 0.1  # share of its usual water below which a place counts as run dry in any case
BARE = 0.25  # share of the usual water that uncovers animals whose depths nobody stated
COMMON = "common practice, no source"
PHYSICAL = "holds by itself: the place's own sizes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A quantity of courses: the glossary's word, the unit a limit is said in, how it is shown."""

    word: str
    label: str
    unit: str
    decimals: int
    matters: float
    """A difference that matters to animals, in `unit` (common practice, no source): for ranking margins."""


WORDS: Mapping[str, Word] = {
    "temperature": Word(word="temperature", label="temperature", unit="°C", decimals=1, matters=1.0),
    "salinity": Word(word="salinity", label="salinity", unit="PSU", decimals=1, matters=1.0),
    "oxygen": Word(word="oxygen", label="oxygen", unit="mg/L", decimals=2, matters=1.0),
    "oxygen_percent": Word(word="oxygen saturation", label="oxygen, of saturation", unit="%", decimals=0,
                           matters=15.0),
    "tgp": Word(word="total gas pressure", label="total gas pressure", unit="%", decimals=1, matters=1.0),
    "delta_p": Word(word="delta p", label="ΔP", unit="mmHg", decimals=0, matters=8.0),
    "ph": Word(word="pH", label="pH", unit="pH", decimals=2, matters=0.2),
    "co2": Word(word="carbon dioxide", label="carbon dioxide", unit="mg/L", decimals=2, matters=3.0),
    "tan": Word(word="ammonia", label="total ammonia", unit="mg/L", decimals=2, matters=0.5),
    "ammonia": Word(word="un-ionised ammonia", label="un-ionised ammonia", unit="mg/L", decimals=4,
                    matters=0.02),
    "nitrite": Word(word="nitrite", label="nitrite", unit="mg/L", decimals=2, matters=0.3),
    "nitrate": Word(word="nitrate", label="nitrate", unit="mg/L", decimals=0, matters=20.0),
    "alkalinity": Word(word="alkalinity", label="alkalinity", unit="meq/L", decimals=2, matters=0.4),
    "level": Word(word="", label="water", unit="m³", decimals=2, matters=0.2),
}  # fmt: skip
"""By names of `transients.tables.QUANTITIES`; what limits can be stated for."""

WANTED: Mapping[str, tuple[str, ...]] = {
    "oxygen": ("oxygen", "oxygen_percent"),
    "temperature": ("temperature",),
    "salinity": ("salinity",),
    "total gas pressure": ("tgp", "delta_p"),
    "pH or carbon dioxide": ("ph", "co2"),
    "ammonia": ("tan", "ammonia"),
}
"""What a plant should have limits for, and by which quantities."""

URGENT = ("oxygen", "temperature")
_SCALES = {"": "total", "total": "total", "NBS": "nbs", "seawater": "sws", "free": "free"}
_ION = {"tan": 14.0067 / 18.0385, "nitrite": 14.0067 / 46.0055, "nitrate": 14.0067 / 62.0049}  # N in the ion


def of_facility(facility: model.Facility, places: Sequence[str]) -> list[question.Line]:
    """The facility's act and watch limits at the places where they count.

    A limit for the whole hall or a system counts in tanks; one named for a place counts there.
    """
    return [
        line
        for place in places
        for quantity, word in WORDS.items()
        if word.word
        for band in ("act", "watch")
        for line in _lines(facility, place, quantity, band)
    ]


def _lines(facility: model.Facility, place: str, quantity: str, name: question.Band) -> list[question.Line]:
    word = WORDS[quantity]
    tank = facility.vessels[place].kind == "tank"
    for limit in facility.limits_for(word.word, place):
        band: model.Band | None = getattr(limit, name)
        if band is None or not (tank or limit.at == place) or limit.basis == "?":
            continue
        ends = ((band.low, False), (band.high, True))
        return [
            question.Line(
                place=place,
                quantity=quantity,
                value=as_nitrogen(quantity, end, limit.basis),
                unit=word.unit,
                upper=upper,
                band=name,
                text=f"{'above' if upper else 'below'} {_shown(word, end)}"
                + (f" as {limit.basis}" if limit.basis not in ("", "N") else ""),
                source=limit.source or "facility file",
            )
            for end, upper in ends
            if end is not None
        ]
    return []


def _shown(word: Word, value: float) -> str:
    unit = "" if word.unit in ("pH", "PSU") else f" {word.unit}"
    return f"{value:g}{unit}".replace("-", "−")


def as_nitrogen(quantity: str, value: float, basis: str) -> float:
    """A limit counted as nitrogen; pH on the total scale is left to `number`, with its basis lost here.

    >>> round(as_nitrogen("tan", 1.0, "NH3"), 4), as_nitrogen("oxygen", 4.5, "")
    (0.8224, 4.5)
    """
    if basis == "NH3":
        return float(nitrogen.nitrogen_from_ammonia(value))
    if basis == "ion":
        return value * _ION.get(quantity, 1.0)
    if quantity == "ph" and _SCALES.get(basis, "total") != "total":
        return float(dissociation.ph_between_scales(value, _SCALES[basis], "total", 25.0, 34.0))
    return value


def number(line: question.Line, temperature: float, salinity: float) -> float:
    """Where a line lies in the unit of the tables, for water of this temperature and salinity."""
    return line.value * per_unit(line.quantity, temperature, salinity)


def per_unit(quantity: str, temperature: float, salinity: float) -> float:
    """The tables' unit for one of the unit a line is said in: µmol/kg of mg/L of CO₂, of meq/L."""
    if quantity not in ("co2", "alkalinity"):
        return 1.0
    dense = float(seawater.density(temperature, min(max(salinity, 0.0), 42.0)))
    if quantity == "alkalinity":
        return 1e6 / dense
    return 1e6 / (constants.CARBON_DIOXIDE_MOLAR_MASS * dense)


# -- limits that hold by themselves ----------------------------------------------------------------------


def of_levels(
    facility: model.Facility, place: str, usual: float, rim: float, cut: float
) -> list[question.Line]:
    """The levels at which a place spills, lets its pumps run dry, or its animals lie bare.

    Parameters
    ----------
    facility : Facility
    place : str
    usual : float
        Its water in normal running. [m³]
    rim : float
        Its water when it runs over its rim, infinite where nobody told. [m³]
    cut : float
        Its water at which pumps that draw from it begin to fail, not a number where none does. [m³]
    """
    vessel = facility.vessels[place]
    found: list[question.Line] = []
    if usual < rim < math.inf:
        found.append(_level(place, rim, True, "spills", "over its rim"))
    if cut < usual:
        found.append(_level(place, cut, False, "dry", "down to where its pumps draw air"))
    if vessel.kind == "tank" or facility.animals_at(place):
        bare, said = _bare(facility, place, usual)
        found.append(_level(place, bare, False, "uncovered", said))
    return found


def _level(place: str, value: float, upper: bool, band: question.Band, said: str) -> question.Line:
    return question.Line(
        place=place, quantity="level", value=value, unit="m³", upper=upper, band=band,
        text=f"{said} ({value:.3g} m³)", source=PHYSICAL,
    )  # fmt: skip


def _bare(facility: model.Facility, place: str, usual: float) -> tuple[float, str]:
    """Water at which the last of the depths that animals use has fallen dry."""
    vessel = facility.vessels[place]
    deep = max((one.depth[1] for one in facility.animals_at(place) if one.depth), default=None)
    if deep is None:
        return BARE * usual, "down to a quarter of its water"
    left = usual - building.surface_of(vessel, usual) * deep
    return max(left, LEAST_WATER * usual), "below every depth its animals use"


# -- what is missing -------------------------------------------------------------------------------------


def missing(
    facility: model.Facility, places: Sequence[str], lines: Sequence[question.Line]
) -> list[findings.Finding]:
    """Quantities for which no limit is stated where animals live: the time cannot be told for them."""
    told = {(line.place, line.quantity) for line in lines if line.band == "act"}
    watched = [place for place in places if facility.vessels[place].kind == "tank"]
    found: list[findings.Finding] = []
    for what, quantities in WANTED.items():
        bare = [place for place in watched if not any((place, one) in told for one in quantities)]
        if bare:
            found.append(_no_limit(facility, what, quantities[0], bare, whole=len(bare) == len(watched)))
    return found


def _no_limit(
    facility: model.Facility, what: str, quantity: str, places: Sequence[str], whole: bool
) -> findings.Finding:
    where = "" if whole else " at " + ", ".join(facility.vessels[place].name for place in places)
    word = WORDS[quantity].word
    return findings.Finding(
        code="time/no-limit",
        level=findings.Level.ASK if what in URGENT else findings.Level.NOTE,
        text=f"The facility file states no act limit for {what}{where}: how long that lasts cannot be told.",
        hint=f'write [[limit]] with quantity = "{word}" and act = "..."; brinehouse invents no limit',
        data={"quantity": what, "places": list(places)},
    )

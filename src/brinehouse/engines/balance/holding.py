"""What adds to a quantity of a place and what takes from it, in a keeper's units, from the compartments."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from brinehouse.engines.balance import question
from brinehouse.facility import model
from brinehouse.network.compartments import model as compartments
from brinehouse.science import constants

COMMON = "common practice, no source"
GASES = ("oxygen", "nitrogen", "argon")
_HOURS = 24.0
_N = 14.0067  # g/mol of nitrogen as N
UNITS: Mapping[str, tuple[float, str]] = {
    "oxygen": (constants.OXYGEN_MOLAR_MASS * 1e-6 * _HOURS, "g/day"),
    "nitrogen": (constants.NITROGEN_MOLAR_MASS * 1e-6 * _HOURS, "g/day"),
    "argon": (constants.ARGON_MOLAR_MASS * 1e-6 * _HOURS, "g/day"),
    "tan": (_N * 1e-6 * _HOURS, "g/day"),
    "nitrite": (_N * 1e-6 * _HOURS, "g/day"),
    "nitrate": (_N * 1e-6 * _HOURS, "g/day"),
    "carbon": (1e-6 * _HOURS, "mol/day"),
    "alkalinity": (1e-6 * _HOURS, "eq/day"),
}
"""By species: from µmol in an hour to the unit shown."""

NAMES: Mapping[str, str] = {
    "dosing": "dosing, to hold it",
    "animals and feed": "feed",
    "from ammonia": "nitrification",
    "from nitrite": "nitrification",
    "air carried under": "water that falls in",
}
SOURCES: Mapping[str, str] = {
    "evaporation": "ASHRAE form for pools",
    "surface": "two-film exchange at the surface",
    "animals": "Clarke and Johnston (1999)",
    "nitrification": "U.S. EPA (1975), from memory",
    "feed": "Timmons and Ebeling, from memory",
    "lamps": COMMON,
    "dosing, to hold it": COMMON,
}
_CHANGED, _DRAINED, _TOPPED = "water from change ", "water from drain ", "water from top-up "


def terms(
    made: compartments.Model, facility: model.Facility, place: str, species: str
) -> Sequence[question.Term]:
    """What adds to a species at a place at rest and what takes from it, largest first."""
    volume = float(made.plant.transport.volumes[made.places.index(place)])
    if species == "temperature":
        factor, unit = made.plant.heat_capacity / 3600.0, "W"
    elif species in UNITS:
        factor, unit = UNITS[species]
    else:
        return ()
    per = factor * made.plant.density * volume
    summed: dict[str, float] = {}
    for term in made.limits_what(place, species):
        name = _named(term.name, facility, species)
        summed[name] = summed.get(name, 0.0) + term.rate * per
    told = [
        question.Term(name=name, amount=amount, unit=unit, source=SOURCES.get(name, ""))
        for name, amount in summed.items()
        if abs(amount) > 1e-9
    ]
    return sorted(told, key=lambda one: -abs(one.amount))


def _named(name: str, facility: model.Facility, species: str) -> str:
    if name.startswith((_CHANGED, _DRAINED)):
        return "exchanged water"
    if name.startswith(_TOPPED):
        return "evaporation" if species == "salinity" else "topped-up water"
    if species in GASES and name in {*facility.duties, *facility.pumps}:
        return f"air at {name}"
    return NAMES.get(name, name)

"""From where courses start: the measured state over the balance, or the hour of the day that is worst."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.compartments import plant as plants
from brinehouse.network.compartments import water as waters
from brinehouse.network.transients import tables as given
from brinehouse.science import carbonate, constants, gases, nitrogen, seawater, total_gas

Floats = NDArray[np.float64]
AT = plants.AT
_STRAIGHT = {"tan": "tan", "nitrite": "nitrite", "nitrate": "nitrate"}


def measured(
    places: Sequence[str], x: Floats, known: Mapping[str, Mapping[str, float]], pressure: float
) -> Floats:
    """The water of places with what was read of it put over what was worked out.

    Parameters
    ----------
    places : sequence of str
        In the order of the columns.
    x : ndarray
        (species, places)
    known : mapping
        Place to quantity to its reading, in the units of `transients.tables.QUANTITIES`.
    pressure : float
        Of the air. [Pa]

    Notes
    -----
    Temperature and salinity first; gases keep their share of saturation, total gas is given to nitrogen and
    argon, pH to inorganic carbon.
    """
    out = x.copy()
    for at, place in enumerate(places):
        read = known.get(place)
        if read:
            out[:, at] = _one(x[:, at], read, pressure)
    return out


def _one(x: Floats, read: Mapping[str, float], pressure: float) -> Floats:
    out = x.copy()
    out[0] = read.get("temperature", out[0])
    out[1] = read.get("salinity", out[1])
    was, now = (float(x[0]), float(x[1])), (float(out[0]), float(out[1]))
    for name, full in (
        ("oxygen", gases.oxygen_at_saturation),
        ("nitrogen", gases.nitrogen_at_saturation),
        ("argon", gases.argon_at_saturation),
    ):
        out[AT[name]] *= float(full(*now)) / float(full(*was))
    _oxygen(out, read, now, pressure)
    _inert(out, read, now, pressure)
    grams = float(seawater.density(*now)) * 1e-6 * nitrogen.NITROGEN_ATOM
    for quantity, species in _STRAIGHT.items():
        if quantity in read:
            out[AT[species]] = max(read[quantity], 0.0) / grams
    if "alkalinity" in read:
        out[AT["alkalinity"]] = read["alkalinity"]
    if "ph" in read and out[AT["alkalinity"]] > 10.0:
        system = carbonate.from_ph(out[AT["alkalinity"]], read["ph"], *now)
        out[AT["carbon"]] = float(system.carbon)
    return out


def _oxygen(out: Floats, read: Mapping[str, float], now: tuple[float, float], pressure: float) -> None:
    if "oxygen" in read:
        told = gases.milligrams_per_litre_to_micromoles_per_kilogram(read["oxygen"], *now)
        out[AT["oxygen"]] = float(told)
    elif "oxygen_percent" in read:
        dry = (pressure - float(gases.vapour_pressure(*now))) * constants.OXYGEN_IN_AIR
        out[AT["oxygen"]] = float(gases.oxygen_concentration(read["oxygen_percent"] / 100.0 * dry, *now))


def _inert(out: Floats, read: Mapping[str, float], now: tuple[float, float], pressure: float) -> None:
    """Nitrogen and argon, so that the total gas pressure is what was read."""
    if "tgp" in read:
        above = float(total_gas.delta_p_from_percent(read["tgp"], pressure))
    elif "delta_p" in read:
        above = read["delta_p"] * constants.MMHG
    else:
        return
    here = waters.read(["here"], out[:, None], np.ones(1), pressure)["here"]
    dry = constants.ATM - float(gases.vapour_pressure(*now))
    inert = dry * (
        constants.NITROGEN_IN_AIR * out[AT["nitrogen"]] / float(gases.nitrogen_at_saturation(*now))
        + constants.ARGON_IN_AIR * out[AT["argon"]] / float(gases.argon_at_saturation(*now))
    )
    wanted = inert + above - here.delta_p
    if wanted > 0.0:
        out[AT["nitrogen"]] *= wanted / inert
        out[AT["argon"]] *= wanted / inert


def values(structure: given.Structure, x: Floats, volume: Floats, pressure: Floats) -> Floats:
    """What each limit's quantity is in states along a course: (times, limits), in the tables' units.

    Parameters
    ----------
    structure : Structure
    x : ndarray
        (times, species, places)
    volume : ndarray
        (times, places)
    pressure : ndarray
        Of the air, at each place. [Pa]
    """
    out = np.empty((len(x), len(structure.limit_place)))
    for place in np.unique(structure.limit_place):
        mine = np.flatnonzero(structure.limit_place == place)
        told = [given.QUANTITIES[structure.limit_quantity[column]] for column in mine]
        out[:, mine] = along(told, x[:, :, place], volume[:, place], float(pressure[place]))
    return out


def along(quantities: Sequence[str], x: Floats, volume: Floats, pressure: float) -> Floats:
    """Quantities of one place along a course: (times, quantities); x is (times, species)."""
    names = [str(at) for at in range(len(x))]
    rows = list(waters.read(names, x.T, volume, pressure).values())
    return np.array([[_quantity(row, one) for one in quantities] for row in rows])


def _quantity(row: waters.Water, quantity: str) -> float:
    if quantity == "level":
        return row.volume
    if quantity == "oxygen":
        return row.oxygen_mg
    if quantity == "delta_p":
        return row.delta_p / constants.MMHG
    return float(getattr(row, quantity))


def distance(structure: given.Structure, found: Floats) -> Floats:
    """How far values are on the good side of their limits."""
    sign = np.where(structure.limit_upper, 1.0, -1.0)
    return sign * (structure.limit_value - found)

"""The water of a place as a keeper reads it, from what the equations carry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.compartments import plant as plants
from brinehouse.science import carbonate, gases, nitrogen, seawater, total_gas
from brinehouse.science.constants import ARGON_IN_AIR, ATM, NITROGEN_IN_AIR

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """One place. Not a number where there is none to give: what has no rest, or carbon without alkalinity.

    ``oxygen``, ``nitrogen``, ``argon``, ``carbon``, ``alkalinity``, ``co2`` in µmol/kg; ``oxygen_mg`` mg/L;
    ``tan``, ``nitrite``, ``nitrate`` mg/L as N; ``ammonia`` mg/L as NH3-N; ``tracer`` g/m³; ``tgp``,
    ``oxygen_percent``, ``n2_ar`` % of local air; ``delta_p`` Pa; ``ph`` total scale; ``volume`` m³.
    """

    temperature: float
    salinity: float
    volume: float
    oxygen: float
    oxygen_mg: float
    oxygen_percent: float
    nitrogen: float
    argon: float
    n2_ar: float
    tgp: float
    delta_p: float
    carbon: float
    alkalinity: float
    ph: float
    co2: float
    tan: float
    ammonia: float
    nitrite: float
    nitrate: float
    tracer: float


def read(
    places: Sequence[str],
    x: Floats,
    volumes: Floats,
    station_pressure: float,
    *,
    worked: Floats | None = None,
) -> Mapping[str, Water]:
    """Water at every place.

    Parameters
    ----------
    places : sequence of str
        In the order of the columns.
    x, volumes : ndarray
        (species, places) as `plant.SPECIES`, NaN where there is no rest; and m³.
    station_pressure : float
        Of the air. [Pa]
    worked : ndarray
        What to take for temperature and salinity where `x` has none.
    """
    at = plants.AT
    warm, salt = x[0], x[1]
    if worked is not None:
        warm, salt = np.where(np.isnan(warm), worked[0], warm), np.where(np.isnan(salt), worked[1], salt)
    salt = np.maximum(salt, 0.0)
    pressure_oxygen = gases.oxygen_partial_pressure(x[at["oxygen"]], warm, salt)
    dry = ATM - gases.vapour_pressure(warm, salt)
    pressure_inert = dry * (
        NITROGEN_IN_AIR * x[at["nitrogen"]] / gases.nitrogen_at_saturation(warm, salt)
        + ARGON_IN_AIR * x[at["argon"]] / gases.argon_at_saturation(warm, salt)
    )
    known, acid, free = _acid(x, warm, salt)
    pressure_acid = np.nan_to_num(free * 1e-6 / gases.carbon_dioxide_solubility(warm, salt)) * ATM
    total = total_gas.total_gas_pressure(pressure_oxygen, pressure_inert, warm, salt, pressure_acid)
    above = total_gas.delta_p(total, station_pressure)
    litres = seawater.density(warm, salt) * 1e-6  # kg/L, and µmol to mol
    grams = litres * nitrogen.NITROGEN_ATOM
    share = nitrogen.ammonia_share(np.where(known, acid, 8.0), warm, salt, scale="total")
    share = np.where(known, share, np.nan)
    mg = gases.micromoles_per_kilogram_to_milligrams_per_litre(x[at["oxygen"]], warm, salt)
    columns = {
        "temperature": x[0], "salinity": x[1], "volume": volumes, "oxygen": x[at["oxygen"]], "oxygen_mg": mg,
        "oxygen_percent": total_gas.oxygen_percent(pressure_oxygen, station_pressure, warm, salt),
        "nitrogen": x[at["nitrogen"]], "argon": x[at["argon"]],
        "n2_ar": total_gas.nitrogen_percent(
            pressure_inert, station_pressure, warm, salt, NITROGEN_IN_AIR + ARGON_IN_AIR
        ),
        "tgp": total_gas.total_gas_percent(above, station_pressure), "delta_p": above,
        "carbon": x[at["carbon"]], "alkalinity": x[at["alkalinity"]], "ph": acid, "co2": free,
        "tan": x[at["tan"]] * grams, "ammonia": x[at["tan"]] * grams * share,
        "nitrite": x[at["nitrite"]] * grams, "nitrate": x[at["nitrate"]] * grams, "tracer": x[at["tracer"]],
    }  # fmt: skip
    return {
        place: Water(**{name: float(column[index]) for name, column in columns.items()})
        for index, place in enumerate(places)
    }


def _acid(x: Floats, warm: Floats, salt: Floats) -> tuple[NDArray[np.bool_], Floats, Floats]:
    """Whether a pH can be told at each place; the pH; and carbon dioxide in solution."""
    at = plants.AT
    known = (
        np.isfinite(x[at["alkalinity"]] + x[at["carbon"]])
        & (x[at["alkalinity"]] > 1.0)
        & (x[at["carbon"]] > 1.0)
    )
    charge = np.where(known, x[at["alkalinity"]], 2300.0)
    carbon = np.where(known, x[at["carbon"]], 2000.0)
    acid = np.where(known, carbonate.ph_of(charge, carbon, warm, salt), np.nan)
    free = np.where(known, carbonate.co2_of(charge, carbon, warm, salt), np.nan)
    return known, acid, free

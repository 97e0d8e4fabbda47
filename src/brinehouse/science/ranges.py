"""Where each relation was measured or fitted, and which inputs lie outside of that."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science.constants import ATM, MMHG

Limits = tuple[float, float]

_WATER: Mapping[str, Limits] = {"temperature": (-2.0, 40.0), "salinity": (0.0, 42.0)}
_INERT: Mapping[str, Limits] = {"temperature": (0.0, 30.0), "salinity": (0.0, 35.0)}
_VAPOUR: Mapping[str, Limits] = {"temperature": (0.0, 40.0), "salinity": (0.0, 40.0)}
_WEISS: Mapping[str, Limits] = {"temperature": (-1.0, 40.0), "salinity": (0.0, 40.0)}
_PRESSURE: Mapping[str, Limits] = {"station_pressure": (500.0 * MMHG, 800.0 * MMHG)}
_CARBONIC: Mapping[str, Limits] = {"temperature": (2.0, 35.0), "salinity": (19.0, 43.0)}
_ROOM: Mapping[str, Limits] = {
    "water_temperature": (0.0, 40.0),
    "room_temperature": (0.0, 40.0),
    "salinity": (0.0, 40.0),
    "humidity": (0.0, 1.0),
    "air_speed": (0.0, 0.7),
}

# Relation, then argument, then lowest and highest value of the source. Both ends belong to the range.
RANGES: dict[str, Mapping[str, Limits]] = {
    # seawater
    "density": _WATER,
    "weight_per_metre": _WATER,
    "viscosity": {"temperature": (0.0, 180.0), "salinity": (0.0, 149.3)},
    "viscosity_millero_1974": {"temperature": (5.0, 25.0), "salinity": (0.0, 40.0)},
    "heat_capacity": _WATER,
    "salinity_from_conductivity": {"temperature": (-2.0, 35.0), "conductivity": (0.0005, 7.5)},
    "conductivity_from_salinity": {"temperature": (-2.0, 35.0), "salinity": (0.0, 42.0)},
    "salinity_from_specific_gravity": {"temperature": (-2.0, 40.0), "reading": (0.994, 1.035)},
    "specific_gravity_from_salinity": _WATER,
    "salt_mass": _WATER,
    "grams_per_litre_from_salinity": _WATER,
    "salinity_from_grams_per_litre": {"temperature": (-2.0, 40.0), "salt": (0.0, 43.6)},
    # gases
    "oxygen_at_saturation": _WATER,
    "nitrogen_at_saturation": _INERT,
    "argon_at_saturation": _INERT,
    "vapour_pressure": _VAPOUR,
    "carbon_dioxide_solubility": _WEISS,
    "fugacity_factor": {"temperature": (-1.0, 40.0), "pressure": (0.0, 2.0 * ATM)},
    "oxygen_partial_pressure": _VAPOUR,
    "oxygen_concentration": _VAPOUR,
    "nitrogen_partial_pressure": _INERT,
    "nitrogen_concentration": _INERT,
    "argon_partial_pressure": _INERT,
    "micromoles_per_kilogram_to_milligrams_per_litre": _WATER,
    "milligrams_per_litre_to_micromoles_per_kilogram": _WATER,
    # gases_by_author
    "oxygen_at_saturation_combined_fit": _WATER,
    "oxygen_volume_at_saturation": _WATER,
    "oxygen_at_saturation_benson_krause_1984": {"temperature": (0.0, 40.0), "salinity": (0.0, 40.0)},
    "oxygen_bunsen_weiss_1970": _WEISS,
    "nitrogen_bunsen_weiss_1970": _WEISS,
    "argon_bunsen_weiss_1970": _WEISS,
    "carbon_dioxide_at_saturation_weiss_price_1980": _WEISS,
    "vapour_pressure_dickson_2007": _VAPOUR,
    "vapour_pressure_ambaum_2020": {"temperature": (0.0, 40.0)},
    # total_gas: the vapour in it sets the limits
    "total_gas_pressure": _VAPOUR,
    "nitrogen_argon_pressure": {**_VAPOUR, **_PRESSURE},
    "oxygen_percent": {**_VAPOUR, **_PRESSURE},
    "oxygen_percent_at_sea_level": _WATER,
    "nitrogen_percent": {**_VAPOUR, **_PRESSURE},
    "total_gas_percent": _PRESSURE,
    "total_gas_percent_without_vapour": {**_VAPOUR, **_PRESSURE},
    "uncompensated_delta_p": _WATER,
    "compensation_depth": _WATER,
    # barometer
    "station_pressure_from_altitude": {"altitude": (-500.0, 11000.0)},
    "station_pressure_from_altitude_colt_1984": {"altitude": (0.0, 1000.0)},
    "station_pressure_from_sea_level_pressure": {
        "altitude": (-500.0, 3500.0),
        "sea_level_pressure": (87000.0, 108500.0),
    },
    # exchange and excess
    "solubility_ratio": _INERT,
    "nitrogen_to_oxygen_rise": {**_INERT, "dissolved_fraction": (0.0, 1.0)},
    "air_leak_rise": {**_INERT, **_PRESSURE, "dissolved_fraction": (0.0, 1.0)},
    "heating_rise": {"before": (0.0, 30.0), "after": (0.0, 30.0), "salinity": (0.0, 35.0), **_PRESSURE},
    "bubble_rise": {**_VAPOUR, **_PRESSURE},
    "vacuum_equilibrium_percent": {**_VAPOUR, **_PRESSURE},
    "barometer_rise": {
        **_VAPOUR,
        "before": _PRESSURE["station_pressure"],
        "after": _PRESSURE["station_pressure"],
    },
    "oxygen_addition_rise": {**_VAPOUR, **_PRESSURE},
    "schmidt": {"temperature": (-2.0, 40.0)},
    "transfer_ratio": {"temperature": (-2.0, 40.0)},
    "bubble_pressure": {**_VAPOUR, **_PRESSURE, "fraction": (0.0, 1.0)},
    # dissociation and carbonate: carbonic acid sets the limits
    "logarithms": _CARBONIC,
    "constants": _CARBONIC,
    "activity_factor": {"salinity": (20.0, 40.0)},
    "ph_between_scales": {"temperature": (0.0, 45.0), "salinity": (5.0, 45.0)},
    "from_ph": _CARBONIC,
    "from_carbon": _CARBONIC,
    "ph_of": _CARBONIC,
    "co2_of": _CARBONIC,
    "carbon_at_balance": _CARBONIC,
    # nitrogen
    "ammonium_clegg_whitfield": {"temperature": (-2.0, 40.0), "salinity": (0.0, 40.0)},
    "ammonium_yao_millero": {"temperature": (0.0, 40.0), "salinity": (0.0, 45.0)},
    "ammonium_johansson_wedborg": {"temperature": (5.0, 25.0), "salinity": (0.0, 35.0)},
    "ammonium_bell": {"temperature": (5.0, 40.0), "salinity": (20.0, 45.0)},
    "ammonium_hampson": {"temperature": (0.0, 35.0), "salinity": (10.0, 30.0)},
    "ammonium_emerson": {"temperature": (0.0, 30.0), "salinity": (0.0, 0.5)},
    "ammonia_share": {"temperature": (-2.0, 40.0), "salinity": (0.0, 40.0)},
    "ammonia_share_bounds": {"temperature": (0.0, 40.0), "salinity": (20.0, 40.0)},
    # respiration and heat
    "oxygen_use": {"temperature": (0.0, 30.0)},
    "heat_capacity_of_water": _WATER,
    "warming_time": _WATER,
    "warming_rate": _WATER,
    "chiller_duty": {"before": (-2.0, 40.0), "after": (-2.0, 40.0), "salinity": (0.0, 42.0)},
    "latent_heat": {"temperature": (0.0, 40.0)},
    "vapour_in_air": {"temperature": (0.0, 40.0), "humidity": (0.0, 1.0)},
    "evaporation": _ROOM,
    "surface_heat": _ROOM,
}


def outside(name: str, **arguments: ArrayLike) -> NDArray[np.bool_]:
    """Mark the rows whose inputs lie outside the range of a relation.

    The value is returned all the same by the relation itself: nothing is clamped. Engines turn a mark
    into the finding ``science/out-of-range``.

    Parameters
    ----------
    name : str
        The relation, a key of `RANGES`.
    **arguments : array_like
        Inputs by their names; those without a limit are left aside.

    Returns
    -------
    ndarray
        True where any input is outside, broadcast over all given. NaN is missing, not outside.

    Examples
    --------
    >>> outside("oxygen_at_saturation", temperature=[25.0, 45.0], salinity=35.0).tolist()
    [False, True]
    """
    if name not in RANGES:
        raise KeyError(f"no range is known for {name!r}; RANGES lists {len(RANGES)} relations")
    limits = RANGES[name]
    shape = np.broadcast_shapes(*(np.shape(value) for value in arguments.values()))
    marks = np.zeros(shape, dtype=np.bool_)
    for argument, value in arguments.items():
        if argument in limits:
            low, high = limits[argument]
            given = np.asarray(value, dtype=np.float64)
            marks = marks | (given < low) | (given > high)
    return np.asarray(marks)

"""Bubbles under water: what gas they hold at depth, how far they bring it, gas dissolved by pressure."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import gases, seawater

Array = NDArray[np.float64]

RISING = 0.5  # mean depth of a bubble over the depth it was carried to; common practice, no source


def _float(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def bubble_pressure(
    fraction: ArrayLike,
    station_pressure: ArrayLike,
    depth: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
) -> Array:
    """Pressure of one gas in a bubble at a depth: what the water round it tends to.

    Parameters
    ----------
    fraction : array_like
        Share of the gas in the dry gas of the bubble. [-]
    station_pressure : array_like
        Pressure of the air at the place. [Pa]
    depth : array_like
        Depth of the bubble below the surface; of a rising one its mean depth (see `RISING`). [m]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        Partial pressure of the gas. [Pa]

    Notes
    -----
    Range of `gases.vapour_pressure`. The pressure of surface tension is left out: it counts below a tenth of
    a millimetre. In air bubbles oxygen and nitrogen rise by the same percentage.

    References
    ----------
    .. [1] Dalton's law; Weiss and Price (1980), Mar. Chem. 8:347-359, eq. 10 (vapour).

    Examples
    --------
    >>> air = bubble_pressure(0.20946, 101325.0, 0.0, 25.0, 35.0)
    >>> float(bubble_pressure(0.20946, 101325.0, 1.0, 25.0, 35.0) / air)
    1.1022
    """
    water = seawater.weight_per_metre(temperature, salinity) * _float(depth)
    dry = _float(station_pressure) + water - gases.vapour_pressure(temperature, salinity)
    return np.asarray(_float(fraction) * dry)


def capacity_ratio(
    gas_flow: ArrayLike, pressure: ArrayLike, water_flow: ArrayLike, solubility: ArrayLike
) -> Array:
    """What the bubbles can carry of a gas over what the water can take.

    Parameters
    ----------
    gas_flow : array_like
        All gas in the bubbles. [mol/s]
    pressure : array_like
        Pressure inside them, absolute. [Pa]
    water_flow : array_like
        Water they meet. [kg/s]
    solubility : array_like
        How much of the gas the water holds for its pressure. [µmol/kg/Pa]

    Returns
    -------
    ndarray
        Ratio; large where the bubbles hardly change. [-]

    Notes
    -----
    A definition; no range. As `exchange.contactor_effectiveness` means it.

    References
    ----------
    .. [1] Kays and London (1984), Compact heat exchangers, 3rd ed. (from memory).

    Examples
    --------
    >>> float(capacity_ratio(0.1, 111000.0, 10.0, 0.010))
    9.009
    """
    carried = _float(gas_flow) / _float(pressure)
    return np.asarray(carried / (_float(water_flow) * _float(solubility) * 1e-6))


def bubble_effectiveness(transfer_units: ArrayLike, capacity_ratio: ArrayLike = np.inf) -> Array:
    """How far bubbles that travel with the water bring it towards the gas they hold.

    Parameters
    ----------
    transfer_units : array_like
        Number of transfer units: coefficient times time of contact. [-]
    capacity_ratio : array_like
        What the bubbles can carry over what the water can take; endless for plentiful gas. [-]

    Returns
    -------
    ndarray
        Share of the way from inlet to the bubbles' first pressure. [-]

    Notes
    -----
    No range: the closed form for parallel flow, eta = (1 - exp(-NTU (1 + 1/lambda)))/(1 + 1/lambda). It never
    passes lambda/(1 + lambda), for the bubbles give up what the water takes.

    References
    ----------
    .. [1] Kays and London (1984), Compact heat exchangers, 3rd ed. (from memory).

    Examples
    --------
    >>> float(bubble_effectiveness(1.0)), float(bubble_effectiveness(9.0, 1.0))
    (0.632, 0.5)
    """
    with np.errstate(divide="ignore"):
        both = 1.0 + 1.0 / _float(capacity_ratio)
    return np.asarray(-np.expm1(-_float(transfer_units) * both) / both)


class Dissolved(NamedTuple):
    """Gas that a dissolver puts into water and what it lets go."""

    outlet: Array
    """Gas in the water that leaves. [µmol/kg]"""
    taken: Array
    """Gas taken up; negative where it comes out of the water. [mol/s]"""
    lost: Array
    """Gas supplied and not taken up: it leaves as bubbles. [mol/s]"""


def pressurised_outlet(
    inlet: ArrayLike,
    equilibrium: ArrayLike,
    effectiveness: ArrayLike,
    water_flow: ArrayLike,
    supply: ArrayLike,
) -> Dissolved:
    """Water that leaves a vessel in which gas dissolves under pressure.

    Parameters
    ----------
    inlet : array_like
        Gas in the water that comes in. [µmol/kg]
    equilibrium : array_like
        What the water would hold under the vessel's gas, such as
        ``gases.oxygen_concentration(fraction * (pressure - vapour), ...)``. [µmol/kg]
    effectiveness : array_like
        Share of the way to it that the vessel goes. [-]
    water_flow : array_like
        Water through it. [kg/s]
    supply : array_like
        The gas fed to it. [mol/s]

    Returns
    -------
    Dissolved
        Gas leaving in the water, gas taken up and gas lost. [µmol/kg, mol/s, mol/s]

    Notes
    -----
    No range: a balance. No more is taken up than is supplied. Water that leaves above its balance with the
    air is supersaturated as soon as the pressure falls; other gases in the vessel need a call each.

    References
    ----------
    .. [1] Henry's law and conservation of mass.

    Examples
    --------
    >>> made = pressurised_outlet(200.0, 3000.0, 0.5, 10.0, 0.02)
    >>> float(made.outlet), float(made.taken), float(made.lost)
    (1600.0, 0.014, 0.006)
    """
    before, flow, given = _float(inlet), _float(water_flow), _float(supply)
    wanted = flow * _float(effectiveness) * (_float(equilibrium) - before) * 1e-6
    taken = np.minimum(wanted, given)
    with np.errstate(invalid="ignore", divide="ignore"):
        return Dissolved(
            np.asarray(before + taken / flow * 1e6), np.asarray(taken), np.asarray(given - taken)
        )

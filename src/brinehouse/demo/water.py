"""What the demo's water holds: pressures of single gases to and from the figures a meter shows.

Another set of relations than the ones that explain the readings: Bunsen coefficients after Weiss (1970,
Deep-Sea Research 17, 721-735), vapour after Buck (1981; the form of his 1996 manual), both from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

OXYGEN_IN_AIR = 0.2095
INERT_IN_AIR = 0.7901  # nitrogen and argon of dry air
MG_PER_LITRE = (
    1.42903 / 0.760
)  # mg of oxygen in a litre, for each mmHg and each L/L/atm of Bunsen coefficient

_BUNSEN = {
    "oxygen": (-58.3877, 85.8079, 23.8439, -0.034892, 0.015568, -0.0019387),
    "nitrogen": (-59.6274, 85.7661, 24.3696, -0.051580, 0.026329, -0.0037252),
}


def bunsen(gas: str, temperature: Floats | float, salinity: Floats | float) -> Floats:
    """Litres of gas (0 °C, 1 atm) in a litre of water under one atmosphere of that gas [L/L/atm]."""
    a1, a2, a3, b1, b2, b3 = _BUNSEN[gas]
    warm = (np.asarray(temperature, dtype=float) + 273.15) / 100.0
    fresh = a1 + a2 / warm + a3 * np.log(warm)
    return np.exp(fresh + np.asarray(salinity, dtype=float) * (b1 + b2 * warm + b3 * warm * warm))


def vapour(temperature: Floats | float, salinity: Floats | float) -> Floats:
    """Water vapour over the water [mmHg]."""
    t = np.asarray(temperature, dtype=float)
    fresh = 6.1121 * np.exp((18.678 - t / 234.5) * t / (257.14 + t)) * 0.750062
    return fresh * (1.0 - 0.000537 * np.asarray(salinity, dtype=float))


def dry(pressure: Floats | float, temperature: Floats | float, salinity: Floats | float) -> Floats:
    """What is left of the air's pressure for gases other than vapour [mmHg]."""
    return np.asarray(pressure, dtype=float) - vapour(temperature, salinity)


def oxygen_mg(
    pressure_oxygen: Floats | float, temperature: Floats | float, salinity: Floats | float
) -> Floats:
    """Oxygen's own pressure [mmHg] as mg/L at a salinity: the water's, or the one a meter was told."""
    return np.asarray(pressure_oxygen, dtype=float) * bunsen("oxygen", temperature, salinity) * MG_PER_LITRE


def air_shares(fraction_dissolved: float, temperature: float, salinity: float) -> tuple[float, float]:
    """How a rise of gas pressure from air taken in splits into oxygen and inert gas.

    Air that dissolves whole brings gases as they stand in the air, and the less soluble one then presses
    harder; air that only comes to balance with its bubbles raises both alike.

    Returns
    -------
    tuple of float
        Oxygen's and the inert gases' share of the rise; they sum to one. [-]
    """
    whole_o = OXYGEN_IN_AIR / float(bunsen("oxygen", temperature, salinity))
    whole_n = INERT_IN_AIR / float(bunsen("nitrogen", temperature, salinity))
    # argon is as soluble as oxygen and one part in 84 of the inert gases: 1 % less than nitrogen alone
    whole_n *= 0.9935
    oxygen = fraction_dissolved * whole_o / (whole_o + whole_n) + (
        1.0 - fraction_dissolved
    ) * OXYGEN_IN_AIR / (OXYGEN_IN_AIR + INERT_IN_AIR)
    return oxygen, 1.0 - oxygen

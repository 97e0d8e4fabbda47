"""How much oxygen animals use and what carbon dioxide they give, from mass and the water's warmth."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science.constants import ZERO_CELSIUS

Array = NDArray[np.float64]

# Clarke and Johnston (1999): ln(mmol/h) of a 50 g fish is 15.7 - 5020/T, and goes with mass to the 0.80.
LEVEL, SLOPE = 15.7, 5020.0
EXPONENT = 0.80
COMMON_LEVEL = -5.43  # ln(mmol/h) at 1 g over all fish measured, each at its own temperature
REFERENCE_MASS = 50.0  # g
PER_SECOND = 1e-3 / 3600.0  # mol/s for each mmol/h
# How far above resting; all from memory.
RESTING = 1.0
ROUTINE = 1.75  # swimming about: 1.5 to 2
AFTER_FEEDING = 2.5  # up to 2 to 3, for hours
RESPIRATORY_QUOTIENT = 0.9  # from memory; 1.0 on carbohydrate, 0.7 on fat
WITHIN_SPECIES_Q10 = 2.40  # Clarke and Johnston (1999), median of what one species does when warmed
SPREAD = 2.0  # one species lies between half and twice `oxygen_use`; common practice, no source
TELEOSTS = "bony fish"  # the only group behind `oxygen_use`: 69 species, no shark or ray among them
FEED_OXYGEN = 0.4  # kg/kg; 0.25 to 0.5 for the fish alone, up to 1 with the filter; from memory


def _float(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def oxygen_use(mass: ArrayLike, temperature: ArrayLike, *, activity: ArrayLike = RESTING) -> Array:
    """Oxygen that one bony fish uses.

    Parameters
    ----------
    mass : array_like
        Mass of the animal. [kg]
    temperature : array_like
        Water temperature it lives at. [°C]
    activity : array_like
        Use over that at rest: `RESTING`, `ROUTINE`, `AFTER_FEEDING` or a figure of one's own. [-]

    Returns
    -------
    ndarray
        Oxygen used by one animal. [mol/s]

    Notes
    -----
    0 to 30 °C; 69 species of bony fish, so a single species may lie at half or twice the value. There is no
    shark or ray among them: for these the value is only an order of magnitude. The temperature is
    that the species lives at; for warming one animal see `oxygen_use_warmed`. What activity adds is from
    memory.

    References
    ----------
    .. [1] Clarke and Johnston (1999), J. Anim. Ecol. 68:893-905.

    Examples
    --------
    >>> round(float(oxygen_use(0.050, 15.0)) * 3600.0 * 31.9988 * 1000.0, 2)  # mg/h
    5.72
    """
    grams = _float(mass) * 1000.0
    with np.errstate(invalid="ignore", divide="ignore"):
        standard = np.exp(LEVEL - SLOPE / (_float(temperature) + ZERO_CELSIUS))
        return np.asarray(PER_SECOND * standard * (grams / REFERENCE_MASS) ** EXPONENT * _float(activity))


def oxygen_use_common(mass: ArrayLike) -> Array:
    """Oxygen that one bony fish uses at rest, whatever its temperature: the line through all of them.

    Parameters
    ----------
    mass : array_like
        Mass of the animal. [kg]

    Returns
    -------
    ndarray
        Oxygen used by one animal. [mol/s]

    Notes
    -----
    No range given in what was read (the abstract). It runs through cold and warm fish alike and answers to
    about 6 °C of `oxygen_use`; use that where the temperature is known.

    References
    ----------
    .. [1] Clarke and Johnston (1999), J. Anim. Ecol. 68:893-905, abstract.

    Examples
    --------
    >>> float(oxygen_use_common(0.100)) / PER_SECOND
    0.17449
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(PER_SECOND * np.exp(COMMON_LEVEL + EXPONENT * np.log(_float(mass) * 1000.0)))


def oxygen_use_warmed(
    oxygen: ArrayLike, before: ArrayLike, after: ArrayLike, q10: float = WITHIN_SPECIES_Q10
) -> Array:
    """Oxygen that an animal uses at another temperature than the one it was measured at.

    Parameters
    ----------
    oxygen : array_like
        Oxygen used at the first temperature. [mol/s]
    before : array_like
        First temperature. [°C]
    after : array_like
        Second temperature. [°C]
    q10 : float
        Growth for ten degrees. [-]

    Returns
    -------
    ndarray
        Oxygen used at the second temperature. [mol/s]

    Notes
    -----
    No range given. 2.40 is the median within species; between species that live warmer it is 1.83.

    References
    ----------
    .. [1] Clarke and Johnston (1999), J. Anim. Ecol. 68:893-905.

    Examples
    --------
    >>> float(oxygen_use_warmed(1.0, 15.0, 25.0))
    2.4
    """
    return np.asarray(_float(oxygen) * q10 ** ((_float(after) - _float(before)) / 10.0))


def oxygen_from_feed(feed: ArrayLike, share: float = FEED_OXYGEN) -> Array:
    """Oxygen that fish use for what they were fed.

    Parameters
    ----------
    feed : array_like
        Feed given; a rate gives a rate. [kg]
    share : float
        Oxygen for each kilogram of feed. [-]

    Returns
    -------
    ndarray
        Oxygen used. [kg]

    Notes
    -----
    No range published: 0.25 to 0.5 for fish, up to 1 with the filter's share; common practice, from memory.

    References
    ----------
    .. [1] Timmons and Ebeling, Recirculating aquaculture (from memory).

    Examples
    --------
    >>> float(oxygen_from_feed(10.0))
    4.0
    """
    return np.asarray(_float(feed) * share)


def co2_from_oxygen(oxygen: ArrayLike, quotient: ArrayLike = RESPIRATORY_QUOTIENT) -> Array:
    """Carbon dioxide that animals give for the oxygen they use.

    Parameters
    ----------
    oxygen : array_like
        Oxygen used; a rate gives a rate. [mol]
    quotient : array_like
        Respiratory quotient. [-]

    Returns
    -------
    ndarray
        Carbon dioxide given. [mol]

    Notes
    -----
    No range: a definition of the quotient. By mass it is 1.375 kg for each kilogram at a quotient of one.

    References
    ----------
    .. [1] The quotient 0.9 is common practice, from memory.

    Examples
    --------
    >>> float(co2_from_oxygen(2.0))
    1.8
    """
    return np.asarray(_float(oxygen) * _float(quotient))

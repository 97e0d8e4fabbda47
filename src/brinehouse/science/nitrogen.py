"""Ammonia and what becomes of it: the un-ionised share on a stated pH scale, feed, nitrification."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science import dissociation
from brinehouse.science.constants import CARBON_DIOXIDE_MOLAR_MASS, OXYGEN_MOLAR_MASS, ZERO_CELSIUS

Array = NDArray[np.float64]

NITROGEN_ATOM = 14.0067  # g/mol
AMMONIA_MOLAR_MASS = 17.0305  # g/mol
CALCIUM_CARBONATE_HALF = 50.0434  # g of CaCO3 for each mole of charge
NITRIFIER_MASS = 113.114  # g/mol, C5H7O2N
FEED_TO_AMMONIA = 0.092  # 0.16 × 0.80 × 0.80 × 0.90; common practice, from memory
FEED_TO_AMMONIA_CLOSED = 0.144  # 0.16 × 0.90, zero exchange (shrimp); read in public code


def _float(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def _kelvin(temperature: ArrayLike) -> Array:
    return np.asarray(_float(temperature) + ZERO_CELSIUS)


def _salt(salinity: ArrayLike) -> Array:
    return np.maximum(_float(salinity), 0.0)


def ammonium_clegg_whitfield(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Ammonium's pKa in seawater, total scale, after Clegg and Whitfield.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        pKa for concentrations per kilogram of seawater, total scale. [-]

    Notes
    -----
    -2 to 40 °C, salinity 0 to 40. The paper's equation 18 is per kilogram of water; here it is carried to
    seawater by 1 - 0.001005 S, which adds 0.0155 at salinity 35. Code that leaves this out tells 3.5 % more
    ammonia. Below salinity 0 the roots are held at 0.

    References
    ----------
    .. [1] Clegg and Whitfield (1995), Geochim. Cosmochim. Acta 59:2403-2421, eq. 18.

    Examples
    --------
    >>> float(ammonium_clegg_whitfield(25.0, 35.0))
    9.2458
    """
    kelvin, salt = _kelvin(temperature), _salt(salinity)
    inverse, warm, root = 1.0 / kelvin, np.sqrt(kelvin), np.sqrt(salt)
    power = 9.244605 - 2729.33 * (1.0 / 298.15 - inverse)
    power = power + (0.04203362 - 11.24742 * inverse) * np.sqrt(root)
    power = power + (-13.6416 + 1.176949 * warm - 0.02860785 * kelvin + 545.4834 * inverse) * root
    cubed = -0.1462507 + 0.0090226468 * warm - 0.0001471361 * kelvin + 10.5425 * inverse
    power = power + cubed * root * salt
    power = power + (0.004669309 - 0.0001691742 * warm - 0.5677934 * inverse) * salt * salt
    power = power + (-2.354039e-5 + 0.009698623 * inverse) * salt * salt * root
    return np.asarray(power - np.log10(1.0 - dissociation.SALT_SHARE * salt))


def ammonium_yao_millero(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Ammonium's pKa in seawater, seawater scale, after Yao and Millero.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        pKa, seawater scale. [-]

    Notes
    -----
    0 to 40 °C, salinity 0 to 45 (from memory).

    References
    ----------
    .. [1] Yao and Millero (1995), Aquat. Geochem. 1:53-88.

    Examples
    --------
    >>> float(ammonium_yao_millero(25.0, 35.0))
    9.2562
    """
    kelvin, salt = _kelvin(temperature), _salt(salinity)
    logarithm = -6285.33 / kelvin + 0.0001635 * kelvin - 0.25444
    logarithm = logarithm + (0.46532 - 123.7184 / kelvin) * np.sqrt(salt)
    logarithm = logarithm + (-0.01992 + 3.17556 / kelvin) * salt
    return np.asarray(-logarithm / dissociation.LN10)


def ammonium_johansson_wedborg(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Ammonium's pKa in seawater, total scale, after Johansson and Wedborg.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        pKa, total scale. [-]

    Notes
    -----
    5 to 25 °C, salinity 0 to 35; coefficients, range and scale are from memory.

    References
    ----------
    .. [1] Johansson and Wedborg (1980), J. Solution Chem. 9:37-44 (from memory).

    Examples
    --------
    >>> float(ammonium_johansson_wedborg(25.0, 35.0))
    9.2586
    """
    return np.asarray(-0.467 + 0.00113 * _float(salinity) + 2887.9 / _kelvin(temperature))


def ammonium_bell(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Ammonium's pKa for a pH as dilute buffers give it, after Bell and others.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        pKa, taken for the nbs scale. [-]

    Notes
    -----
    5 to 40 °C, salinity 20 to 45 (from memory). The corrected fit of the measurements of Khoo, Culberson and
    Bates (1977), whose own printed expression is wrong by up to 500 % and is left out here. Tables of
    un-ionised ammonia for a pH electrode in dilute buffers (Bower and Bidwell 1978) lie within 0.01 of it.

    References
    ----------
    .. [1] Bell, Johnson, Jickells and Liss (2007), Environ. Chem. 4:183-186, corrigendum 5:258 (2008), eq. 3.

    Examples
    --------
    >>> float(ammonium_bell(25.0, 35.0))
    9.3609
    """
    return np.asarray(10.0423 - 0.0315536 * _float(temperature) + 0.003071 * _float(salinity))


def ammonium_hampson(temperature: ArrayLike, salinity: ArrayLike) -> Array:
    """Ammonium's pKa for a pH as dilute buffers give it, the form of the saltwater criteria of 1989.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    ndarray
        pKa, taken for the nbs scale. [-]

    Notes
    -----
    0 to 35 °C, salinity 10 to 30, the reach of the criteria's tables (from memory). Gives 6 % more ammonia
    than `ammonium_bell` at 25 °C.

    References
    ----------
    .. [1] Hampson (1977), J. Mar. Biol. Assoc. UK 57, and U.S. EPA (1989), 440/5-88-004 (both from memory).

    Examples
    --------
    >>> float(ammonium_hampson(25.0, 35.0))
    9.3241
    """
    kelvin, salt = _kelvin(temperature), _float(salinity)
    ions = 19.9273 * salt / (1000.0 - 1.005109 * salt)
    return np.asarray(9.245 + 0.116 * ions + 0.0324 * (298.0 - kelvin) + 0.0415 / kelvin)


def ammonium_emerson(temperature: ArrayLike, salinity: ArrayLike = 0.0) -> Array:
    """Ammonium's pKa in fresh water, after Emerson and others.

    Parameters
    ----------
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity: it lends only its shape, and salt is outside the range. [-]

    Returns
    -------
    ndarray
        pKa in fresh water, where the scales of pH fall together. [-]

    Notes
    -----
    0 to 30 °C, fresh water (from memory). The slope is 2729.92; one public package prints 2727.92, which
    makes 1.5 % more ammonia.

    References
    ----------
    .. [1] Emerson, Russo, Lund and Thurston (1975), J. Fish. Res. Board Can. 32:2379-2383 (from memory).

    Examples
    --------
    >>> float(ammonium_emerson(25.0))
    9.2464
    """
    shape = 0.0 * _float(salinity)
    return np.asarray(0.09018 + 2729.92 / _kelvin(temperature) + shape)


# Author, then the relation and the scale of pH that it belongs to; fresh stands for any scale in fresh water.
AUTHORS: dict[str, tuple[Callable[[ArrayLike, ArrayLike], Array], str]] = {
    "clegg-whitfield": (ammonium_clegg_whitfield, "total"),
    "yao-millero": (ammonium_yao_millero, "sws"),
    "johansson-wedborg": (ammonium_johansson_wedborg, "total"),
    "bell": (ammonium_bell, "nbs"),
    "hampson": (ammonium_hampson, "nbs"),
    "emerson": (ammonium_emerson, "fresh"),
}


def ammonia_share(
    ph: ArrayLike,
    temperature: ArrayLike,
    salinity: ArrayLike,
    *,
    scale: str,
    author: str = "clegg-whitfield",
) -> Array:
    """Share of all ammonia that is un-ionised and harms.

    Parameters
    ----------
    ph : array_like
        pH on the scale `scale`. [-]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]
    scale : str
        Scale of `ph`: total, free, sws or nbs. There is none to fall back on. [-]
    author : str
        Whose pKa, a name of `AUTHORS`. [-]

    Returns
    -------
    ndarray
        Un-ionised over all ammonia, by moles. [-]

    Notes
    -----
    Range of the author's pKa and of `dissociation.ph_between_scales`, for the pH is first carried to the
    scale of the pKa. Taking a pH from dilute buffers for one on the total scale tells about 37 % more
    ammonia than there is. Where the scale is not known see `ammonia_share_bounds`.

    References
    ----------
    .. [1] That of the author's function; Clegg and Whitfield (1995), Geochim. Cosmochim. Acta 59:2403-2421.

    Examples
    --------
    >>> float(ammonia_share(8.0, 25.0, 35.0, scale="total"))
    0.05372
    >>> float(ammonia_share(8.0, 25.0, 35.0, scale="nbs"))
    0.03976
    """
    if author not in AUTHORS:
        raise ValueError(f"{author!r} is not an author of a pKa; write one of {', '.join(AUTHORS)}")
    if scale not in dissociation.SCALES:
        raise ValueError(
            f"the share needs the scale of the pH, and {scale!r} is none; "
            f"write one of {', '.join(dissociation.SCALES)}"
        )
    relation, own = AUTHORS[author]
    acid = _float(ph)
    if own not in ("fresh", scale):
        acid = dissociation.ph_between_scales(acid, scale, own, temperature, salinity)
    with np.errstate(over="ignore"):
        return np.asarray(1.0 / (1.0 + 10.0 ** (relation(temperature, salinity) - acid)))


class Bounds(NamedTuple):
    """The least and the most something can be."""

    low: Array
    high: Array


def ammonia_share_bounds(ph: ArrayLike, temperature: ArrayLike, salinity: ArrayLike) -> Bounds:
    """Share of un-ionised ammonia where nobody wrote down the scale of the pH.

    Parameters
    ----------
    ph : array_like
        pH on an unknown scale. [-]
    temperature : array_like
        Water temperature, ITS-90. [°C]
    salinity : array_like
        Practical salinity. [-]

    Returns
    -------
    Bounds
        Least and most over the four scales. [-]

    Notes
    -----
    Range of `ammonia_share`; the ends are about 37 % apart in the ocean's water.

    References
    ----------
    .. [1] Clegg and Whitfield (1995), Geochim. Cosmochim. Acta 59:2403-2421.

    Examples
    --------
    >>> [float(end) for end in ammonia_share_bounds(8.0, 25.0, 35.0)]
    [0.0398, 0.0549]
    """
    shares = [ammonia_share(ph, temperature, salinity, scale=scale) for scale in dissociation.SCALES]
    return Bounds(np.minimum.reduce(shares), np.maximum.reduce(shares))


def ammonia_from_nitrogen(nitrogen: ArrayLike) -> Array:
    """Ammonia by its own mass, from the mass of nitrogen in it.

    Parameters
    ----------
    nitrogen : array_like
        Ammonia as nitrogen, NH3-N. [mg/L]

    Returns
    -------
    ndarray
        Ammonia as NH3. [mg/L]

    Notes
    -----
    A definition: 17.0305/14.0067.

    References
    ----------
    .. [1] IUPAC standard atomic weights.

    Examples
    --------
    >>> float(ammonia_from_nitrogen(1.0))
    1.2159
    """
    return np.asarray(_float(nitrogen) * (AMMONIA_MOLAR_MASS / NITROGEN_ATOM))


def nitrogen_from_ammonia(ammonia: ArrayLike) -> Array:
    """Mass of nitrogen in ammonia; undoes `ammonia_from_nitrogen`.

    Parameters
    ----------
    ammonia : array_like
        Ammonia as NH3. [mg/L]

    Returns
    -------
    ndarray
        Ammonia as nitrogen, NH3-N. [mg/L]

    Notes
    -----
    A definition.

    References
    ----------
    .. [1] IUPAC standard atomic weights.

    Examples
    --------
    >>> float(nitrogen_from_ammonia(1.0))
    0.8224
    """
    return np.asarray(_float(ammonia) * (NITROGEN_ATOM / AMMONIA_MOLAR_MASS))


def tan_from_feed(feed: ArrayLike, protein: ArrayLike, share: float = FEED_TO_AMMONIA) -> Array:
    """Ammonia nitrogen that a feeding brings into the water.

    Parameters
    ----------
    feed : array_like
        Feed given, as fed. [kg]
    protein : array_like
        Share of protein in it. [-]
    share : float
        Ammonia nitrogen for each kilogram of protein. [-]

    Returns
    -------
    ndarray
        Total ammonia nitrogen; a rate where `feed` is one. [kg]

    Notes
    -----
    No range published. 0.092 is common practice from memory (16 % nitrogen in protein, four fifths eaten and
    kept in the water, four fifths of that excreted, nine tenths as ammonia); `FEED_TO_AMMONIA_CLOSED`, 0.144,
    is used for shrimp without water exchange, where what is not eaten decays in the tank.

    References
    ----------
    .. [1] Timmons and Ebeling, Recirculating aquaculture (from memory).

    Examples
    --------
    >>> float(tan_from_feed(10.0, 0.45))
    0.414
    """
    return np.asarray(_float(feed) * _float(protein) * share)


class Nitrification(NamedTuple):
    """What the oxidation of ammonia to nitrate takes and makes, in moles as the ammonia was."""

    oxygen: Array
    """Oxygen taken. [mol]"""
    alkalinity: Array
    """Alkalinity taken, in moles of charge. [mol]"""
    carbon: Array
    """Inorganic carbon taken into new bacteria. [mol]"""
    carbon_dioxide: Array
    """Carbon dioxide made, out of the bidissociation. [mol]"""
    nitrate: Array
    """Nitrate made. [mol]"""
    bacteria: Array
    """New bacteria, C5H7O2N. [mol]"""


def nitrification(tan_removed: ArrayLike, *, synthesis: bool = True) -> Nitrification:
    """What nitrification of an amount of ammonia takes from the water and gives to it.

    Parameters
    ----------
    tan_removed : array_like
        Ammonium taken away; a rate gives rates. [mol]
    synthesis : bool
        Whether bacteria grow on it. [-]

    Returns
    -------
    Nitrification
        Oxygen, alkalinity, carbon, carbon dioxide, nitrate and bacteria. [mol]

    Notes
    -----
    No range: stoichiometry. With growth NH4+ + 1.83 O2 + 1.97 HCO3- -> 0.0244 C5H7O2N + 0.976 NO3- + 2.90 H2O
    + 1.86 CO2; its printed coefficients close carbon to 0.012 of a mole, so the carbon in the bacteria is
    taken as bicarbonate less carbon dioxide. Without growth NH4+ + 2 O2 -> NO3- + 2 H+ + H2O.

    References
    ----------
    .. [1] U.S. EPA (1975), Process design manual for nitrogen control (form from memory).

    Examples
    --------
    >>> made = nitrification(1.0)
    >>> float(made.oxygen), float(made.alkalinity), float(made.nitrate)
    (1.83, 1.97, 0.976)
    """
    removed = _float(tan_removed)
    parts = (1.83, 1.97, 0.11, 1.86, 0.976, 0.0244) if synthesis else (2.0, 2.0, 0.0, 2.0, 1.0, 0.0)
    return Nitrification(*(np.asarray(removed * part) for part in parts))


class NitrificationByMass(NamedTuple):
    """As `Nitrification`, in kilograms as the trade writes them."""

    oxygen: Array
    """Oxygen taken. [kg]"""
    alkalinity: Array
    """Alkalinity taken, as calcium dissociation. [kg]"""
    carbon_dioxide: Array
    """Carbon dioxide made. [kg]"""
    nitrate_nitrogen: Array
    """Nitrate made, as nitrogen. [kg]"""
    bacteria: Array
    """New bacteria, as dry organic matter. [kg]"""


def nitrification_by_mass(nitrogen: ArrayLike, *, synthesis: bool = True) -> NitrificationByMass:
    """As `nitrification`, by mass.

    Parameters
    ----------
    nitrogen : array_like
        Ammonia nitrogen taken away; a rate gives rates. [kg]
    synthesis : bool
        Whether bacteria grow on it. [-]

    Returns
    -------
    NitrificationByMass
        Oxygen, alkalinity as calcium carbonate, carbon dioxide, nitrate nitrogen and bacteria. [kg]

    Notes
    -----
    As `nitrification`.

    References
    ----------
    .. [1] U.S. EPA (1975), Process design manual for nitrogen control (form from memory).

    Examples
    --------
    >>> made = nitrification_by_mass(1.0)
    >>> float(made.oxygen), float(made.alkalinity), float(made.carbon_dioxide)
    (4.18, 7.04, 5.84)
    """
    made = nitrification(_float(nitrogen) / NITROGEN_ATOM, synthesis=synthesis)
    return NitrificationByMass(
        np.asarray(made.oxygen * OXYGEN_MOLAR_MASS),
        np.asarray(made.alkalinity * CALCIUM_CARBONATE_HALF),
        np.asarray(made.carbon_dioxide * CARBON_DIOXIDE_MOLAR_MASS),
        np.asarray(made.nitrate * NITROGEN_ATOM),
        np.asarray(made.bacteria * NITRIFIER_MASS),
    )

"""What temperature and salinity decide, quick to follow: each constant with its slopes at a water nearby.

The logarithm of every constant is expanded to second order about a site's own water, anew whenever that has
moved (`HELD`), and its exponential to fourth. Amounts are in µmol/kg throughout, acids' constants alike.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients.kernel import compiling
from brinehouse.science import dissociation, gases, respiration, seawater
from brinehouse.science.constants import ATM, IPTS68_PER_ITS90, ZERO_CELSIUS
from brinehouse.science.exchange import THETA

Floats = NDArray[np.float64]

# Rows of a table of constants.
OXYGEN, NITROGEN, ARGON, ACID = 0, 1, 2, 3  # held by a pascal of its own in dry air [µmol/kg/Pa]
VAPOUR = 4  # [Pa]
FASTER, BREATH = 5, 6  # THETA**(T - 20), exp(-SLOPE / T)
FIRST, BOTH, BORIC, WATER, SULPHATE, FLUORIDE, FREE = 7, 8, 9, 10, 11, 12, 13
STAGED = 14  # those above serve rates, those below only limits
AMMONIUM, DENSITY = 14, 15
MANY = 16
HELD = 0.25  # K, and salinity at 35: how far water may be from where its constants were expanded
CLOSE = 1e-4  # of the logarithm of hydrogen: the last turn of a search moves less, and leaves its square
STEP = 0.02  # of the differences that give slopes, in K and salinity

_LN10 = dissociation.LN10
_BORON = dissociation.BORON["lee"] / 35.0 * 1e6
_SULPHATE = 0.14 / 96.062 / dissociation.CHLORINITY * 1e6
_FLUORIDE = 0.000067 / 18.998 / dissociation.CHLORINITY * 1e6
_LN_THETA = math.log(THETA)
_O2, _O2_SALT, _O2_SQUARED = gases.OXYGEN_WARMTH, gases.OXYGEN_SALT, gases.OXYGEN_SALT_SQUARED
_N2, _N2_SALT = gases.NITROGEN_WARMTH, gases.NITROGEN_SALT
_AR, _AR_SALT = gases.ARGON_WARMTH, gases.ARGON_SALT
_VAPOUR, _CO2, _CO2_SALT = gases.VAPOUR, gases.CARBON_DIOXIDE, gases.CARBON_DIOXIDE_SALT
_FIRST, _SECOND = dissociation.FIRST, dissociation.SECOND
_SHARE = dissociation.SALT_SHARE
_BREATH = respiration.SLOPE
_D_WATER, _D_SALT, _D_ROOT, _D_SQUARED = (
    seawater.WATER, seawater.SALT, seawater.SALT_ROOT, seawater.SALT_SQUARED,
)  # fmt: skip
_ZERO, _ITS, _ATM = ZERO_CELSIUS, IPTS68_PER_ITS90, ATM


@compiling.inner
def gas_logarithms(warm: float, salt: float, out: Floats) -> None:
    """Of what a pascal of dry air holds, of vapour, and of what grows with warmth."""
    kelvin = warm + _ZERO
    hundred = kelvin * 0.01
    vapour = _VAPOUR[0] + _VAPOUR[1] / hundred + _VAPOUR[2] * math.log(hundred) + _VAPOUR[3] * salt
    vapour += math.log(_ATM)
    dry = math.log(_ATM - math.exp(vapour))
    t = math.log((298.15 - warm * _ITS) / (_ZERO + warm * _ITS))
    a, b = _O2, _O2_SALT
    out[OXYGEN] = a[0] + t * (a[1] + t * (a[2] + t * (a[3] + t * (a[4] + t * a[5])))) - dry
    out[OXYGEN] += salt * (b[0] + t * (b[1] + t * (b[2] + t * b[3])) + _O2_SQUARED * salt)
    t = math.log((298.15 - warm) / kelvin)
    a, b = _N2, _N2_SALT
    out[NITROGEN] = a[0] + t * (a[1] + t * (a[2] + t * a[3])) - dry
    out[NITROGEN] += salt * (b[0] + t * (b[1] + t * b[2]))
    a, b = _AR, _AR_SALT
    out[ARGON] = a[0] + t * (a[1] + t * (a[2] + t * a[3])) - dry
    out[ARGON] += salt * (b[0] + t * (b[1] + t * b[2]))
    a, b = _CO2, _CO2_SALT
    out[ACID] = a[0] + a[1] / hundred + a[2] * math.log(hundred) + math.log(1e6 / _ATM)
    out[ACID] += salt * (b[0] + hundred * (b[1] + hundred * b[2]))
    out[VAPOUR] = vapour
    out[FASTER] = _LN_THETA * (warm - 20.0)
    out[BREATH] = -_BREATH / kelvin


@compiling.inner
def acid_logarithms(warm: float, salt: float, out: Floats) -> None:
    """Of acids' constants, as `dissociation.constants` has them, in µmol/kg."""
    kelvin = warm + _ZERO
    inverse, log, root = 1.0 / kelvin, math.log(kelvin), math.sqrt(salt)
    micro = math.log(1e6)
    a, b = _FIRST, _SECOND
    first = -_LN10 * (a[0] * inverse + a[1] + a[2] * log + (a[3] + a[4] * salt) * salt)
    second = -_LN10 * (b[0] * inverse + b[1] + b[2] * log + (b[3] + b[4] * salt) * salt)
    out[FIRST], out[BOTH] = first + micro, first + second + 2.0 * micro
    cold = -8966.9 - root * (2890.53 + root * (77.942 + root * (-1.728 + root * 0.0996)))
    level = 148.0248 + 137.1942 * root + 1.62142 * salt
    out[BORIC] = cold * inverse + level - (24.4344 + 25.085 * root + 0.2474 * salt) * log
    out[BORIC] += 0.053105 * root * kelvin + micro
    ions = 19.924 * salt / (1000.0 - 1.005 * salt)
    ions_root, part = math.sqrt(ions), math.log1p(-_SHARE * salt)
    one = -13856.0 * inverse + 324.57 - 47.986 * log - 2698.0 * inverse * ions
    two = 35474.0 * inverse - 771.54 + 114.723 * log + 1776.0 * inverse * ions
    bisulphate = 141.328 - 4276.1 * inverse - 23.093 * log + one * ions_root + two * ions + part
    fluoride = math.exp(1590.2 * inverse - 12.641 + 1.525 * ions_root + part) * 1e6
    sulphate = math.exp(bisulphate) * 1e6
    total = 1.0 + _SULPHATE * salt / sulphate
    water = 148.9802 - 13847.26 * inverse - 23.6521 * log
    water += (118.67 * inverse - 5.977 + 1.0495 * log) * root - 0.01615 * salt
    out[WATER] = water + 2.0 * micro + math.log(total / (total + _FLUORIDE * salt / fluoride))
    out[SULPHATE], out[FLUORIDE] = math.log(sulphate * total), math.log(fluoride * total)
    out[FREE] = math.log(total)


@compiling.inner
def limit_logarithms(warm: float, salt: float, out: Floats) -> None:
    """Of ammonium's constant after Clegg and Whitfield in µmol/kg, and of density in kg/m³."""
    kelvin = warm + _ZERO
    inverse, heat, root = 1.0 / kelvin, math.sqrt(kelvin), math.sqrt(salt)
    power = 9.244605 - 2729.33 * (1.0 / 298.15 - inverse)
    power += (0.04203362 - 11.24742 * inverse) * math.sqrt(root)
    power += (-13.6416 + 1.176949 * heat - 0.02860785 * kelvin + 545.4834 * inverse) * root
    cubed = -0.1462507 + 0.0090226468 * heat - 0.0001471361 * kelvin + 10.5425 * inverse
    power += cubed * root * salt + (0.004669309 - 0.0001691742 * heat - 0.5677934 * inverse) * salt * salt
    power += (-2.354039e-5 + 0.009698623 * inverse) * salt * salt * root
    out[AMMONIUM] = -_LN10 * power + math.log1p(-_SHARE * salt) + math.log(1e6)
    t = warm * _ITS
    a, b, c = _D_WATER, _D_SALT, _D_ROOT
    fresh = a[0] + t * (a[1] + t * (a[2] + t * (a[3] + t * (a[4] + t * a[5]))))
    more = b[0] + t * (b[1] + t * (b[2] + t * (b[3] + t * b[4]))) + _D_SQUARED * salt
    out[DENSITY] = math.log(fresh + salt * (more + root * (c[0] + t * (c[1] + t * c[2]))))


@compiling.inner
def logarithms(warm: float, salt: float, out: Floats) -> None:
    """Of every constant at a water; salinity below nothing counts as nothing."""
    held = min(max(warm, -20.0), 120.0) if warm == warm else warm
    salt = min(max(salt, 0.0), 200.0) if salt == salt else salt
    held = min(held, 95.0)
    gas_logarithms(held, salt, out)
    acid_logarithms(held, salt, out)
    limit_logarithms(held, salt, out)


@compiling.inner
def expand(tables: Floats, about: Floats, site: int, warm: float, salt: float, room: Floats) -> None:
    """Every constant of a site about a water: value, then slopes of its logarithm to second order.

    ``tables`` (MANY, 6, sites), ``about`` (2, sites), ``room`` (6, MANY).
    """
    step = STEP
    salt = max(salt, step)  # roots of salinity have no slope at nothing
    logarithms(warm, salt, room[0])
    logarithms(warm + step, salt, room[1])
    logarithms(warm - step, salt, room[2])
    logarithms(warm, salt + step, room[3])
    logarithms(warm, salt - step, room[4])
    logarithms(warm + step, salt + step, room[5])
    about[0, site], about[1, site] = warm, salt
    for row in range(MANY):
        here, hot, cold, salty, fresh = room[0, row], room[1, row], room[2, row], room[3, row], room[4, row]
        by_warmth, by_salt = 0.5 * (hot - cold) / step, 0.5 * (salty - fresh) / step
        twice = (hot - 2.0 * here + cold) / (step * step)
        squared = (salty - 2.0 * here + fresh) / (step * step)
        both = (room[5, row] - hot - salty + here) / (step * step)
        tables[row, 0, site] = math.exp(here)
        tables[row, 1, site], tables[row, 2, site] = by_warmth, by_salt
        tables[row, 3, site], tables[row, 4, site], tables[row, 5, site] = 0.5 * twice, both, 0.5 * squared


@compiling.inner
def follow(tables: Floats, water: Floats, first: int, last: int, sites: int, out: Floats) -> None:
    """Constants ``first`` to ``last`` of sites, ``water[2:]`` away from where they were expanded."""
    for row in range(first, last):
        for site in range(sites):
            dt, ds = water[2, site], water[3, site]
            power = dt * (tables[row, 1, site] + dt * tables[row, 3, site] + ds * tables[row, 4, site])
            power += ds * (tables[row, 2, site] + ds * tables[row, 5, site])
            grown = 1.0 + power * (1.0 + power * (0.5 + power * (1.0 / 6.0)))
            out[row, site] = tables[row, 0, site] * grown


@compiling.inner
def by_warmth(tables: Floats, water: Floats, row: int, site: int) -> float:
    """How the logarithm of a constant rises with temperature at a site."""
    dt, ds = water[2, site], water[3, site]
    return tables[row, 1, site] + 2.0 * dt * tables[row, 3, site] + ds * tables[row, 4, site]


@compiling.inner
def by_salt(tables: Floats, water: Floats, row: int, site: int) -> float:
    """How the logarithm of a constant rises with salinity at a site."""
    dt, ds = water[2, site], water[3, site]
    return tables[row, 2, site] + dt * tables[row, 4, site] + 2.0 * ds * tables[row, 5, site]


@compiling.inner
def balance(
    known: Floats, site: int, salt: float, hydrogen: float, alkalinity: float, carbon: float
) -> tuple[float, float]:
    """How far charges are from even at a hydrogen ion, and how fast that falls with its logarithm."""
    h = hydrogen
    one, both = known[FIRST, site] * h, known[BOTH, site]
    square = h * h
    whole = 1.0 / (square + one + both)
    share = carbon * whole
    boric, sulphate, fluoride = known[BORIC, site], known[SULPHATE, site], known[FLUORIDE, site]
    by_boric, by_sulphate, by_fluoride = 1.0 / (boric + h), 1.0 / (sulphate + h), 1.0 / (fluoride + h)
    borate = _BORON * salt * boric * by_boric
    hydroxide, free = known[WATER, site] / h, h / known[FREE, site]
    acid, other = _SULPHATE * salt * h * by_sulphate, _FLUORIDE * salt * h * by_fluoride
    value = share * (one + 2.0 * both) + borate + hydroxide - free - acid - other - alkalinity
    growth = share * (one * square + 4.0 * square * both + one * both) * whole
    growth += borate * h * by_boric + hydroxide + free
    growth += acid * sulphate * by_sulphate + other * fluoride * by_fluoride
    return value, growth


@compiling.inner
def settle(known: Floats, site: int, salinity: float, alkalinity: float, carbon: float, acid: Floats) -> None:
    """The hydrogen ion of a water on the total scale, from its last one; ``acid`` as `rooms` lists it."""
    charge, amount, salt = max(alkalinity, 1.0), max(carbon, 1.0), max(salinity, 0.0)
    ahead = acid[3] * (charge - acid[1]) + acid[4] * (amount - acid[2])
    h = acid[0]
    if abs(ahead) < 0.5:
        h *= 1.0 + ahead * (1.0 + ahead * (0.5 + ahead * (1.0 / 6.0)))
    growth = 1.0
    for _ in range(60):
        value, growth = balance(known, site, salt, h, charge, amount)
        step = min(max(value / growth, -2.0), 2.0)
        if abs(step) < 0.05:
            h *= 1.0 + step * (1.0 + step * (0.5 + step * (1.0 / 6.0)))
        else:
            h *= math.exp(step)
        h = min(max(h, 1e-6), 1e4)  # pH 12 to 2
        if not abs(step) > CLOSE:
            break
    one, both, square = known[FIRST, site] * h, known[BOTH, site], h * h
    whole = 1.0 / (square + one + both)
    acid[0], acid[1], acid[2] = h, charge, amount
    acid[3], acid[4] = -1.0 / growth, (one + 2.0 * both) * whole / growth
    acid[5] = square * whole * carbon


@compiling.inner
def free_of(known: Floats, site: int, hydrogen: float, carbon: float) -> float:
    """Carbon dioxide in solution, in µmol/kg."""
    square = hydrogen * hydrogen
    share = square / (square + known[FIRST, site] * hydrogen + known[BOTH, site])
    return share * carbon


@compiling.inner
def free_slopes(known: Floats, site: int, acid: Floats) -> tuple[float, float]:
    """Rise of carbon dioxide in solution with carbon, and with alkalinity."""
    h = acid[0]
    one, both = known[FIRST, site] * h, known[BOTH, site]
    whole = h * h + one + both
    share, ion = h * h / whole, (one + 2.0 * both) / whole
    up = share * acid[2] * ion  # d ln share / d ln h = ion
    return min(max(share + up * acid[4], 1e-6), 1.0), up * acid[3]


@compiling.inner
def free_by_water(tables: Floats, known: Floats, site: int, salinity: float, acid: Floats, by: int) -> float:
    """Rise of carbon dioxide in solution with temperature (``by`` 1) or salinity (``by`` 2)."""
    step, h, salt = 1e-3, acid[0], max(salinity, 0.0)
    first, both, boric, water = known[FIRST, site], known[BOTH, site], known[BORIC, site], known[WATER, site]
    for row in range(FIRST, WATER + 1):
        known[row, site] *= 1.0 + step * tables[row, by, site]
    moved, growth = balance(known, site, salt + (step if by == 2 else 0.0), h, acid[1], acid[2])
    after = free_of(known, site, h * (1.0 + moved / growth), acid[2])
    known[FIRST, site], known[BOTH, site], known[BORIC, site], known[WATER, site] = first, both, boric, water
    return (after - free_of(known, site, h, acid[2])) / step

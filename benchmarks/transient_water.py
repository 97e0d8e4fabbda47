"""Chemistry of the peer in `transient_peer`: constants, pH and what limits are for, over whole columns.

The published forms and numbers are those of `science`; here they are gathered into one product of matrices,
so that a right-hand side on NumPy is as quick as it can be. A test holds both together.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients import tables as rows
from brinehouse.science import carbonate, dissociation, gases, nitrogen, seawater
from brinehouse.science.constants import (
    ARGON_IN_AIR,
    ATM,
    IPTS68_PER_ITS90,
    MMHG,
    NITROGEN_IN_AIR,
    OXYGEN_IN_AIR,
    OXYGEN_MOLAR_MASS,
    ZERO_CELSIUS,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

WARM, SALT, OXYGEN, NITROGEN, ARGON, CARBON, ALKALINITY, TAN, NITRITE, NITRATE, TRACER, VOLUME = range(12)
SPECIES, ROWS = 11, 12
SCALE = np.array([10.0, 10.0, 100.0, 100.0, 10.0, 1000.0, 1000.0, 10.0, 10.0, 100.0, 1.0, 1.0])
"""Of each row of the state: the absolute tolerance is the relative one times a hundredth of it (of a volume:
times a hundredth of the usual one)."""
IN_AIR = np.array([OXYGEN_IN_AIR, NITROGEN_IN_AIR, ARGON_IN_AIR])[:, None, None]


# Columns: (1, 1/K, ln K) times (1, r, S, q, I), then what stands below; r = sqrt(S), I the ionic strength
# and q its root.
ONE, INVERSE, LOG = 0, 1, 2
S_ONE, S_ROOT, S_SALT, S_Q, S_IONS = range(5)
(KELVIN, SALT_KELVIN, SALT_KELVIN2, SALT2, I_SALT_ROOT, I_SALT2, ROOT_KELVIN, I_Q_IONS, I_IONS2, PART) = (
    range(15, 25)
)
VAPOUR, SOLUBLE, FIRST, SECOND, BORIC, WATER, BISULPHATE, FLUORIDE, BREATH, FASTER, LOGS = range(11)


def _matrix() -> Floats:
    """Natural logarithms as sums of the columns: Weiss and Price, Weiss, Lueker, Dickson, Millero."""
    made = np.zeros((LOGS, 25))

    def put(row: int, salt: int, one: float, inverse: float = 0.0, log: float = 0.0) -> None:
        made[row, salt * 3 : salt * 3 + 3] += (one, inverse, log)

    v = gases.VAPOUR
    put(VAPOUR, S_ONE, v[0] - v[2] * math.log(100.0), 100.0 * v[1], v[2])
    put(VAPOUR, S_SALT, v[3])
    k = dissociation.SOLUBILITY
    put(SOLUBLE, S_ONE, k[0] - k[2] * math.log(100.0), 100.0 * k[1], k[2])
    put(SOLUBLE, S_SALT, k[3])
    made[SOLUBLE, [SALT_KELVIN, SALT_KELVIN2]] = k[4] / 100.0, k[5] / 1e4
    for row, k in ((FIRST, dissociation.FIRST), (SECOND, dissociation.SECOND)):
        put(row, S_ONE, -dissociation.LN10 * k[1], -dissociation.LN10 * k[0], -dissociation.LN10 * k[2])
        put(row, S_SALT, -dissociation.LN10 * k[3])
        made[row, SALT2] = -dissociation.LN10 * k[4]
    put(BORIC, S_ONE, 148.0248, -8966.9, -24.4344)
    put(BORIC, S_ROOT, 137.1942, -2890.53, -25.085)
    put(BORIC, S_SALT, 1.62142, -77.942, -0.2474)
    made[BORIC, [I_SALT_ROOT, I_SALT2, ROOT_KELVIN]] = 1.728, -0.0996, 0.053105
    put(WATER, S_ONE, 148.9802, -13847.26, -23.6521)
    put(WATER, S_ROOT, -5.977, 118.67, 1.0495)
    put(WATER, S_SALT, -0.01615)
    put(BISULPHATE, S_ONE, 141.328, -4276.1, -23.093)
    put(BISULPHATE, S_Q, 324.57, -13856.0, -47.986)
    put(BISULPHATE, S_IONS, -771.54, 35474.0, 114.723)
    made[BISULPHATE, [I_Q_IONS, I_IONS2, PART]] = -2698.0, 1776.0, 1.0
    put(FLUORIDE, S_ONE, -12.641, 1590.2)
    put(FLUORIDE, S_Q, 1.525)
    made[FLUORIDE, PART] = 1.0
    put(BREATH, S_ONE, 0.0, -5020.0)
    put(FASTER, S_ONE, -math.log(1.024) * (ZERO_CELSIUS + 20.0))
    made[FASTER, KELVIN] = math.log(1.024)
    return made


MATRIX = _matrix()
_W = np.zeros((3, 6))
_W[0], _W[1, :4], _W[2, :4] = gases.OXYGEN_WARMTH, gases.NITROGEN_WARMTH, gases.ARGON_WARMTH
_S = np.zeros((3, 4))
_S[0], _S[1, :3], _S[2, :3] = gases.OXYGEN_SALT, gases.NITROGEN_SALT, gases.ARGON_SALT
SULPHATE, FLUORINE = 0.14 / 96.062 / dissociation.CHLORINITY, 0.000067 / 18.998 / dissociation.CHLORINITY
BORON = dissociation.BORON["lee"] / 35.0


class Known:
    """Constants at points (points, columns), worked out together."""

    __slots__ = ("boric", "boron", "breath", "faster", "first", "fluoride", "fluorine", "free_to_total",
                 "held", "product", "second", "soluble", "sulphate", "sulphuric", "vapour",
                 "water")  # fmt: skip

    def __init__(self, warm: Floats, salinity: Floats) -> None:
        salt = np.maximum(salinity, 0.0)
        kelvin = warm + ZERO_CELSIUS
        terms = np.empty((25, *warm.shape))
        heat = terms[0:3]
        heat[0] = 1.0
        np.divide(1.0, kelvin, out=heat[1])
        np.log(kelvin, out=heat[2])
        root, ions = np.sqrt(salt), 19.924 * salt / (1000.0 - 1.005 * salt)
        q, square, inverse = np.sqrt(ions), salt * salt, heat[1]
        for at, by in enumerate((root, salt, q, ions), 1):
            np.multiply(heat, by, out=terms[at * 3 : at * 3 + 3])
        terms[KELVIN] = kelvin
        np.multiply(salt, kelvin, out=terms[SALT_KELVIN])
        np.multiply(terms[SALT_KELVIN], kelvin, out=terms[SALT_KELVIN2])
        terms[SALT2] = square
        np.multiply(inverse, salt * root, out=terms[I_SALT_ROOT])
        np.multiply(inverse, square, out=terms[I_SALT2])
        np.multiply(root, kelvin, out=terms[ROOT_KELVIN])
        iq = inverse * ions
        np.multiply(iq, q, out=terms[I_Q_IONS])
        np.multiply(iq, ions, out=terms[I_IONS2])
        np.log1p(-dissociation.SALT_SHARE * salt, out=terms[PART])
        logs = np.empty((LOGS + 3, *warm.shape))
        np.matmul(MATRIX, terms.reshape(25, -1), out=logs[:LOGS].reshape(LOGS, -1))
        logs[LOGS:] = self._gas(warm, salinity)
        np.exp(logs, out=logs)
        self.vapour = ATM * logs[VAPOUR]
        self.soluble, self.first, self.second, self.boric = (
            logs[SOLUBLE],
            logs[FIRST],
            logs[SECOND],
            logs[BORIC],
        )
        self.sulphuric, self.fluoride = logs[BISULPHATE], logs[FLUORIDE]
        self.breath, self.faster, self.held = logs[BREATH], logs[FASTER], logs[LOGS:]
        self.boron, self.sulphate, self.fluorine = BORON * salt, SULPHATE * salt, FLUORINE * salt
        self.free_to_total = 1.0 + self.sulphate / self.sulphuric
        self.water = logs[WATER] * self.free_to_total / (self.free_to_total + self.fluorine / self.fluoride)
        self.product = self.first * self.second

    @staticmethod
    def _gas(warm: Floats, salinity: Floats) -> Floats:
        """Garcia and Gordon, Hamme and Emerson: logarithms of what the air would hold there."""
        scaled = np.empty((3, *warm.shape))
        old = warm * IPTS68_PER_ITS90
        scaled[0] = (298.15 - old) / (ZERO_CELSIUS + old)
        scaled[1] = scaled[2] = (298.15 - warm) / (ZERO_CELSIUS + warm)
        np.log(scaled, out=scaled)
        out, salt = _W[:, 5, None, None] * scaled, _S[:, 3, None, None] * scaled
        for power in (4, 3, 2, 1):
            out += _W[:, power, None, None]
            out *= scaled
        for power in (2, 1):
            salt += _S[:, power, None, None]
            salt *= scaled
        salt += _S[:, 0, None, None]
        salt[0] += gases.OXYGEN_SALT_SQUARED * salinity
        salt *= salinity
        out += _W[:, 0, None, None]
        out += salt
        return out

    def part(self, at: slice) -> tuple[Floats, ...]:
        """What the pH needs, at some points."""
        return tuple(
            one[at] for one in (self.first, self.product, self.boron, self.boric, self.water,
                                self.free_to_total, self.sulphate, self.sulphuric, self.fluorine,
                                self.fluoride)
        )  # fmt: skip


def hydrogen(alkalinity: Floats, carbon: Floats, known: tuple[Floats, ...], start: Floats) -> Floats:
    """Natural logarithm of the hydrogen ion on the total scale [mol/kg], by Newton from a start nearby."""
    first, product, boron, boric, water, ratio, sulphate, sulphuric, fluorine, fluoride = known
    wanted, carbon = alkalinity * 1e-6, carbon * 1e-6
    log = np.array(np.broadcast_to(start, wanted.shape))
    sulphuric, fluoride = sulphuric * ratio, fluoride * ratio
    with np.errstate(over="ignore", invalid="ignore"):
        for _ in range(12):
            h = np.exp(log)
            one = first * h
            square = h * h
            whole = square + one + product
            share = carbon / whole
            borate = boron * boric / (boric + h)
            hydroxide = water / h
            free = h / ratio
            acid = sulphate * h / (sulphuric + h)
            other = fluorine * h / (fluoride + h)
            value = share * (one + 2.0 * product) + borate + hydroxide - free - acid - other - wanted
            growth = (
                share * (one * square + 4.0 * square * product + one * product) / whole
                + borate * h / (boric + h) + hydroxide + free
                + acid * sulphuric / (sulphuric + h) + other * fluoride / (fluoride + h)
            )  # fmt: skip
            step = np.minimum(np.maximum(value / growth, -1.5), 1.5)
            log += step
            if np.abs(step).max() < 1e-7:
                return log
    return log


def dissolved(log: Floats, carbon: Floats, known: Known, at: slice) -> Floats:
    """Carbon dioxide in solution, in the unit of carbon."""
    h = np.exp(log)
    square = h * h
    return carbon * square / (square + known.first[at] * h + known.product[at])


# --- what limits are for -----------------------------------------------------------------------------------


_D = np.zeros((3, 6))
_D[0], _D[1, :5], _D[2, :3] = seawater.WATER, seawater.SALT, seawater.SALT_ROOT


def density(warm: Floats, salt: Floats) -> Floats:
    """As `seawater.density`, in fewer calls. [kg/m³]"""
    old = warm * IPTS68_PER_ITS90
    made = np.repeat(_D[:, 5, None, None], warm.shape[0], axis=1)
    for power in (4, 3, 2, 1, 0):
        made = made * old + _D[:, power, None, None]
    return made[0] + salt * (made[1] + np.sqrt(salt) * made[2] + seawater.SALT_SQUARED * salt)


class Limits:
    """Distances to all limits on their good side, from the state alone."""

    def __init__(self, structure: rows.Structure, pressure: Floats) -> None:
        self.size = len(structure.places)
        self.place, self.quantity = structure.limit_place, structure.limit_quantity
        self.value = structure.limit_value[:, None]
        self.sign = np.where(structure.limit_upper, -1.0, 1.0)[:, None]
        self.pressure = pressure[:, None]
        self.harmed = np.unique(self.place[self.quantity == rows.QUANTITY["ammonia"]])
        self.needed = {rows.QUANTITIES[one] for one in self.quantity}
        self.acid: Floats | None = None

    def __call__(self, y: Floats) -> Floats:
        """(limits, columns)."""
        state = y.reshape(ROWS, self.size, -1)
        out = np.full((len(rows.QUANTITIES), self.size, state.shape[2]), np.nan)
        for name, values in self.values(state).items():
            out[rows.QUANTITY[name]] = values
        return self.sign * (out[self.quantity, self.place] - self.value)

    def values(self, state: Floats) -> dict[str, Floats]:
        """Every quantity that some limit is for."""
        need, warm, salt = self.needed, state[WARM], np.maximum(state[SALT], 0.0)
        out = {"temperature": warm, "salinity": state[SALT], "alkalinity": state[ALKALINITY],
               "tracer": state[TRACER], "level": state[VOLUME]}  # fmt: skip
        if need <= out.keys():
            return out
        grams = density(warm, salt) * 1e-6
        out["oxygen"] = state[OXYGEN] * grams * OXYGEN_MOLAR_MASS
        for name, row in (("tan", TAN), ("nitrite", NITRITE), ("nitrate", NITRATE)):
            out[name] = state[row] * grams * nitrogen.NITROGEN_ATOM
        if not need & {"oxygen_percent", "tgp", "delta_p", "ph", "co2", "ammonia"}:
            return out
        known = Known(warm, salt)
        if self.acid is None:
            self.acid = -dissociation.LN10 * carbonate.ph_of(
                state[ALKALINITY, :, :1], state[CARBON, :, :1], warm[:, :1], salt[:, :1]
            )
        log = hydrogen(state[ALKALINITY], state[CARBON], known.part(slice(None)), self.acid)
        self.acid = log[:, -1:]
        free = dissolved(log, state[CARBON], known, slice(None))
        dry = ATM - known.vapour
        parts = IN_AIR * dry * state[OXYGEN:CARBON] / known.held
        total = parts.sum(axis=0) + known.vapour + free * 1e-6 / known.soluble * ATM
        out["ph"], out["co2"] = -log / dissociation.LN10, free
        out["oxygen_percent"] = 100.0 * parts[0] / (OXYGEN_IN_AIR * (self.pressure - known.vapour))
        out["tgp"], out["delta_p"] = 100.0 * total / self.pressure, (total - self.pressure) / MMHG
        if "ammonia" in need:
            at = self.harmed
            strength = nitrogen.ammonium_clegg_whitfield(warm[at], salt[at])
            out["ammonia"] = np.full_like(warm, np.nan)
            out["ammonia"][at] = out["tan"][at] / (1.0 + 10.0 ** (strength - out["ph"][at]))
        return out

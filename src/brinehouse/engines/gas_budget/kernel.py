"""The budget's arithmetic over columns: values and their standard uncertainties, fused in cache-sized blocks.

Every relation here is one of `brinehouse.science` (the tests hold the two equal); they stand together so that
shared parts are computed once. Pressures are in Pa, oxygen in mg/L, percentages in %.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from brinehouse.science import constants, gases, seawater

Array = NDArray[np.float64]
Number = float | Array
Total = Literal["percent", "delta", "pressure"]

BLOCK = 8192
PER_MICROMOLE = constants.OXYGEN_MOLAR_MASS * 1e-3  # mg/L in one µmol/L


@dataclass(frozen=True, slots=True)
class Water:
    """What temperature and salinity alone fix, with slopes; ``_t`` is per K and ``_s`` per salinity."""

    held: Array  # oxygen at saturation under one atmosphere [mg/L]
    held_t: Array  # of its logarithm
    held_s: Array
    vapour: Array  # [Pa]
    vapour_t: Array
    density: Array  # [kg/m3]


def water(temperature: Array, salinity: Array) -> Water:
    """Solubility, vapour and density of one block.

    The slope of density is a straight line, good to 5 % between 5 and 35 °C: it is itself 2 % (per K) and
    13 % (per salinity) of the slope it corrects.
    """
    kelvin = temperature * constants.IPTS68_PER_ITS90 + constants.ZERO_CELSIUS
    cold = 298.15 + constants.ZERO_CELSIUS - kelvin
    scaled = np.log(cold / kelvin)
    salt, salt_slope = _cubic(scaled, gases.OXYGEN_SALT)
    warm, warm_slope = _quintic(scaled, gases.OXYGEN_WARMTH)
    squared = gases.OXYGEN_SALT_SQUARED * salinity
    heavy = density(temperature, salinity)
    held = np.exp(warm + (salt + squared) * salinity) * (heavy * (PER_MICROMOLE * 1e-3))
    slope = -(1.0 / cold + 1.0 / kelvin) * constants.IPTS68_PER_ITS90
    held_t = (warm_slope + salt_slope * salinity) * slope - (5e-5 + 1.05e-5 * temperature)
    held_s = salt + 2.0 * squared + 7.6e-4
    kelvin = temperature + constants.ZERO_CELSIUS
    a, b, c, d = gases.VAPOUR
    power = (a - c * np.log(100.0)) + 100.0 * b / kelvin + c * np.log(kelvin) + d * salinity
    vapour = constants.ATM * np.exp(power)
    vapour_t = vapour * ((c - 100.0 * b / kelvin) / kelvin)
    return Water(held, held_t, held_s, vapour, vapour_t, heavy)


def _cubic(x: Array, c: tuple[float, ...]) -> tuple[Array, Array]:
    return c[0] + x * (c[1] + x * (c[2] + x * c[3])), c[1] + x * (2.0 * c[2] + x * (3.0 * c[3]))


def _quintic(x: Array, c: tuple[float, ...]) -> tuple[Array, Array]:
    value = c[0] + x * (c[1] + x * (c[2] + x * (c[3] + x * (c[4] + x * c[5]))))
    slope = c[1] + x * (2.0 * c[2] + x * (3.0 * c[3] + x * (4.0 * c[4] + x * (5.0 * c[5]))))
    return value, slope


def density(temperature: Array, salinity: Array) -> Array:
    """Density of one block, in kg/m3."""
    return seawater.density(temperature, salinity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Standard uncertainties of the inputs, in the inputs' own units; numbers or columns."""

    temperature: Number = 0.0
    salinity: Number = 0.0
    barometer: Number = 0.0
    total: Number = 0.0
    oxygen: Number = 0.0
    carbon_dioxide: Number = 0.0
    depth: Number = 0.0


OUTPUTS: Mapping[str, str] = {
    "oxygen_percent": "%",
    "nitrogen_percent": "%",
    "oxygen_concentration": "mg/L",
    "total_gas_pressure": "%",
    "total_pressure": "Pa",
    "delta_p": "Pa",
    "uncompensated_delta_p": "Pa",
    "compensation_depth": "m",
    "vapour_pressure": "Pa",
}
"""Names of the values, in the kernel's own units; ``u:NAME`` holds each one's standard uncertainty."""


def total_gas(
    kind: Total, total: Array, barometer: Array, u_total: Number, u_barometer: Number
) -> tuple[Array, Array, Array, Array, Array]:
    """ΔP, its u squared; TGP % and its u squared; and d(total pressure)/d(barometer)."""
    if kind == "percent":
        excess = 0.01 * total - 1.0
        delta = excess * barometer
        var = (0.01 * barometer * u_total) ** 2 + (excess * u_barometer) ** 2
        return delta, var, total, np.square(u_total) + 0.0 * total, 0.01 * total
    per = 100.0 / barometer
    if kind == "delta":
        percent = 100.0 + per * total
        var = np.square(u_total) + 0.0 * total
        spread = (per * u_total) ** 2 + (per * total / barometer * u_barometer) ** 2
        return total, var, percent, spread, np.ones_like(total)
    percent = per * total
    var = np.square(u_total) + np.square(u_barometer) + 0.0 * total
    spread = (per * u_total) ** 2 + (percent / barometer * u_barometer) ** 2
    return total - barometer, var, percent, spread, np.zeros_like(total)


def block(
    kind: Total,
    temperature: Array,
    salinity: Array,
    barometer: Array,
    total: Array,
    oxygen: Array,
    carbon_dioxide: Number,
    depth: Number,
    doubt: Doubt,
) -> dict[str, Array]:
    """Values and standard uncertainties of one block of rows.

    Uncertainty is propagated to first order through analytic slopes, inputs independent of one another
    (JCGM 100:2008, 5.1.2).
    """
    w = water(temperature, salinity)
    dry = barometer - w.vapour
    per_oxygen = constants.OXYGEN_IN_AIR * (constants.ATM - w.vapour) / w.held  # Pa for each mg/L
    oxygen_pressure = oxygen * per_oxygen
    oxygen_percent = oxygen_pressure * (100.0 / constants.OXYGEN_IN_AIR) / dry
    delta, delta_var, percent, percent_var, by_barometer = total_gas(
        kind, total, barometer, doubt.total, doubt.barometer
    )
    pressure = delta + barometer
    gain = (100.0 / constants.NITROGEN_ARGON_IN_AIR) / dry
    nitrogen = (pressure - oxygen_pressure - w.vapour - carbon_dioxide) * gain
    by_total = gain * 0.01 * barometer if kind == "percent" else gain
    shared = _Shared(w, dry, per_oxygen, oxygen_pressure, gain)
    oxygen_var = _oxygen_var(shared, oxygen_percent, doubt)
    nitrogen_var = _nitrogen_var(shared, nitrogen, by_total, by_barometer, doubt)
    weight = w.density * constants.GRAVITY
    u_delta = np.sqrt(delta_var)
    return {
        "oxygen_percent": oxygen_percent,
        "nitrogen_percent": nitrogen,
        "oxygen_concentration": oxygen,
        "total_gas_pressure": percent,
        "total_pressure": pressure,
        "delta_p": delta,
        "uncompensated_delta_p": delta - weight * depth,
        "compensation_depth": np.maximum(delta / weight, 0.0),
        "vapour_pressure": w.vapour,
        "u:oxygen_percent": np.sqrt(oxygen_var),
        "u:nitrogen_percent": np.sqrt(nitrogen_var),
        "u:oxygen_concentration": doubt.oxygen + np.zeros_like(oxygen),
        "u:total_gas_pressure": np.sqrt(percent_var),
        "u:total_pressure": np.sqrt(_pressure_var(kind, percent, barometer, doubt)),
        "u:delta_p": u_delta,
        "u:uncompensated_delta_p": np.sqrt(delta_var + (weight * doubt.depth) ** 2),
        "u:compensation_depth": u_delta / weight,
        "u:vapour_pressure": _vapour_u(w, doubt),
    }


@dataclass(frozen=True, slots=True)
class _Shared:
    """What both percentages' variances need."""

    water: Water
    dry: Array
    per_oxygen: Array
    oxygen_pressure: Array
    gain: Array

    def slopes(self) -> tuple[Array, Array, Array]:
        """Slopes of ln(oxygen pressure) with temperature and salinity, and of vapour with salinity."""
        w = self.water
        wet = constants.ATM - w.vapour
        vapour_s = gases.VAPOUR[3] * w.vapour
        return -w.held_t - w.vapour_t / wet, -w.held_s - vapour_s / wet, vapour_s


def _oxygen_var(a: _Shared, percent: Array, doubt: Doubt) -> Array:
    """Variance of oxygen's percentage."""
    by_t, by_s, vapour_s = a.slopes()
    return (
        (a.per_oxygen * (100.0 / constants.OXYGEN_IN_AIR) / a.dry * doubt.oxygen) ** 2
        + (percent * (by_t + a.water.vapour_t / a.dry) * doubt.temperature) ** 2
        + (percent * (by_s + vapour_s / a.dry) * doubt.salinity) ** 2
        + (percent / a.dry * doubt.barometer) ** 2
    )


def _nitrogen_var(a: _Shared, percent: Array, by_total: Array, by_barometer: Array, doubt: Doubt) -> Array:
    """Variance of nitrogen's percentage; `by_barometer` is the slope of the total pressure."""
    by_t, by_s, vapour_s = a.slopes()
    rest, gain, wet_t = percent / a.dry, a.gain, a.water.vapour_t
    return (
        (by_total * doubt.total) ** 2
        + ((gain * by_barometer - rest) * doubt.barometer) ** 2
        + (gain * a.per_oxygen * doubt.oxygen) ** 2
        + ((rest * wet_t - gain * (a.oxygen_pressure * by_t + wet_t)) * doubt.temperature) ** 2
        + ((rest * vapour_s - gain * (a.oxygen_pressure * by_s + vapour_s)) * doubt.salinity) ** 2
        + (gain * doubt.carbon_dioxide) ** 2
    )


def _vapour_u(w: Water, doubt: Doubt) -> Array:
    """Standard uncertainty of water vapour."""
    by_salinity = gases.VAPOUR[3] * w.vapour
    return np.sqrt((w.vapour_t * doubt.temperature) ** 2 + (by_salinity * doubt.salinity) ** 2)


def _pressure_var(kind: Total, percent: Array, barometer: Array, doubt: Doubt) -> Array:
    """Variance of the absolute total."""
    if kind == "percent":
        return (0.01 * barometer * doubt.total) ** 2 + (0.01 * percent * doubt.barometer) ** 2
    if kind == "delta":
        return np.square(doubt.total) + np.square(doubt.barometer) + 0.0 * percent
    return np.square(doubt.total) + 0.0 * percent


def _cut(value: Number, rows: slice) -> Number:
    return value[rows] if isinstance(value, np.ndarray) and value.ndim else value


def run(
    kind: Total,
    temperature: Array,
    salinity: Array,
    barometer: Array,
    total: Array,
    oxygen: Array,
    carbon_dioxide: Number = 0.0,
    depth: Number = 0.0,
    doubt: Doubt | None = None,
    scales: Mapping[str, float] | None = None,
) -> dict[str, Array]:
    """Values and standard uncertainties of all rows, one cache-sized block after another.

    Parameters
    ----------
    kind : str
        What `total` is: TGP in ``percent``, ``delta`` ΔP in Pa, or absolute ``pressure`` in Pa.
    temperature, salinity, barometer, total, oxygen : ndarray
        Columns of one length, in °C, practical salinity, Pa, by `kind`, and mg/L.
    carbon_dioxide, depth : float or ndarray
        Pa and m.
    doubt : Doubt, optional
        Standard uncertainties; none unless told.
    scales : mapping, optional
        Factors by which named values and their uncertainties are multiplied on the way out.

    Returns
    -------
    dict
        The names of `OUTPUTS`, and ``u:`` before each.
    """
    doubt = doubt or Doubt()
    size = len(temperature)
    out = {name: np.empty(size) for name in (*OUTPUTS, *(f"u:{name}" for name in OUTPUTS))}
    names = Doubt.__slots__
    with np.errstate(invalid="ignore", divide="ignore", over="ignore", under="ignore"):
        for start in range(0, size, BLOCK):
            rows = slice(start, start + BLOCK)
            part = block(
                kind,
                temperature[rows],
                salinity[rows],
                barometer[rows],
                total[rows],
                oxygen[rows],
                _cut(carbon_dioxide, rows),
                _cut(depth, rows),
                Doubt(**{name: _cut(getattr(doubt, name), rows) for name in names}),
            )
            for name, column in part.items():
                factor = scales.get(name.removeprefix("u:"), 1.0) if scales else 1.0
                np.multiply(column, factor, out=out[name][rows])
    return out

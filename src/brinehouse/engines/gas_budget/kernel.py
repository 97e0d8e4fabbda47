"""The budget's arithmetic over columns: values and their standard uncertainties, fused in cache-sized blocks.

Every relation here is one of `brinehouse.science` (the tests hold the two equal); they stand together so that
shared parts are computed once. Pressures are in Pa, oxygen in mg/L, percentages in %.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from brinehouse.science import constants, gases, rows, seawater

Array = NDArray[np.float64]
Single = NDArray[np.floating[Any]]
Number = float | Array | NDArray[np.floating[Any]]
Total = Literal["percent", "delta", "pressure"]

BLOCK = 8192
PER_MICROMOLE = constants.OXYGEN_MOLAR_MASS * 1e-3  # mg/L in one µmol/L


@dataclass(frozen=True, slots=True)
class Water:
    """What temperature and salinity alone fix; slopes are ``_t`` per K and ``_s`` per salinity.

    Slopes are in single precision: they serve uncertainties, where seven digits are plenty and half
    the memory is twice the speed.
    """

    held: Array  # oxygen at saturation under one atmosphere [mg/L]
    held_t: Single  # of its logarithm
    held_s: Single
    vapour: Array  # [Pa]
    vapour_t: Single
    vapour_s: Single
    density: Array  # [kg/m3]


def water(temperature: Array, salinity: Array) -> Water:
    """Solubility, vapour and density of one block.

    The slope of density is a straight line, good to 5 % between 5 and 35 °C: it is itself 2 % (per K) and
    13 % (per salinity) of the slope it corrects.
    """
    kelvin = temperature * constants.IPTS68_PER_ITS90
    kelvin += constants.ZERO_CELSIUS
    cold = (298.15 + constants.ZERO_CELSIUS) - kelvin
    scaled = cold / kelvin
    np.log(scaled, out=scaled)
    spare = np.empty_like(scaled)
    heavy = density(temperature, salinity)
    held = rows.polynomial(scaled, gases.OXYGEN_SALT, np.empty_like(scaled))
    held += np.multiply(salinity, gases.OXYGEN_SALT_SQUARED, out=spare)
    held *= salinity
    held += rows.polynomial(scaled, gases.OXYGEN_WARMTH, spare)
    np.exp(held, out=held)
    held *= np.multiply(heavy, PER_MICROMOLE * 1e-3, out=spare)
    np.add(temperature, constants.ZERO_CELSIUS, out=cold)
    a, b, c, d = gases.VAPOUR
    vapour = np.log(cold)
    vapour *= c
    vapour += a - c * float(np.log(100.0))
    vapour += np.divide(100.0 * b, cold, out=spare)
    vapour += np.multiply(salinity, d, out=spare)
    np.exp(vapour, out=vapour)
    vapour *= constants.ATM
    slopes = _slopes(
        temperature.astype(np.float32), salinity.astype(np.float32), scaled.astype(np.float32), vapour
    )
    return Water(held, slopes[0], slopes[1], vapour, slopes[2], slopes[3], heavy)


def _slopes(
    warm: Single, salt: Single, scaled: Single, vapour: Array
) -> tuple[Single, Single, Single, Single]:
    """Slopes of ln(solubility) and of vapour with temperature and with salinity."""
    w1, w2, w3, w4, w5 = gases.OXYGEN_WARMTH[1:]
    s0, s1, s2, s3 = gases.OXYGEN_SALT
    kelvin = warm + 273.15
    by_scaled = _horner(scaled, (w1, 2.0 * w2, 3.0 * w3, 4.0 * w4, 5.0 * w5))
    spare = _horner(scaled, (s1, 2.0 * s2, 3.0 * s3))
    by_scaled += np.multiply(spare, salt, out=spare)
    # dTs/dT = -571.3/((298.15 - t)(273.15 + t))
    by_scaled /= np.multiply(298.15 - warm, kelvin, out=spare)
    by_scaled *= -571.3
    by_scaled -= np.multiply(warm, 1.05e-5, out=spare)
    by_scaled -= 5e-5
    by_salt = _horner(scaled, (s0, s1, s2, s3))
    by_salt += np.multiply(salt, 2.0 * gases.OXYGEN_SALT_SQUARED, out=spare)
    by_salt += 7.6e-4
    wet = vapour.astype(np.float32)
    vapour_t = np.divide(-100.0 * gases.VAPOUR[1], kelvin)
    vapour_t += gases.VAPOUR[2]
    vapour_t /= kelvin
    vapour_t *= wet
    wet *= gases.VAPOUR[3]
    return by_scaled, by_salt, vapour_t, wet


def _horner(variable: Single, coefficients: tuple[float, ...]) -> Single:
    """As `rows.polynomial`, in single precision."""
    out = variable * coefficients[-1]
    for coefficient in coefficients[-2:0:-1]:
        out += coefficient
        out *= variable
    out += coefficients[0]
    return out


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
        return delta, var, total, np.asarray(np.square(u_total)), 0.01 * total
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
) -> dict[str, Array | Single]:
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
    doubts = _single(doubt)
    shared = _share(w, dry, per_oxygen, oxygen_pressure)
    u_oxygen = _oxygen_u(shared, oxygen_percent, doubts)
    u_nitrogen = _nitrogen_u(shared, nitrogen, by_total, by_barometer, doubts)
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
        "u:oxygen_percent": u_oxygen,
        "u:nitrogen_percent": u_nitrogen,
        "u:oxygen_concentration": np.asarray(doubt.oxygen),
        "u:total_gas_pressure": np.sqrt(percent_var),
        "u:total_pressure": np.sqrt(_pressure_var(kind, percent, barometer, doubt)),
        "u:delta_p": u_delta,
        "u:uncompensated_delta_p": np.sqrt(delta_var + (weight * doubt.depth) ** 2),
        "u:compensation_depth": u_delta / weight,
        "u:vapour_pressure": _vapour_u(w, doubts),
    }


def _single(doubt: Doubt) -> Doubt:
    """The same doubt, its columns in single precision."""
    parts = {name: getattr(doubt, name) for name in Doubt.__slots__}
    if not any(isinstance(part, np.ndarray) for part in parts.values()):
        return doubt
    return Doubt(
        **{n: p.astype(np.float32) if isinstance(p, np.ndarray) else float(p) for n, p in parts.items()}
    )


@dataclass(frozen=True, slots=True)
class _Shared:
    """What both percentages' uncertainties need, in single precision."""

    water: Water
    dry: Single
    per_oxygen: Single
    oxygen_pressure: Single
    by_t: Single  # slopes of ln(oxygen pressure), their signs turned
    by_s: Single


def _share(w: Water, dry: Array, per_oxygen: Array, oxygen_pressure: Array) -> _Shared:
    wet = (constants.ATM - w.vapour).astype(np.float32)
    by_t, by_s = w.vapour_t / wet, w.vapour_s / wet
    by_t += w.held_t
    by_s += w.held_s
    return _Shared(
        w,
        dry.astype(np.float32),
        per_oxygen.astype(np.float32),
        oxygen_pressure.astype(np.float32),
        by_t,
        by_s,
    )


def _add(total: Single, slope: Single, u: Number) -> None:
    """Add (slope u)² to a variance; the slope is used up."""
    if isinstance(u, float) and u == 0.0:
        return
    slope *= u
    slope *= slope
    total += slope


def _oxygen_u(a: _Shared, percent: Array, doubt: Doubt) -> Single:
    """Standard uncertainty of oxygen's percentage."""
    w = a.water
    variance = np.zeros_like(a.dry)
    _add(variance, w.vapour_t / a.dry - a.by_t, doubt.temperature)
    _add(variance, w.vapour_s / a.dry - a.by_s, doubt.salinity)
    _add(variance, 1.0 / a.dry, doubt.barometer)
    shown = percent.astype(np.float32)
    shown *= shown
    variance *= shown
    slope = a.per_oxygen / a.dry
    slope *= 100.0 / constants.OXYGEN_IN_AIR
    _add(variance, slope, doubt.oxygen)
    return np.sqrt(variance, out=variance)


def _nitrogen_u(a: _Shared, percent: Array, by_total: Array, by_barometer: Array, doubt: Doubt) -> Single:
    """Standard uncertainty of nitrogen's percentage; `by_barometer` is the slope of the total pressure."""
    w = a.water
    gain = (100.0 / constants.NITROGEN_ARGON_IN_AIR) / a.dry
    rest, part = percent.astype(np.float32) / a.dry, gain * a.oxygen_pressure
    own = rest - gain
    variance = np.zeros_like(gain)
    _add(variance, by_total.astype(np.float32), doubt.total)
    _add(variance, gain * by_barometer.astype(np.float32) - rest, doubt.barometer)
    _add(variance, gain * a.per_oxygen, doubt.oxygen)
    _add(variance, own * w.vapour_t + part * a.by_t, doubt.temperature)
    _add(variance, own * w.vapour_s + part * a.by_s, doubt.salinity)
    _add(variance, gain, doubt.carbon_dioxide)
    return np.sqrt(variance, out=variance)


def _vapour_u(w: Water, doubt: Doubt) -> Single:
    """Standard uncertainty of water vapour."""
    variance = np.zeros_like(w.vapour_t)
    _add(variance, w.vapour_t.copy(), doubt.temperature)
    _add(variance, w.vapour_s.copy(), doubt.salinity)
    return np.sqrt(variance, out=variance)


def _pressure_var(kind: Total, percent: Array, barometer: Array, doubt: Doubt) -> Array:
    """Variance of the absolute total."""
    if kind == "percent":
        return (0.01 * barometer * doubt.total) ** 2 + (0.01 * percent * doubt.barometer) ** 2
    if kind == "delta":
        return np.square(doubt.total) + np.square(doubt.barometer) + 0.0 * percent
    return np.square(doubt.total) + 0.0 * percent


def _cut(value: Number, cut: slice) -> Number:
    return value[cut] if isinstance(value, np.ndarray) and value.ndim else value


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
    # what comes out as it went in is not copied
    same: dict[str, Array] = {
        "oxygen_concentration": oxygen,
        "u:oxygen_concentration": _column(doubt.oxygen, size),
    }
    if kind == "percent":
        same |= {"total_gas_pressure": total, "u:total_gas_pressure": _column(doubt.total, size)}
    made = [name for name in (*OUTPUTS, *(f"u:{name}" for name in OUTPUTS)) if name not in same]
    # one piece of memory for all of them: an operating system hands it out in fewer, larger pages
    out = dict(zip(made, np.empty((len(made), size)), strict=True))
    with np.errstate(invalid="ignore", divide="ignore", over="ignore", under="ignore"):
        for start in range(0, size, BLOCK):
            cut = slice(start, start + BLOCK)
            part = block(
                kind,
                temperature[cut],
                salinity[cut],
                barometer[cut],
                total[cut],
                oxygen[cut],
                _cut(carbon_dioxide, cut),
                _cut(depth, cut),
                Doubt(**{name: _cut(getattr(doubt, name), cut) for name in Doubt.__slots__}),
            )
            for name, column in out.items():
                factor = scales.get(name.removeprefix("u:"), 1.0) if scales else 1.0
                np.multiply(part[name], factor, out=column[cut])
    return {
        name: same[name] if name in same else out[name] for name in (*OUTPUTS, *(f"u:{n}" for n in OUTPUTS))
    }


def _column(value: Number, size: int) -> Array:
    return np.broadcast_to(np.asarray(value, dtype=np.float64), (size,))

"""Can the three numbers be true together? One constraint, and the explanations that it can weigh.

The meter's nitrogen is its own arithmetic on total gas pressure and oxygen. The closure
``f = nitrogen shown - nitrogen worked out`` is therefore free of both channels' errors: only rounding of
the display and differences of settings move it. Where the meter also shows oxygen in %, the ratio of its two
oxygen figures is a second constraint of the same kind. Columns in, columns out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinehouse.engines.gas_budget import kernel
from brinehouse.science import constants, gases

Array = NDArray[np.float64]
Number = kernel.Number

FORMULA = 0.003
"""Meters' oxygen tables stand up to 0.53 % apart (Weiss 1970, Garcia and Gordon 1992): u, relative."""
ELSEWHERE = {"temperature": 0.1, "salinity": 0.3, "barometer": 133.0}
"""How far the meter's own temperature, salinity setting and barometer may stand from those given: u.
common practice, no source."""

NITROGEN_ALONE = constants.NITROGEN_IN_AIR
ALL_BUT_OXYGEN = 1.0 - constants.OXYGEN_IN_AIR


@dataclass(frozen=True, slots=True)
class Cause:
    """One explanation: its prior plausibility and, where it has a size of its own, how large that may be.

    Both are elicited (common practice, no source): they say which slips happen more often at a bench, and
    they decide only between explanations that fit alike.
    """

    prior: float
    spread: float = 0.0


CAUSES: Mapping[str, Cause] = {
    "gas/closes": Cause(0.58),
    "gas/meter-salinity-zero": Cause(0.12),
    "gas/residual-salinity-zero": Cause(0.045),
    "gas/meter-salinity-other": Cause(0.06, 5.0),
    "gas/temperature-of-residual": Cause(0.03, 1.0),
    "gas/barometer-differs": Cause(0.03, 8.0 * constants.MMHG),
    "gas/barometer-sea-level": Cause(0.03),
    "gas/meter-barometer-absolute": Cause(0.02),
    "gas/meter-barometer-differential": Cause(0.02),
    "gas/vapour-not-subtracted": Cause(0.02),
    "gas/vapour-left-out": Cause(0.01),
    "gas/carbon-dioxide": Cause(0.02, 2.0 * constants.MMHG),
    "gas/nitrogen-alone": Cause(0.01),
    "gas/rest-of-air": Cause(0.01),
    "gas/oxygen-salinity-zero": Cause(0.12),
    "gas/oxygen-salinity-other": Cause(0.06, 5.0),
    "gas/percent-at-sea-level": Cause(0.05),
}
"""Every explanation that a closure can weigh."""

CODES: tuple[str, ...] = tuple(CAUSES)


@dataclass(slots=True, kw_only=True)
class Case:
    """Rows to be tested: what the meter shows, and what stands around it. Columns of one length.

    ``total`` is TGP as a ratio to the barometer's pressure (1.045), given as a ``kind`` of figure; ``u_*``
    are roundings of the display alone; ``salinity_meter`` is the setting the meter is known or taken to have;
    ``sea_level`` is what a sea-level barometer would show, NaN where the altitude is unknown; ``saturation``
    and ``nitrogen`` are NaN where the meter does not show them.
    """

    temperature: Array
    salinity: Array
    barometer: Array
    total: Array
    oxygen: Array
    nitrogen: Array
    saturation: Array
    salinity_meter: Array
    sea_level: Array
    kind: str = "percent"
    carbon_dioxide: Number = 0.0
    u_total: Number = 0.0
    u_oxygen: Number = 0.0
    u_nitrogen: Number = 0.0
    u_saturation: Number = 0.0
    u_temperature: Number = 0.0
    u_salinity: Number = 0.0
    u_barometer: Number = 0.0
    oxygen_as_percent: bool = False

    def ratio_at(self, barometer: Array) -> Array:
        """What the total would be, over another air pressure: the figure that was given stays."""
        if self.kind == "percent":
            return self.total
        if self.kind == "delta":
            return 1.0 + (self.total - 1.0) * self.barometer / barometer
        return self.total * self.barometer / barometer

    def cut(self, rows: slice) -> Case:
        """A block of the rows."""
        part: dict[str, Any] = {name: getattr(self, name) for name in self.__slots__}
        for name, value in part.items():
            if isinstance(value, np.ndarray) and value.ndim:
                part[name] = value[rows]
        return Case(**part)


def case(**columns: Array | float | bool | str) -> Case:
    """A case from columns and numbers: what is left out is unknown, and the rest is made equally long."""
    size = max(
        (np.size(value) for value in columns.values() if not isinstance(value, (bool, str))), default=1
    )
    wanted = ("temperature", "salinity", "barometer", "total", "oxygen", "nitrogen", "saturation")
    full: dict[str, Any] = {
        name: np.broadcast_to(np.asarray(columns.get(name, math.nan), dtype=np.float64), (size,))
        for name in (*wanted, "sea_level")
    }
    setting = columns.get("salinity_meter", columns["salinity"])
    full["salinity_meter"] = np.broadcast_to(np.asarray(setting, dtype=np.float64), (size,))
    rest: dict[str, Any] = {name: value for name, value in columns.items() if name not in full}
    return Case(**full, **rest)


@dataclass(frozen=True, slots=True)
class Parts:
    """What all explanations share, worked out once for a block."""

    real: kernel.Water  # at the water's own salinity
    meter: kernel.Water  # at the meter's setting
    fresh: kernel.Water  # at salinity 0
    gain: Array  # % of nitrogen for each Pa
    base: Array  # nitrogen the meter should show [%]
    by_oxygen: Array  # slope [% per mg/L]
    by_temperature: Array
    by_salinity: Array
    by_barometer: Array
    oxygen_pressure: Array
    variance: Array  # of the closure, nothing wrong
    systematic: Array  # the part of it that stays the same from visit to visit
    ratio: Array  # ln(oxygen shown / oxygen from the % display)
    ratio_variance: Array
    shared: Array  # covariance of the two closures


def nitrogen_shown(
    water: kernel.Water, barometer: Array, total: Array, oxygen: Array, vapour: Array | None = None
) -> Array:
    """The arithmetic of a meter: what total, oxygen and vapour leave over, in % of what air would give."""
    pressure = _oxygen_pressure(water, oxygen)
    dry = barometer - water.vapour
    wet = water.vapour if vapour is None else vapour
    return 100.0 * (barometer * total - pressure - wet) / (constants.NITROGEN_ARGON_IN_AIR * dry)


def _oxygen_pressure(water: kernel.Water, oxygen: Array) -> Array:
    return oxygen * (constants.OXYGEN_IN_AIR * (constants.ATM - water.vapour) / water.held)


def parts(rows: Case) -> Parts:
    """What all explanations of a block share."""
    real = kernel.water(rows.temperature, rows.salinity)
    same = bool(np.array_equal(rows.salinity_meter, rows.salinity))
    meter = real if same else kernel.water(rows.temperature, rows.salinity_meter)
    fresh = kernel.water(rows.temperature, np.zeros_like(rows.temperature))
    dry = rows.barometer - meter.vapour
    gain = 100.0 / (constants.NITROGEN_ARGON_IN_AIR * dry)
    pressure = _oxygen_pressure(meter, rows.oxygen)
    base = gain * (rows.barometer * rows.total - pressure - meter.vapour)
    slopes = _slopes(rows, meter, gain, gain * pressure, base / dry)
    rounding = (
        np.square(rows.u_nitrogen)
        + (gain * rows.barometer * rows.u_total) ** 2
        + (slopes.oxygen * rows.u_oxygen) ** 2
    )
    u_t, u_s, u_b = _elsewhere(rows)
    systematic = (
        (slopes.temperature * u_t) ** 2
        + (slopes.salinity * u_s) ** 2
        + (slopes.barometer * u_b) ** 2
        + (gain * pressure * FORMULA) ** 2
    )
    ratio, ratio_variance = _ratio(rows, meter, dry)
    return Parts(
        real=real,
        meter=meter,
        fresh=fresh,
        gain=gain,
        base=base,
        by_oxygen=slopes.oxygen,
        by_temperature=slopes.temperature,
        by_salinity=slopes.salinity,
        by_barometer=slopes.barometer,
        oxygen_pressure=pressure,
        variance=rounding + systematic,
        systematic=systematic,
        ratio=ratio,
        ratio_variance=ratio_variance,
        shared=-slopes.oxygen * np.square(rows.u_oxygen) / rows.oxygen,
    )


@dataclass(frozen=True, slots=True)
class _Slopes:
    """Slopes of the nitrogen a meter shows."""

    oxygen: Array
    temperature: Array
    salinity: Array
    barometer: Array


def _slopes(rows: Case, meter: kernel.Water, gain: Array, per: Array, rest: Array) -> _Slopes:
    wet = constants.ATM - meter.vapour
    vapour_s = gases.VAPOUR[3] * meter.vapour
    air = {"percent": gain * rows.total, "delta": gain}.get(rows.kind, 0.0 * gain)
    return _Slopes(
        oxygen=-per / np.where(rows.oxygen == 0.0, 1.0, rows.oxygen),
        temperature=per * (meter.held_t + meter.vapour_t / wet) - (gain - rest) * meter.vapour_t,
        salinity=per * (meter.held_s + vapour_s / wet) - (gain - rest) * vapour_s,
        barometer=air - rest,
    )


def _elsewhere(rows: Case) -> tuple[Number, Number, Number]:
    """How far temperature, salinity and barometer may differ between the meter and what was given."""
    return (
        np.hypot(rows.u_temperature, ELSEWHERE["temperature"]),
        np.hypot(rows.u_salinity, ELSEWHERE["salinity"]),
        np.hypot(rows.u_barometer, ELSEWHERE["barometer"]),
    )


def _ratio(rows: Case, meter: kernel.Water, dry: Array) -> tuple[Array, Array]:
    """Logarithm of oxygen shown over what the % display makes of it, and its variance."""
    u_t, u_s, u_b = _elsewhere(rows)
    expected = 0.01 * rows.saturation * meter.held * (dry / (constants.ATM - meter.vapour))
    variance = (
        (rows.u_oxygen / rows.oxygen) ** 2
        + (rows.u_saturation / rows.saturation) ** 2
        + (meter.held_t * u_t) ** 2
        + (meter.held_s * u_s) ** 2
        + (u_b / dry) ** 2
        + FORMULA**2
    )
    return np.log(rows.oxygen / expected), variance


@dataclass(frozen=True, slots=True)
class Miss:
    """What an explanation leaves over in each closure, and what its own size may add to the spread.

    ``slope`` and ``ratio_slope`` are per unit of the cause's spread; ``sided`` is +1 or -1 where the size can
    only move the closure one way.
    """

    residual: Array
    ratio: Array
    slope: Number = 0.0
    ratio_slope: Number = 0.0
    sided: int = 0


def misses(rows: Case, p: Parts, second: bool) -> dict[str, Miss]:
    """Every explanation of these rows; those that need what is not known give NaN."""
    gap = rows.nitrogen - p.base
    even = p.ratio
    out = {"gas/closes": Miss(gap, even)}
    zero = rows.nitrogen - nitrogen_shown(p.fresh, rows.barometer, rows.total, rows.oxygen)
    fresh_ratio = (
        even
        + np.log(p.meter.held / p.fresh.held)
        - np.log((constants.ATM - p.meter.vapour) / (constants.ATM - p.fresh.vapour))
    )
    if rows.oxygen_as_percent:
        told = rows.oxygen * p.meter.held / p.fresh.held
        reverse = rows.nitrogen - nitrogen_shown(p.meter, rows.barometer, rows.total, told)
        out["gas/residual-salinity-zero"] = Miss(reverse, even)
    else:
        out["gas/meter-salinity-zero"] = Miss(zero, fresh_ratio)
        out["gas/residual-salinity-zero"] = Miss(zero, even)
        spread = CAUSES["gas/meter-salinity-other"].spread
        out["gas/meter-salinity-other"] = Miss(
            gap, even, p.by_salinity * spread, p.meter.held_s * spread if second else 0.0
        )
    out |= _barometers(rows, p, gap, even)
    out |= _arithmetic(rows, p, gap, even)
    return out


def _barometers(rows: Case, p: Parts, gap: Array, even: Array) -> dict[str, Miss]:
    """The meter's air pressure is another than the one given."""
    spread = CAUSES["gas/barometer-differs"].spread
    dry = rows.barometer - p.meter.vapour
    differs = {"gas/barometer-differs": Miss(gap, even, p.by_barometer * spread, spread / dry)}
    if not np.isfinite(rows.sea_level).any():
        return differs
    sea = rows.nitrogen - nitrogen_shown(p.meter, rows.sea_level, rows.ratio_at(rows.sea_level), rows.oxygen)
    lower = np.square(rows.barometer) / rows.sea_level
    ours = rows.nitrogen - nitrogen_shown(p.meter, lower, rows.ratio_at(lower), rows.oxygen)
    return differs | {
        "gas/barometer-sea-level": Miss(ours, even + np.log(dry / (lower - p.meter.vapour))),
        "gas/meter-barometer-absolute": Miss(sea, even + np.log(dry / (rows.sea_level - p.meter.vapour))),
        "gas/meter-barometer-differential": Miss(sea, even + np.log(dry / (rows.sea_level - p.meter.vapour))),
    }


def _arithmetic(rows: Case, p: Parts, gap: Array, even: Array) -> dict[str, Miss]:
    """The meter reckons otherwise: vapour, carbon dioxide, temperature, the share of air."""
    base, share = p.base, constants.NITROGEN_ARGON_IN_AIR
    dry_all = (rows.barometer * rows.total - p.oxygen_pressure) / (share * rows.barometer) * 100.0
    out = {
        "gas/vapour-not-subtracted": Miss(gap - p.gain * p.meter.vapour, even),
        "gas/vapour-left-out": Miss(rows.nitrogen - dry_all, even),
        "gas/nitrogen-alone": Miss(rows.nitrogen - base * (share / NITROGEN_ALONE), even),
        "gas/rest-of-air": Miss(rows.nitrogen - base * (share / ALL_BUT_OXYGEN), even),
        "gas/temperature-of-residual": Miss(
            gap, even, p.by_temperature * CAUSES["gas/temperature-of-residual"].spread
        ),
    }
    spread = CAUSES["gas/carbon-dioxide"].spread
    out["gas/carbon-dioxide"] = Miss(gap, even, p.gain * spread, sided=-1)
    return out


def oxygen_misses(p: Parts) -> dict[str, Miss]:
    """Explanations where only the meter's two oxygen figures can be held against each other."""
    none = np.zeros_like(p.ratio)
    wet = np.log((constants.ATM - p.meter.vapour) / (constants.ATM - p.fresh.vapour))
    spread = CAUSES["gas/oxygen-salinity-other"].spread
    # a % display against one atmosphere: the shown % is lower than the local one by dry/(atm - vapour)
    dry = 100.0 / (constants.NITROGEN_ARGON_IN_AIR * p.gain)
    return {
        "gas/closes": Miss(none, p.ratio),
        "gas/oxygen-salinity-zero": Miss(none, p.ratio + np.log(p.meter.held / p.fresh.held) - wet),
        "gas/oxygen-salinity-other": Miss(none, p.ratio, 0.0, p.meter.held_s * spread),
        "gas/percent-at-sea-level": Miss(none, p.ratio + np.log(dry / (constants.ATM - p.meter.vapour))),
    }


def weigh(found: Mapping[str, Miss], p: Parts, first: bool, second: bool) -> tuple[Array, Array]:
    """Log of the predictive density and p-value of each explanation and row, in the order of `CODES`.

    Parameters
    ----------
    found : mapping
        Code to what it leaves over.
    first, second : bool
        Whether the nitrogen and the oxygen closure are there.

    Returns
    -------
    tuple of ndarray
        (explanations, rows) each; -inf and NaN where an explanation cannot be weighed.
    """
    size = p.base.size
    logs = np.full((len(CODES), size), -np.inf)
    fits = np.full((len(CODES), size), np.nan)
    twin: tuple[Array, Array] | None = None  # two rivals that leave the same over
    for place, code in enumerate(CODES):
        miss = found.get(code)
        if miss is None:
            continue
        if first and second:
            log, fit = _both(miss, p)
        elif first and code == "gas/residual-salinity-zero" and twin is not None:
            log, fit = twin
        elif first:
            log, fit = _one(miss.residual, p.variance, miss.slope, miss.sided)
            twin = (log, fit) if code == "gas/meter-salinity-zero" else twin
        else:
            log, fit = _one(miss.ratio, p.ratio_variance, miss.ratio_slope, 0)
        good = np.isfinite(log)
        logs[place] = np.where(good, log, -np.inf)
        fits[place] = np.where(good, fit, np.nan)
    return logs, fits


_ROOT = math.sqrt(0.5)
_HALF_LOG = 0.5 * math.log(2.0 * math.pi)


def _erfc(x: Array) -> Array:
    """Complementary error function: SciPy's where there are many rows, the standard library's for a few."""
    if x.size < 64:
        return np.array([math.erfc(v) for v in x])
    from scipy import special

    return np.asarray(special.erfc(x))


def _one(left: Array, variance: Array, slope: Number, sided: int) -> tuple[Array, Array]:
    """One closure: normal, or skewed (normal plus half-normal) where the size moves it one way only."""
    own = np.square(slope)
    spread = variance + own
    z = left / np.sqrt(spread)
    log = -0.5 * np.square(z) - 0.5 * np.log(spread) - _HALF_LOG
    if not sided:
        return log, _erfc(np.abs(z) * _ROOT)
    alpha = sided * np.sqrt(own / variance)
    log = log + np.log(np.maximum(_erfc(-alpha * z * _ROOT), 1e-300))
    against = sided * left < 0.0
    return log, _erfc(np.where(against, np.abs(left) / np.sqrt(variance), np.abs(z)) * _ROOT)


def _both(miss: Miss, p: Parts) -> tuple[Array, Array]:
    """Both closures at once: normal in two dimensions, the shared oxygen digit counted in both."""
    a = p.variance + np.square(miss.slope)
    b = p.ratio_variance + np.square(miss.ratio_slope)
    c = p.shared + miss.slope * miss.ratio_slope
    det = a * b - c * c
    x, y = miss.residual, miss.ratio
    square = (b * x * x - 2.0 * c * x * y + a * y * y) / det
    log = -0.5 * square - 0.5 * np.log(det) - 2.0 * _HALF_LOG
    if miss.sided:
        log = np.where(miss.sided * x < 0.0, log - 3.0, log)
    return log, np.exp(-0.5 * square)


def test(rows: Case) -> tuple[Array, Array, Parts]:
    """Log densities and p-values of all explanations for one block of rows of one make-up.

    Every row must have the nitrogen figure or none, and the oxygen percentage or none.
    """
    with np.errstate(invalid="ignore", divide="ignore", over="ignore", under="ignore"):
        p = parts(rows)
        first = bool(np.isfinite(rows.nitrogen).any())
        second = bool(np.isfinite(rows.saturation).any()) and not rows.oxygen_as_percent
        found = misses(rows, p, second) if first else oxygen_misses(p)
        if first and np.any(np.asarray(rows.carbon_dioxide) > 0.0):
            gap = rows.nitrogen - p.base
            found = dict(found)
            # carbon dioxide is known: a meter that takes it off shows so much less
            found["gas/carbon-dioxide"] = Miss(gap + p.gain * rows.carbon_dioxide, p.ratio)
        logs, fits = weigh(found, p, first, second)
    return logs, fits, p


def shares(logs: Array, priors: Mapping[str, float] | None = None) -> Array:
    """Weights of the explanations, each column summing to one: prior times likelihood."""
    prior = np.array([(priors or {}).get(code, CAUSES[code].prior) for code in CODES])
    with np.errstate(divide="ignore", invalid="ignore"):
        full = logs + np.log(prior)[:, None]
        top = full.max(axis=0)
        weights = np.exp(full - np.where(np.isfinite(top), top, 0.0))
        return weights / weights.sum(axis=0)


def stack(cases: Sequence[Case]) -> Case:
    """One case from several of one row each, all of one kind."""
    first = cases[0]
    full: dict[str, Any] = {}
    for name in first.__slots__:
        value = getattr(first, name)
        if isinstance(value, (str, bool)):
            full[name] = value
        else:
            full[name] = np.array([np.ravel(getattr(one, name))[0] for one in cases], dtype=np.float64)
    return Case(**full)

"""Each explanation in a keeper's words, with the values that would hold if it is so."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from brinehouse import answers
from brinehouse.engines.gas_budget import closure, kernel, understanding
from brinehouse.science import constants

MMHG = understanding.MMHG
PERCENT_OR_WET = "read the meter's % saturation display too, or titrate oxygen by wet chemistry"


@dataclass(frozen=True, slots=True)
class Words:
    """What an explanation says, and the reading that would separate it from its rivals."""

    text: str
    next_reading: str


WORDS: Mapping[str, Words] = {
    "gas/closes": Words(
        "Nothing is wrong: rounding and small differences of settings are enough.",
        "nothing more for the settings; see what these numbers cannot show",
    ),
    "gas/meter-salinity-zero": Words(
        "The meter's salinity is set to 0: its mg/L are those of fresh water, about a fifth too high in sea"
        " water, and the percentage and nitrogen it works out are right.",
        f"look up the meter's salinity setting; {PERCENT_OR_WET}",
    ),
    "gas/residual-salinity-zero": Words(
        "The mg/L are right, and only the nitrogen was worked out as for fresh water.",
        f"{PERCENT_OR_WET}: it tells whether the mg/L or the nitrogen is at fault",
    ),
    "gas/meter-salinity-other": Words(
        "The meter's salinity setting is another than the water's.",
        f"look up the meter's salinity setting; {PERCENT_OR_WET}",
    ),
    "gas/temperature-of-residual": Words(
        "The nitrogen was worked out with another temperature.",
        "read the meter's own temperature beside a thermometer in the same water",
    ),
    "gas/barometer-differs": Words(
        "The meter's barometer stands apart from the one given.",
        "read the meter's own air pressure and write it down with the rest",
    ),
    "gas/barometer-sea-level": Words(
        "The air pressure given is a sea-level pressure; the meter's own is that of the place.",
        "read the meter's own air pressure, or ask the weather service for station pressure",
    ),
    "gas/meter-barometer-absolute": Words(
        "The meter reckons with a sea-level pressure and its cell reads absolutely: its total is too low.",
        "check what the dry cell reads in air: at this altitude it would be well below 100 %",
    ),
    "gas/meter-barometer-differential": Words(
        "The meter reckons with a sea-level pressure and its cell reads the difference from air.",
        "read the meter's own air pressure and compare it with the station's",
    ),
    "gas/vapour-not-subtracted": Words(
        "Water vapour was not taken off before the nitrogen was worked out.",
        "work the nitrogen out by hand from the same numbers, or try at a much lower temperature",
    ),
    "gas/vapour-left-out": Words(
        "Water vapour was left out of the nitrogen altogether, above the line and below it.",
        "work the nitrogen out by hand from the same numbers, or try at a much lower temperature",
    ),
    "gas/carbon-dioxide": Words(
        "The meter takes carbon dioxide off before it works the nitrogen out.",
        "work pCO₂ out from pH and alkalinity, and look into the meter's settings",
    ),
    "gas/nitrogen-alone": Words(
        "The nitrogen is shown against nitrogen alone, without argon.",
        "look in the meter's manual for what its nitrogen figure is a percentage of",
    ),
    "gas/rest-of-air": Words(
        "The nitrogen is shown against all of air but oxygen (0.79054 for 0.7902).",
        "look in the meter's manual for what its nitrogen figure is a percentage of",
    ),
    "gas/oxygen-salinity-zero": Words(
        "The meter's salinity is set to 0: its concentration is as in fresh water, its percentage is right.",
        "look up the meter's salinity setting; titrate oxygen by wet chemistry",
    ),
    "gas/oxygen-salinity-other": Words(
        "The salinity setting behind the concentration is another than the water's.",
        "look up the meter's salinity setting; measure salinity beside it",
    ),
    "gas/percent-at-sea-level": Words(
        "The oxygen percentage is against one atmosphere, not against the air of this place.",
        "check what the percentage reads in wet air: 100 % means local air",
    ),
}
"""Words for every explanation."""

UNITS: Mapping[str, tuple[str, float]] = {
    name: ("mmHg", 1.0 / MMHG) if unit == "Pa" else (unit, 1.0) for name, unit in kernel.OUTPUTS.items()
}
"""The unit in which each value is told, and the factor from the kernel's."""
TOLD = (
    "oxygen_percent",
    "nitrogen_percent",
    "oxygen_concentration",
    "total_gas_pressure",
    "delta_p",
    "uncompensated_delta_p",
    "compensation_depth",
)
"""Values that a corrected reading tells."""


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """One reading in the kernel's units: all that a budget needs."""

    temperature: float
    salinity: float
    barometer: float
    kind: kernel.Total
    total: float
    oxygen: float
    carbon_dioxide: float
    depth: float
    doubt: kernel.Doubt


def budget(state: State) -> dict[str, answers.Value]:
    """The values of one reading, in the units a person reads."""
    here = (state.temperature, state.salinity, state.barometer, state.total, state.oxygen)
    columns = [np.array([value]) for value in here]
    found = kernel.run(
        state.kind,
        columns[0],
        columns[1],
        columns[2],
        columns[3],
        columns[4],
        state.carbon_dioxide,
        state.depth,
        state.doubt,
    )
    out: dict[str, answers.Value] = {}
    for name, (unit, factor) in UNITS.items():
        value, u = float(found[name][0]) * factor, float(found[f"u:{name}"][0]) * factor
        out[name] = answers.Value(value=value, unit=unit, u=u)
    depth = out["compensation_depth"]
    low, high = depth.interval() or (0.0, 0.0)
    out["compensation_depth"] = replace(depth, low=max(low, 0.0), high=max(high, 0.0))
    return out


@dataclass(frozen=True, slots=True)
class Setting:
    """What surrounds the correction of one reading: the rows as tested, and the closure's parts."""

    state: State
    case: closure.Case
    parts: closure.Parts


Correction = Callable[[Setting], tuple[State, dict[str, answers.Value]]]


def _oxygen_times(state: State, factor: float) -> State:
    return replace(
        state,
        oxygen=state.oxygen * factor,
        doubt=replace(state.doubt, oxygen=np.multiply(state.doubt.oxygen, factor)),
    )


def _as_typed(setting: Setting) -> tuple[State, dict[str, answers.Value]]:
    return setting.state, {}


def _salinity_zero(setting: Setting) -> tuple[State, dict[str, answers.Value]]:
    factor = float(setting.parts.meter.held[0] / setting.parts.fresh.held[0])
    zero = answers.Value(value=0.0, unit="PSU", u=0.0)
    return _oxygen_times(setting.state, factor), {"meter_salinity": zero}


def _residual_zero(setting: Setting) -> tuple[State, dict[str, answers.Value]]:
    return setting.state, {"residual_salinity": answers.Value(value=0.0, unit="PSU", u=0.0)}


def _salinity_other(setting: Setting) -> tuple[State, dict[str, answers.Value]]:
    """The setting that would close, by bisection: closure falls steadily as the setting rises."""
    p, rows = setting.parts, setting.case
    use_ratio = not np.isfinite(rows.nitrogen[0])

    def left(salinity: float) -> float:
        water = kernel.water(rows.temperature[:1], np.array([salinity]))
        if use_ratio:
            return float(p.ratio[0] + np.log(p.meter.held[0] / water.held[0]))
        told = closure.nitrogen_shown(water, rows.barometer[:1], rows.total[:1], rows.oxygen[:1])
        return float(rows.nitrogen[0] - told[0])

    low, high = 0.0, 60.0
    rising = left(high) > left(low)
    for _ in range(50):
        middle = 0.5 * (low + high)
        if (left(middle) > 0.0) == rising:
            high = middle
        else:
            low = middle
    implied = 0.5 * (low + high)
    slope = p.meter.held_s[0] if use_ratio else p.by_salinity[0]
    variance = p.ratio_variance[0] if use_ratio else p.variance[0]
    u = math.sqrt(float(variance)) / max(abs(float(slope)), 1e-9)
    water = kernel.water(rows.temperature[:1], np.array([implied]))
    factor = float(p.meter.held[0] / water.held[0])
    return _oxygen_times(setting.state, factor), {
        "meter_salinity": answers.Value(value=implied, unit="PSU", u=u)
    }


def _implied(
    name: str, unit: str, slope: Callable[[closure.Parts], float], factor: float = 1.0
) -> Correction:
    """The one number that would close, from the closure over its slope."""

    def correct(setting: Setting) -> tuple[State, dict[str, answers.Value]]:
        p, rows = setting.parts, setting.case
        by = slope(p)
        gap = float(rows.nitrogen[0] - p.base[0])
        here = {"meter_temperature": setting.state.temperature, "meter_barometer": setting.state.barometer}
        value = here.get(name, 0.0) + gap / by
        u = math.sqrt(float(p.variance[0])) / abs(by)
        return setting.state, {name: answers.Value(value=value * factor, unit=unit, u=u * factor)}

    return correct


def _ours_is_sea_level(setting: Setting) -> tuple[State, dict[str, answers.Value]]:
    state = setting.state
    lower = state.barometer**2 / float(setting.case.sea_level[0])
    said = answers.Value(value=lower / MMHG, unit="mmHg", u=float(np.mean(state.doubt.barometer)) / MMHG)
    return replace(state, barometer=lower), {"barometer": said}


def _absolute_cell(setting: Setting) -> tuple[State, dict[str, answers.Value]]:
    state, sea = setting.state, float(setting.case.sea_level[0])
    said = {"meter_barometer": answers.Value(value=sea / MMHG, unit="mmHg", u=0.0)}
    if state.kind != "percent":
        return state, said
    factor = sea / state.barometer
    doubt = replace(state.doubt, total=np.multiply(state.doubt.total, factor))
    return replace(state, total=state.total * factor, doubt=doubt), said


def _differential_cell(setting: Setting) -> tuple[State, dict[str, answers.Value]]:
    state, sea = setting.state, float(setting.case.sea_level[0])
    said = {"meter_barometer": answers.Value(value=sea / MMHG, unit="mmHg", u=0.0)}
    if state.kind != "percent":
        return state, said
    return replace(state, total=100.0 + (state.total - 100.0) * sea / state.barometer), said


def _percent_at_sea_level(setting: Setting) -> tuple[State, dict[str, answers.Value]]:
    return setting.state, {}


CORRECTIONS: Mapping[str, Correction] = {
    "gas/meter-salinity-zero": _salinity_zero,
    "gas/oxygen-salinity-zero": _salinity_zero,
    "gas/residual-salinity-zero": _residual_zero,
    "gas/meter-salinity-other": _salinity_other,
    "gas/oxygen-salinity-other": _salinity_other,
    "gas/temperature-of-residual": _implied("meter_temperature", "°C", lambda p: float(p.by_temperature[0])),
    "gas/barometer-differs": _implied(
        "meter_barometer", "mmHg", lambda p: float(p.by_barometer[0]), 1.0 / MMHG
    ),
    "gas/carbon-dioxide": _implied(
        "carbon_dioxide_pressure", "mmHg", lambda p: -float(p.gain[0]), 1.0 / MMHG
    ),
    "gas/barometer-sea-level": _ours_is_sea_level,
    "gas/meter-barometer-absolute": _absolute_cell,
    "gas/meter-barometer-differential": _differential_cell,
    "gas/percent-at-sea-level": _percent_at_sea_level,
}
"""How an explanation changes the reading; those not named leave it as typed."""


def put_right(code: str, state: State, case: closure.Case) -> State:
    """The reading as it would be if an explanation holds."""
    _, _, parts = closure.test(case)
    changed, _ = CORRECTIONS.get(code, _as_typed)(Setting(state, case, parts))
    return changed


FITS = 0.05
"""p-value of the closure from which on a visit is said to fit an explanation."""


def explain(
    state: State, case: closure.Case, known: Mapping[str, float] | None = None
) -> tuple[answers.Explanation, ...]:
    """Explanations of one reading, by weight; those that neither fit nor weigh are left out.

    Where many visits were weighed already, `known` holds the shares.
    """
    logs, fits, parts = closure.test(case)
    weights = closure.shares(logs)[:, 0]
    if known is not None:
        weights = np.array([known.get(code, 0.0) for code in closure.CODES])
    setting = Setting(state, case, parts)
    found: list[answers.Explanation] = []
    for place, code in enumerate(closure.CODES):
        fit, weight = float(fits[place, 0]), float(weights[place])
        if not math.isfinite(fit) or (weight < 1e-3 and fit < 1e-2 and code != "gas/closes"):
            continue
        changed, implied = CORRECTIONS.get(code, _as_typed)(setting)
        values = budget(changed)
        found.append(
            answers.Explanation(
                code=code,
                text=WORDS[code].text,
                fit=fit,
                weight=weight,
                corrected={name: values[name] for name in TOLD} | implied,
                next_reading=WORDS[code].next_reading,
                visits=(int(fit >= FITS), 1),
            )
        )
    return tuple(sorted(found, key=lambda one: -one.weight))


def corrected_oxygen_factor(temperature: float, salinity: float, setting: float) -> float:
    """True mg/L for each mg/L shown by a meter that feels oxygen's pressure and reckons with `setting`."""
    warm = np.array([temperature, temperature])
    water = kernel.water(warm, np.array([salinity, setting]))
    wet = constants.ATM - water.vapour
    return float(water.held[0] / water.held[1] * wet[1] / wet[0])

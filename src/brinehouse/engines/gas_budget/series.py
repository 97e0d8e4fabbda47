"""A series of oxygen and total gas pressure, as an optode and a pressure gauge on one loop write it.

What only was assumed (salinity, air pressure) stays marked as such in every answer. Two thermometers that
disagree give two answers, and the reading that would decide between them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse import answers, findings, units
from brinehouse.engines.gas_budget import closure, explaining, kernel, question, understanding
from brinehouse.science import constants, gases

Array = NDArray[np.float64]

UNITS: Mapping[str, tuple[str, str, str]] = {
    "oxygen_percent": ("percent", "%", "%"),
    "oxygen": ("amount concentration", "µmol/L", "µmol/L"),
    "temperature": ("temperature", "°C", "°C"),
    "second_temperature": ("temperature", "°C", "°C"),
    "total_gas_pressure": ("pressure", "mbar", "Pa"),
    "salinity": ("salinity", "PSU", "PSU"),
    "barometer": ("pressure", "mbar", "Pa"),
}
"""Column: kind, unit unless another is told, and the unit it is worked with."""
STEPS = {"oxygen": 0.001 * kernel.PER_MICROMOLE, "oxygen_percent": 0.001, "temperature": 0.001}
ASSUMED_U = {"salinity": 1.0, "barometer": understanding.WEATHER}
"""How far an assumed value may be off: u. common practice, no source."""


@dataclass(frozen=True, slots=True)
class _Series:
    """Columns as worked with, and which of them were only assumed."""

    columns: Mapping[str, Array]
    assumed: tuple[str, ...]
    texts: Mapping[str, str]

    def of(self, name: str) -> Array:
        return self.columns[name]


def examine_series(
    columns: Mapping[str, ArrayLike],
    *,
    assumed: Mapping[str, float] | None = None,
    units_of: Mapping[str, str] | None = None,
) -> answers.Answer:
    """What a series says of the water, and whether its own columns can be true together.

    Parameters
    ----------
    columns : mapping
        ``oxygen_percent`` (%), ``oxygen`` (µmol/L), ``temperature`` (°C), ``total_gas_pressure`` (mbar), and
        where there is one the gauge's own ``second_temperature`` (°C); ``salinity`` and ``barometer`` (mbar)
        where they were measured. Rows with a gap in a needed column are left out.
    assumed : mapping, optional
        ``salinity`` and ``barometer`` (in mbar) where nobody measured them.
    units_of : mapping, optional
        Units of columns that have another than these.

    Returns
    -------
    Answer
        Values are medians over the rows; the tables hold their spread.
    """
    series, missing = _read(columns, assumed or {}, units_of or {})
    if series is None:
        return _refused(missing)
    shown = _concentration(series)
    by_water, by_gauge = _nitrogen(series)
    values = _values(series, by_water)
    said = [*_assumptions(series), *shown.findings, *_temperatures(series, by_water, by_gauge)]
    rows = [_line("water's thermometer", series.of("temperature"), by_water)]
    if by_gauge is not None:
        rows.append(_line("gauge's thermometer", series.of("second_temperature"), by_gauge))
    unseen = (*question.NOT_EXCLUDED, question.CARBON_DIOXIDE_UNSEEN)
    hints = [one.hint for one in said if one.hint]
    return answers.Answer(
        question=question.QUESTION,
        sentence=_sentence(shown, by_water, by_gauge),
        state="does-not-close" if shown.explanations and _refuses(shown) else "closes",
        values={**values, **shown.values},
        tables=(
            answers.Table(
                name="nitrogen",
                title="Nitrogen + argon by either thermometer",
                columns=(
                    answers.Output(name="thermometer", label="Taken at", unit=""),
                    answers.Output(name="temperature", label="Temperature", unit="°C", decimals=1),
                    answers.Output(name="nitrogen_percent", label="N₂+Ar", unit="%", decimals=1),
                ),
                rows=tuple(rows),
            ),
        ),
        findings=tuple(said),
        explanations=shown.explanations,
        not_excluded=unseen,
        next_readings=tuple(dict.fromkeys([*hints, *(one.next_reading for one in unseen)])),
        working=_working(series, shown),
        used=series.of("temperature").size,
    )


def _read(
    columns: Mapping[str, ArrayLike], assumed: Mapping[str, float], told: Mapping[str, str]
) -> tuple[_Series | None, list[str]]:
    needed = ("oxygen_percent", "oxygen", "temperature", "total_gas_pressure")
    missing = [name for name in needed if name not in columns]
    missing += [name for name in ("salinity", "barometer") if name not in columns and name not in assumed]
    if missing:
        return None, missing
    guessed = tuple(name for name in ("salinity", "barometer") if name not in columns)
    full: dict[str, Array] = {}
    size = np.asarray(columns["temperature"]).size
    for name, (kind, unit, target) in UNITS.items():
        given = columns[name] if name in columns else assumed.get(name) if name in guessed else None
        if given is None:
            continue
        column = np.broadcast_to(np.asarray(given, dtype=np.float64), (size,))
        full[name] = np.asarray(units.convert(column, told.get(name, unit), target, kind), dtype=np.float64)
    whole = np.isfinite(np.array([full[name] for name in needed])).all(axis=0)
    if not whole.any():
        return None, ["a row without gaps"]
    texts = {name: f"{assumed[name]:g} {UNITS[name][1]}" for name in guessed}
    return _Series({name: column[whole] for name, column in full.items()}, guessed, texts), []


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """What the concentration column was made with, from its own ratio to the percentage."""

    values: Mapping[str, answers.Value]
    explanations: tuple[answers.Explanation, ...]
    findings: tuple[findings.Finding, ...]
    implied: float
    ratio: Array


def _concentration(series: _Series) -> _Shown:
    """Hold the concentration against the percentage: their ratio is the solubility the meter used."""
    warm, salt = series.of("temperature"), series.of("salinity")
    milligrams = series.of("oxygen") * kernel.PER_MICROMOLE
    fresh = kernel.water(warm, np.zeros_like(warm))
    used = milligrams / (0.01 * series.of("oxygen_percent"))  # mg/L at 100 %: free of the salinity assumed
    implied = _implied_salinity(warm, used)
    middle = int(np.argsort(implied)[implied.size // 2])
    here = kernel.water(warm, salt)
    true = 0.01 * series.of("oxygen_percent") * here.held / kernel.PER_MICROMOLE
    ratio = np.log(used / fresh.held)
    state, case = _as_case(series, middle)
    found = explaining.explain(state, case)
    saw = answers.Value(
        value=float(np.median(implied)),
        unit="PSU",
        u=math.hypot(closure.FORMULA / abs(float(fresh.held_s[middle])), float(np.std(implied))),
    )
    values = {
        "implied_salinity": saw,
        "oxygen_shown": answers.Value(value=float(np.median(series.of("oxygen"))), unit="µmol/L"),
        "oxygen_true": answers.Value(
            value=float(np.median(true)),
            unit="µmol/L",
            u=float(np.median(true * np.abs(here.held_s))) * ASSUMED_U["salinity"]
            if "salinity" in series.assumed
            else None,
        ),
    }
    return _Shown(
        values=values,
        explanations=found,
        findings=_concentration_findings(series, found, saw, values),
        implied=float(np.median(implied)),
        ratio=ratio,
    )


def _implied_salinity(temperature: Array, held: Array) -> Array:
    """The salinity at which water holds so many mg/L in balance with air, by Newton's method."""
    salinity = np.zeros_like(temperature)
    for _ in range(6):
        water = kernel.water(temperature, salinity)
        salinity = salinity - np.log(water.held / held) / water.held_s
    return salinity


def _as_case(series: _Series, row: int) -> tuple[explaining.State, closure.Case]:
    """One row, whose ratio is the middle one, as a reading typed by hand."""
    at = {name: float(column[row]) for name, column in series.columns.items()}
    oxygen = at["oxygen"] * kernel.PER_MICROMOLE
    state = explaining.State(
        temperature=at["temperature"],
        salinity=at["salinity"],
        barometer=at["barometer"],
        kind="pressure",
        total=at["total_gas_pressure"],
        oxygen=oxygen,
        carbon_dioxide=0.0,
        depth=0.0,
        doubt=_doubt(series),
    )
    # an optode's percentage is of one atmosphere of moist air, whatever the weather
    case = closure.case(
        temperature=at["temperature"],
        salinity=at["salinity"],
        barometer=constants.ATM,
        total=1.0,
        oxygen=oxygen,
        saturation=at["oxygen_percent"],
        u_oxygen=STEPS["oxygen"] / math.sqrt(12.0),
        u_saturation=STEPS["oxygen_percent"] / math.sqrt(12.0),
        u_temperature=STEPS["temperature"] / math.sqrt(12.0),
    )
    return state, case


def _doubt(series: _Series) -> kernel.Doubt:
    default = {name: value for name, (value, _) in understanding.DEFAULTS.items()}
    sure = {name: ASSUMED_U[name] if name in series.assumed else default[name] for name in ASSUMED_U}
    return kernel.Doubt(
        temperature=default["temperature"],
        salinity=sure["salinity"],
        barometer=sure["barometer"],
        total=0.01 * default["tgp"] * constants.ATM,
        oxygen=default["oxygen"],
    )


def _refuses(shown: _Shown) -> bool:
    closes = next((one for one in shown.explanations if one.code == "gas/closes"), None)
    return closes is None or (closes.fit or 0.0) < 0.01


def _concentration_findings(
    series: _Series,
    found: tuple[answers.Explanation, ...],
    saw: answers.Value,
    values: Mapping[str, answers.Value],
) -> tuple[findings.Finding, ...]:
    best = found[0]
    if best.code == "gas/closes":
        return ()
    assumed = " (assumed)" if "salinity" in series.assumed else ""
    salt = float(np.median(series.of("salinity")))
    text = (
        f"The concentration column was made at salinity {saw.value:.1f} (±{1.96 * (saw.u or 0.0):.1f}), by"
        f" its own ratio to the percentage: at salinity {salt:g}{assumed} its median is"
        f" {values['oxygen_true'].value:.0f} and not {values['oxygen_shown'].value:.0f} µmol/L; the"
        " percentage is not touched"
    )
    return (
        findings.Finding(
            code=best.code,
            level=findings.Level.ASK,
            text=text,
            hint=best.next_reading,
            data={"implied_salinity": saw.value},
        ),
    )


# ---------------------------------------------------------------------------------------------------
# Nitrogen by either thermometer


def _nitrogen(series: _Series) -> tuple[Array, Array | None]:
    """Nitrogen + argon in % of saturation at the water's temperature, the gauge's water being at either.

    Where the gauge's water stood warmer, the same gas pressed harder there: amounts stay, pressures do not.
    """
    warm, salt, air = (series.of(name) for name in ("temperature", "salinity", "barometer"))
    total = series.of("total_gas_pressure")
    wet = gases.vapour_pressure(warm, salt)
    dry = air - wet
    held = gases.oxygen_at_saturation(warm, salt)
    oxygen = 0.01 * series.of("oxygen_percent") * held
    pressure = gases.oxygen_partial_pressure(oxygen, warm, salt)
    by_water = 100.0 * (total - pressure - wet) / (constants.NITROGEN_ARGON_IN_AIR * dry)
    if "second_temperature" not in series.columns:
        return by_water, None
    gauge = series.of("second_temperature")
    there = total - gases.oxygen_partial_pressure(oxygen, gauge, salt) - gases.vapour_pressure(gauge, salt)
    amount = gases.nitrogen_at_saturation(gauge, salt) / (constants.ATM - gases.vapour_pressure(gauge, salt))
    moved = there * amount / gases.nitrogen_at_saturation(warm, salt) * (constants.ATM - wet)
    return by_water, 100.0 * moved / (constants.NITROGEN_ARGON_IN_AIR * dry)


def _temperatures(series: _Series, by_water: Array, by_gauge: Array | None) -> list[findings.Finding]:
    if by_gauge is None:
        return []
    apart = float(np.nanmedian(series.of("second_temperature") - series.of("temperature")))
    if abs(apart) < 0.4:
        return []
    text = (
        f"The second thermometer stands {apart:+.1f} °C from the water's (median): nitrogen + argon is"
        f" {np.nanmedian(by_water):.0f} % if the gauge's water was at the water's temperature, and"
        f" {np.nanmedian(by_gauge):.0f} % if it was at the gauge's own; these columns cannot decide"
    )
    hint = "Measure the temperature of the water that leaves the gauge, at the rate of flow in use."
    return [
        findings.Finding(
            code="gas/two-temperatures",
            level=findings.Level.ASK,
            text=text,
            hint=hint,
            data={"apart": apart},
        )
    ]


def _values(series: _Series, by_water: Array) -> dict[str, answers.Value]:
    """Medians, with the uncertainty of a row near the middle."""
    row = int(np.argsort(by_water)[by_water.size // 2])
    at = {name: float(column[row]) for name, column in series.columns.items()}
    per = kernel.water(np.array([at["temperature"]]), np.array([at["salinity"]]))
    oxygen = 0.01 * at["oxygen_percent"] * float(per.held[0])
    state = explaining.State(
        temperature=at["temperature"],
        salinity=at["salinity"],
        barometer=at["barometer"],
        kind="pressure",
        total=at["total_gas_pressure"],
        oxygen=oxygen,
        carbon_dioxide=0.0,
        depth=0.0,
        doubt=_doubt(series),
    )
    found = explaining.budget(state)
    total, air = series.of("total_gas_pressure"), series.of("barometer")
    middles = {
        "oxygen_percent": float(np.median(series.of("oxygen_percent"))),
        "nitrogen_percent": float(np.median(by_water)),
        "total_gas_pressure": float(np.median(100.0 * total / air)),
        "delta_p": float(np.median(total - air)) / understanding.MMHG,
    }
    return {
        name: answers.Value(value=middle, unit=found[name].unit, u=found[name].u)
        for name, middle in middles.items()
    }


def _line(name: str, temperature: Array, nitrogen: Array) -> dict[str, object]:
    def spread(column: Array, unit: str) -> answers.Value:
        low, middle, high = (float(v) for v in np.nanpercentile(column, [2.5, 50.0, 97.5]))
        return answers.Value(value=middle, unit=unit, low=low, high=high)

    return {
        "thermometer": name,
        "temperature": spread(temperature, "°C"),
        "nitrogen_percent": spread(nitrogen, "%"),
    }


def _assumptions(series: _Series) -> list[findings.Finding]:
    reading = {
        "salinity": "read salinity with a conductivity meter beside the optode",
        "barometer": "log the air pressure with the rest",
    }
    label = {"salinity": "Salinity", "barometer": "Air pressure"}
    return [
        findings.Finding(
            code="gas/assumed",
            level=findings.Level.NOTE,
            text=f"{label[name]} {series.texts[name]} was assumed and not measured: what follows rests on it",
            hint=reading[name],
        )
        for name in series.assumed
    ]


def _sentence(shown: _Shown, by_water: Array, by_gauge: Array | None) -> str:
    told = f"Nitrogen + argon is near {np.median(by_water):.0f} %"
    if by_gauge is not None and abs(np.nanmedian(by_gauge) - np.median(by_water)) > 2.0:
        told += f" by the water's thermometer and near {np.nanmedian(by_gauge):.0f} % by the gauge's own"
    if shown.explanations and _refuses(shown):
        return f"{told}; the concentration column was made at salinity {shown.implied:.0f}."
    return f"{told}."


def _working(series: _Series, shown: _Shown) -> tuple[answers.Step, ...]:
    note = "; ".join(f"{name} {series.texts[name]} assumed" for name in series.assumed)
    return (
        answers.Step(
            name="implied_salinity",
            equation="S where O2sol(T, S) = concentration / (percentage / 100)",
            inputs={"rows": (float(series.of("temperature").size), "")},
            result=shown.implied,
            unit="PSU",
            source="Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312, eq. 8 corrected, table 1",
            note="free of the salinity assumed",
        ),
        answers.Step(
            name="nitrogen_percent",
            equation="100 (P - pO2 - pH2O)/(0.7902 (BP - pH2O)), pO2 from the percentage of one atmosphere",
            inputs={
                "S": (float(np.median(series.of("salinity"))), "PSU"),
                "BP": (float(np.median(series.of("barometer"))) / 100.0, "mbar"),
            },
            result=None,
            unit="%",
            source="Colt (1984), Am. Fish. Soc. Spec. Publ. 14, as the SM 2810 form has it (from memory)",
            note=note,
        ),
    )


def _refused(missing: list[str]) -> answers.Answer:
    names = " and ".join(name.replace("_", " ") for name in missing)
    finding = findings.Finding(
        code="gas/not-enough",
        level=findings.Level.STOP,
        text=f"A series needs {names}",
        hint=f"give a column of {names}; salinity and barometer may be assumed",
    )
    return answers.Answer(
        question=question.QUESTION,
        sentence=f"No budget yet: {finding.text}.",
        state="not-enough",
        findings=(finding,),
    )

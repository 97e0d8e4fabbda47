"""The budget over whole columns: values with uncertainty, and explanations, a block of rows at a time."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse import findings, glossary, units
from brinehouse.engines.gas_budget import closure, explaining, kernel, question, understanding
from brinehouse.science import constants

Array = NDArray[np.float64]
Number = float | Array

UNITS: Mapping[str, str] = {
    "temperature": "°C",
    "salinity": "PSU",
    "barometer": "mmHg",
    "tgp": "%",
    "delta_p": "mmHg",
    "oxygen": "mg/L",
    "saturation": "%",
    "nitrogen": "%",
    "carbon_dioxide": "µatm",
    "depth": "m",
    "meter_salinity": "PSU",
}
"""Columns that a budget takes, each with the unit it has unless another is told."""
KINDS: Mapping[str, tuple[str, str]] = {
    "temperature": ("temperature", "°C"),
    "salinity": ("salinity", "PSU"),
    "barometer": ("pressure", "Pa"),
    "delta_p": ("pressure", "Pa"),
    "saturation": ("percent", "%"),
    "nitrogen": ("percent", "%"),
    "carbon_dioxide": ("pressure", "Pa"),
    "depth": ("length", "m"),
    "meter_salinity": ("salinity", "PSU"),
}
STEPS: Mapping[str, float] = {
    "temperature": 0.1,
    "salinity": 0.1,
    "barometer": 1.0,
    "tgp": 0.1,
    "oxygen": 0.01,
    "nitrogen": 0.1,
    "saturation": 0.1,
}
"""Steps of the display where nobody said, in the units of `UNITS`. common practice, no source."""
_SCALES = {name: factor for name, (_, factor) in explaining.UNITS.items()}
_HEADER = re.compile(r"(?P<name>[^()]+?)\s*(?:\((?P<unit>.*)\))?\s*")


@dataclass(frozen=True, slots=True)
class _Rows:
    """Columns in the kernel's units, broadcast to one length."""

    size: int
    kind: kernel.Total
    total: Array
    oxygen: Array
    columns: Mapping[str, Array]
    as_percent: bool

    def get(self, name: str, default: float) -> Number:
        return self.columns.get(name, default)


def _prepare(table: Mapping[str, ArrayLike], told: Mapping[str, str]) -> _Rows:
    unknown = set(table) - set(UNITS)
    if unknown:
        raise KeyError(f"no such column: {', '.join(sorted(unknown))}; a budget takes {', '.join(UNITS)}")
    given = {name: np.asarray(column, dtype=np.float64) for name, column in table.items()}
    size = max((column.size for column in given.values()), default=0)
    full = {
        name: np.broadcast_to(_to_kernel(name, column, told.get(name, UNITS[name])), (size,))
        for name, column in given.items()
        if name not in ("tgp", "oxygen")
    }
    for name in ("temperature", "salinity", "barometer"):
        if name not in full:
            raise KeyError(f"a budget needs the column {name}")
    kind, total = _total(given, full, told, size)
    oxygen, as_percent = _oxygen(given, full, told, kind, total, size)
    return _Rows(size, kind, total, oxygen, full, as_percent)


def _to_kernel(name: str, column: Array, unit: str) -> Array:
    kind, target = KINDS[name]
    return np.asarray(units.convert(column, unit, target, kind))


def _total(
    given: Mapping[str, Array], full: Mapping[str, Array], told: Mapping[str, str], size: int
) -> tuple[kernel.Total, Array]:
    if "tgp" in given:
        unit = told.get("tgp", "%")
        column = np.broadcast_to(given["tgp"], (size,))
        if units.unit(unit).symbol == "%":
            return "percent", column
        return "pressure", np.asarray(units.convert(column, unit, "Pa", "pressure"))
    if "delta_p" in full:
        return "delta", full["delta_p"]
    raise KeyError("a budget needs the column tgp or delta_p")


def _oxygen(
    given: Mapping[str, Array],
    full: Mapping[str, Array],
    told: Mapping[str, str],
    kind: kernel.Total,
    total: Array,
    size: int,
) -> tuple[Array, bool]:
    """Oxygen in mg/L: as read, from its percentage, or from total and nitrogen."""
    if "oxygen" in given:
        column = np.broadcast_to(given["oxygen"], (size,))
        return _milligrams(column, told.get("oxygen", "mg/L"), full), False
    if "saturation" not in full and "nitrogen" not in full:
        raise KeyError("a budget needs the column oxygen, saturation or nitrogen")
    out = np.empty(size)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for start in range(0, size, kernel.BLOCK):
            rows = slice(start, start + kernel.BLOCK)
            t, s, air = (full[name][rows] for name in ("temperature", "salinity", "barometer"))
            water = kernel.water(t, s)
            dry = air - water.vapour
            per = constants.OXYGEN_IN_AIR * (constants.ATM - water.vapour) / water.held
            if "saturation" in full:
                pressure = 0.01 * full["saturation"][rows] * constants.OXYGEN_IN_AIR * dry
            else:
                delta = kernel.total_gas(kind, total[rows], air, 0.0, 0.0)[0]
                rest = 0.01 * constants.NITROGEN_ARGON_IN_AIR * dry * full["nitrogen"][rows]
                pressure = delta + air - water.vapour - rest
            np.divide(pressure, per, out=out[rows])
    return out, "saturation" in full


def _milligrams(column: Array, unit: str, full: Mapping[str, Array]) -> Array:
    kinds = {found.kind for found in units.meanings(unit)}
    if "mass concentration" in kinds:
        return np.asarray(units.convert(column, unit, "mg/L", "mass concentration"))
    if "amount concentration" in kinds:
        return (
            np.asarray(units.convert(column, unit, "µmol/L", "amount concentration")) * kernel.PER_MICROMOLE
        )
    per = units.convert(column, unit, "µmol/kg", "amount content")
    out = np.empty(column.size)
    for start in range(0, column.size, kernel.BLOCK):
        rows = slice(start, start + kernel.BLOCK)
        litre = kernel.density(full["temperature"][rows], full["salinity"][rows]) * 1e-3
        np.multiply(per[rows], litre * kernel.PER_MICROMOLE, out=out[rows])
    return out


def columns(
    table: Mapping[str, ArrayLike],
    units_of: Mapping[str, str] | None = None,
    u: Mapping[str, Number] | None = None,
) -> dict[str, Array]:
    """Values of every row, each with its standard uncertainty under ``u_NAME``.

    Parameters
    ----------
    table : mapping
        Columns by the names of `UNITS`; numbers are broadcast. Needs temperature, salinity and barometer, one
        of tgp and delta_p, and one of oxygen, saturation and nitrogen.
    units_of : mapping, optional
        Units of columns that have another than `UNITS` says.
    u : mapping, optional
        Standard uncertainties of temperature (K), salinity, barometer (Pa), tgp (%, or Pa for pressures),
        oxygen (mg/L), carbon_dioxide (Pa) and depth (m), instead of `understanding.DEFAULTS`.

    Returns
    -------
    dict
        The question's outputs in their units. NaN in, NaN out.
    """
    rows = _prepare(table, units_of or {})
    stated = {name: value for name, (value, _) in understanding.DEFAULTS.items()}
    if rows.kind != "percent":
        stated["tgp"] = 0.01 * stated["tgp"] * constants.ATM
    said: dict[str, Number] = {**stated, **(u or {})}
    found = kernel.run(
        rows.kind,
        rows.columns["temperature"],
        rows.columns["salinity"],
        rows.columns["barometer"],
        rows.total,
        rows.oxygen,
        rows.get("carbon_dioxide", 0.0),
        rows.get("depth", 0.0),
        kernel.Doubt(
            temperature=said["temperature"],
            salinity=said["salinity"],
            barometer=said["barometer"],
            total=said["tgp"],
            oxygen=said["oxygen"],
            carbon_dioxide=said.get("carbon_dioxide", 0.0),
            depth=said["depth"] if "depth" in rows.columns else 0.0,
        ),
        _SCALES,
    )
    return {name.replace("u:", "u_"): column for name, column in found.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """Explanations of many rows.

    Attributes
    ----------
    codes : tuple of str
        One for each line of `fits` and `weights`.
    fits, weights : ndarray
        (codes, rows): p-value of the closure under each, and its share; NaN where it cannot be weighed.
    best : ndarray
        Index into `codes` for every row; -1 where there is nothing to test.
    """

    codes: tuple[str, ...]
    fits: Array
    weights: Array
    best: NDArray[np.int8]

    def fit(self, code: str) -> Array:
        """The p-values of one explanation."""
        return self.fits[self.codes.index(code)]


def explain_columns(
    table: Mapping[str, ArrayLike],
    units_of: Mapping[str, str] | None = None,
    steps: Mapping[str, float] | None = None,
    sea_level: ArrayLike = math.nan,
) -> Explained:
    """What would make each row's numbers true together.

    Parameters
    ----------
    table, units_of
        As for `columns`.
    steps : mapping, optional
        Steps of the display, in the units of `UNITS`, instead of `STEPS`.
    sea_level : array_like
        What a sea-level barometer would show, where that is known. [mmHg]

    Returns
    -------
    Explained
        P-values, weights and the best explanation of every row.
    """
    rows = _prepare(table, units_of or {})
    step = {**STEPS, **(steps or {})}
    rounded = {name: value / math.sqrt(12.0) for name, value in step.items()}
    full = _case(rows, rounded, np.asarray(sea_level, dtype=np.float64) * understanding.MMHG)
    fits = np.full((len(closure.CODES), rows.size), np.nan)
    weights = np.full_like(fits, np.nan)
    best = np.full(rows.size, -1, dtype=np.int8)
    for picked in _make_ups(full):
        for start in range(0, picked.size, kernel.BLOCK):
            block = picked[start : start + kernel.BLOCK]
            where: Any = slice(start, start + kernel.BLOCK) if picked.size == rows.size else block
            logs, fit, _ = closure.test(full.cut(where))
            share = closure.shares(logs)
            fits[:, where], weights[:, where] = fit, share
            some = np.isfinite(logs).any(axis=0)
            best[where] = np.where(some, np.argmax(np.where(some, share, 0.0), axis=0), -1)
    return Explained(codes=closure.CODES, fits=fits, weights=weights, best=best)


def _case(rows: _Rows, rounded: Mapping[str, float], sea_level: Array) -> closure.Case:
    air = rows.columns["barometer"]
    total, u_total = {
        "percent": (0.01 * rows.total, 0.01 * rounded["tgp"]),
        "delta": (1.0 + rows.total / air, understanding.MMHG * STEPS["barometer"] / math.sqrt(12.0) / air),
        "pressure": (rows.total / air, understanding.MMHG * STEPS["barometer"] / math.sqrt(12.0) / air),
    }[rows.kind]
    none = np.broadcast_to(np.float64(math.nan), (rows.size,))
    return closure.case(
        temperature=rows.columns["temperature"],
        salinity=rows.columns["salinity"],
        barometer=air,
        total=total,
        kind=rows.kind,
        oxygen=rows.oxygen,
        nitrogen=rows.columns.get("nitrogen", none),
        saturation=none if rows.as_percent else rows.columns.get("saturation", none),
        salinity_meter=rows.columns.get("meter_salinity", rows.columns["salinity"]),
        sea_level=sea_level,
        carbon_dioxide=rows.get("carbon_dioxide", 0.0),
        u_total=u_total,
        u_oxygen=rounded["oxygen"],
        u_nitrogen=rounded["nitrogen"],
        u_saturation=rounded["saturation"],
        u_temperature=rounded["temperature"],
        u_salinity=rounded["salinity"],
        u_barometer=rounded["barometer"] * understanding.MMHG,
        oxygen_as_percent=rows.as_percent,
    )


def _make_ups(full: closure.Case) -> list[NDArray[np.intp]]:
    """Rows grouped by which second figures they have."""
    first, second = np.isfinite(full.nitrogen), np.isfinite(full.saturation)
    groups = (first & second, first & ~second, ~first & second)
    return [np.flatnonzero(group) for group in groups if group.any()]


# ---------------------------------------------------------------------------------------------------
# Files: headers ``name (unit)``


def bulk(
    table: Mapping[str, ArrayLike], fixed: Mapping[str, str] | None = None
) -> tuple[dict[str, NDArray[Any]], tuple[findings.Finding, ...]]:
    """Values for the rows of a file.

    Parameters
    ----------
    table : mapping
        Columns by their headers, ``name (unit)``.
    fixed : mapping, optional
        Inputs typed once for all rows, as for one reading.

    Returns
    -------
    tuple
        New columns by headers of the same form, and findings; no columns where one of these stops.
    """
    named, told, found = _read_headers(table)
    stated = _read_fixed(fixed or {}, named, told, found)
    if any(finding.level is findings.Level.STOP for finding in found):
        return {}, tuple(found)
    try:
        values = columns(named, told, stated)
    except KeyError as why:
        return {}, (
            *found,
            _stop("gas/not-enough", str(why.args[0]), "name it in the header, e.g. 'tgp (%)'"),
        )
    added: dict[str, NDArray[Any]] = {}
    for name, (unit, _) in explaining.UNITS.items():
        added[f"{name} ({unit})"] = values[name]
        added[f"u_{name} ({unit})"] = values[f"u_{name}"]
    if "nitrogen" in named and ("oxygen" in named or "saturation" in named):
        added |= _explained(explain_columns(named, told))
    found += _range_findings(named, told)
    return added, tuple(found)


def _explained(got: Explained) -> dict[str, NDArray[Any]]:
    labels = np.array([*got.codes, ""], dtype=object)
    place = np.arange(got.best.size)
    weight = np.where(got.best >= 0, got.weights[got.best, place], np.nan)
    return {
        "closure_fit (1)": got.fit("gas/closes"),
        "explanation": labels[got.best],
        "explanation_weight (1)": weight,
    }


def _read_headers(
    table: Mapping[str, ArrayLike],
) -> tuple[dict[str, ArrayLike], dict[str, str], list[findings.Finding]]:
    named: dict[str, ArrayLike] = {}
    told: dict[str, str] = {}
    found: list[findings.Finding] = []
    words = {item.word: item.name for item in reversed(question.QUESTION.inputs) if item.name in UNITS}
    for header, column in table.items():
        match = _HEADER.fullmatch(header)
        name = _input_name(match["name"], words) if match else ""
        if not match or not name or name in named:
            text = f"column '{header}' is carried along and not used"
            found.append(findings.Finding(code="gas/column-unused", level=findings.Level.NOTE, text=text))
            continue
        unit = (match["unit"] or "").strip()
        fault = _unit_fault(header, name, unit)
        if fault:
            found.append(fault)
        named[name], told[name] = column, unit
    return named, told, found


def _input_name(word: str, words: Mapping[str, str]) -> str:
    plain = word.strip().lower().replace(" ", "_")
    if plain in UNITS:
        return plain
    quantity = glossary.quantity(word.strip())
    return words.get(quantity.word, "") if quantity else ""


def _unit_fault(header: str, name: str, unit: str) -> findings.Finding | None:
    example = f"write '{name} ({UNITS[name]})'"
    if not unit:
        return _stop("gas/column-unit", f"column '{header}' does not say its unit", example)
    kinds = {
        "tgp": ("percent", "pressure"),
        "oxygen": ("mass concentration", "amount concentration", "amount content"),
    }.get(name, (KINDS[name][0],) if name in KINDS else ())
    if {found.kind for found in units.meanings(unit)} & set(kinds):
        return None
    return _stop("gas/column-unit", f"column '{header}': '{unit}' is no unit of {name}", example)


def _read_fixed(
    fixed: Mapping[str, str],
    named: dict[str, ArrayLike],
    told: dict[str, str],
    found: list[findings.Finding],
) -> dict[str, Number]:
    """Inputs typed once for all rows go beside the columns; typed uncertainties come back."""
    known, faults = understanding.read(fixed)
    found += faults
    pairs = (
        ("temperature", known.temperature, "°C"),
        ("salinity", known.salinity, "PSU"),
        ("barometer", known.barometer, "Pa"),
        ("carbon_dioxide", known.carbon_dioxide, "Pa"),
        ("depth", known.depth, "m"),
    )
    stated: dict[str, Number] = {}
    for name, quantity, unit in pairs:
        if quantity is not None and name not in named:
            named[name], told[name] = quantity.value, unit
            stated[name] = quantity.u
    reader = understanding.Reader(fixed)
    for name in ("temperature", "salinity", "barometer", "tgp", "oxygen", "depth"):
        typed = reader.typed_u(f"u_{name}")
        if typed is not None:
            stated[name] = typed
    return stated


def _range_findings(named: Mapping[str, ArrayLike], told: Mapping[str, str]) -> list[findings.Finding]:
    found: list[findings.Finding] = []
    spans = {"temperature": (-2.0, 40.0), "salinity": (0.0, 42.0), "barometer": understanding.STATION}
    for name, (low, high) in spans.items():
        column = _to_kernel(name, np.atleast_1d(np.asarray(named[name], dtype=np.float64)), told[name])
        out = int(np.count_nonzero((column < low) | (column > high)))
        if out:
            text = f"{name} is outside the known range in {out} of {column.size} rows: take care with them"
            found.append(
                findings.Finding(
                    code="gas/out-of-range", level=findings.Level.ASK, text=text, hint="check column and unit"
                )
            )
    return found


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint)

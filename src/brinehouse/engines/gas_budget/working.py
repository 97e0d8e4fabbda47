"""How each number of a budget came about."""

from __future__ import annotations

from collections.abc import Mapping

from brinehouse import answers
from brinehouse.engines.gas_budget import completing, explaining, understanding

MMHG = understanding.MMHG
SOURCES = {
    "vapour": "Weiss and Price (1980), Mar. Chem. 8:347-359, eq. 10",
    "oxygen": "Garcia and Gordon (1992), Limnol. Oceanogr. 37(6):1307-1312, eq. 8 corrected, table 1",
    "total": "Colt (1984), Am. Fish. Soc. Spec. Publ. 14, eqs. 30 to 32",
    "residual": "Colt (1984), as the SM 2810 form has it (from memory)",
    "depth": "Colt (1984), Am. Fish. Soc. Spec. Publ. 14, eq. 54; density Fofonoff and Millard (1983)",
    "doubt": "JCGM 100:2008, 5.1.2, independent inputs",
}


def steps(
    ready: completing.Ready, state: explaining.State, values: Mapping[str, answers.Value]
) -> tuple[answers.Step, ...]:
    """The working of one reading, in the order of its arithmetic."""
    shown = tuple(
        answers.Step(
            name=name,
            equation=equation,
            inputs=inputs,
            result=values[name].value,
            unit=values[name].unit,
            source=source,
            note=note,
        )
        for name, equation, inputs, source, note in _rows(ready, state, values)
    )
    return (*shown, _doubt(ready))


Inputs = dict[str, tuple[float | str, str]]


def _rows(
    ready: completing.Ready, state: explaining.State, values: Mapping[str, answers.Value]
) -> tuple[tuple[str, str, Inputs, str, str], ...]:
    """Name, equation, inputs, source and note of each line."""
    air = state.barometer / MMHG
    wet = values["vapour_pressure"].value or 0.0
    place: Inputs = {"T": (state.temperature, "°C"), "S": (state.salinity, "PSU")}
    oxygen_pressure = 0.20946 * (air - wet) * (values["oxygen_percent"].value or 0.0) / 100.0
    total: Inputs = {"BP": (air, "mmHg"), "ΔP": (values["delta_p"].value or 0.0, "mmHg")}
    parts: Inputs = {
        "pO2": (oxygen_pressure, "mmHg"),
        "pH2O": (wet, "mmHg"),
        "pCO2": (state.carbon_dioxide / MMHG, "mmHg"),
    }
    without = "carbon dioxide was taken as none" if ready.known.carbon_dioxide is None else ""
    oxygen = place | {"DO": (state.oxygen, "mg/L"), "BP": (air, "mmHg")}
    percent = "O2 % = 100 DO/C(T, S) (760 - pH2O)/(BP - pH2O)"
    rest = "N2+Ar % = 100 (BP + ΔP - pO2 - pH2O - pCO2)/(0.7902 (BP - pH2O))"
    deep = total | {"z": (state.depth, "m")}
    line = "ΔP/(ρ g), 0 where ΔP is negative"
    return (
        ("vapour_pressure", "pH2O(T, S)", place, SOURCES["vapour"], ""),
        ("delta_p", "ΔP = TGP - BP", total, SOURCES["total"], _from(ready.total)),
        ("oxygen_percent", percent, oxygen, SOURCES["oxygen"], _from(ready.oxygen)),
        ("nitrogen_percent", rest, total | parts, SOURCES["residual"], without),
        ("compensation_depth", line, total | place, SOURCES["depth"], ""),
        ("uncompensated_delta_p", "ΔP - ρ g z", deep, SOURCES["depth"], ""),
    )


def _from(found: understanding.Quantity) -> str:
    return found.source if not found.text else f"as typed: {found.text}"


def _doubt(ready: completing.Ready) -> answers.Step:
    """Where every standard uncertainty came from."""
    place, known = ready.place, ready.known
    percent = known.total_kind == "percent"
    rows = (
        ("temperature", place.temperature, "K", 1.0),
        ("salinity", place.salinity, "PSU", 1.0),
        ("barometer", place.barometer, "mmHg", 1.0 / MMHG),
        ("total", ready.total, "%" if percent else "mmHg", 1.0 if percent else 1.0 / MMHG),
        ("oxygen", ready.oxygen, "mg/L", 1.0),
        ("depth", known.depth, "m", 1.0),
    )
    used: dict[str, tuple[float | str, str]] = {}
    notes: list[str] = []
    for name, found, unit, factor in rows:
        if found is None:
            continue
        used[f"u({name})"] = (found.u * factor, unit)
        if found.source:
            notes.append(f"{name}: {found.source}")
    return answers.Step(
        name="uncertainty",
        equation="u² = Σ (slope · u)²; the display's last digit adds its step/√12",
        inputs=used,
        result=None,
        unit="",
        source=SOURCES["doubt"],
        note="; ".join(notes),
    )

"""The latest budget of every place: the gas line, the animals above or below it, and the limits."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from brinehouse import answers, findings
from brinehouse.engines.gas_budget import completing, explaining, meters, shelves, understanding, visits
from brinehouse.facility import model

MMHG = understanding.MMHG
OLD = timedelta(days=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """The latest budget of one place."""

    visit: visits.Visit
    values: Mapping[str, answers.Value]
    animals_at: float | None
    margin: answers.Value | None
    changed: str  # code of the explanation that was used to put it right


def row(facility: model.Facility, visit: visits.Visit, known: Sequence[meters.Meter]) -> Row:
    """The budget of one visit, put right where the meter's course says for sure how."""
    assert visit.ready is not None
    state, changed = completing.state(visit.ready), ""
    meter = next((one for one in known if one.name == visit.instrument), None)
    if meter is not None and meter.trouble and visit.triple:
        case = completing.as_case(visit.ready, state)
        if case is not None:
            state, changed = explaining.put_right(meter.now.best, state, case), meter.now.best
    values = explaining.budget(state)
    animals = facility.shallow_end(visit.place)
    margin = None
    line = values["compensation_depth"]
    if animals is not None and line.value is not None:
        u = math.hypot(line.u or 0.0, 0.03)
        margin = answers.Value(value=animals - line.value, unit="m", u=u)
    return Row(visit=visit, values=values, animals_at=animals, margin=margin, changed=changed)


def row_findings(facility: model.Facility, row: Row, as_of: datetime) -> list[findings.Finding]:
    """What one place's budget says: animals against the gas line, limits, age."""
    place = row.visit.place
    old = as_of - row.visit.when > OLD
    found = _gas_line_findings(row, old)
    if (row.values["delta_p"].value or 0.0) < 0.0:
        text = f"{place}: the water holds less gas than air would give it"
        found.append(_finding(row, "gas/undersaturated", findings.Level.NOTE, text))
    if old:
        text = f"{place}: the newest gas reading is {(as_of - row.visit.when).days} days old"
        found.append(_finding(row, "gas/old", findings.Level.NOTE, text, f"hang a gas meter in {place}"))
    return found + _limits(facility, row)


def _finding(row: Row, code: str, level: findings.Level, text: str, hint: str = "") -> findings.Finding:
    return findings.Finding(
        code=code,
        level=level,
        text=text,
        hint=hint,
        spot=findings.Spot(thing=row.visit.place),
        data={"since": row.visit.when.isoformat()},
    )


def _gas_line_findings(row: Row, old: bool) -> list[findings.Finding]:
    """Whether animals come up above the gas line; an old reading only calls for a look."""
    if row.margin is None or row.margin.value is None:
        return []
    low, high = row.margin.interval() or (row.margin.value, row.margin.value)
    line = row.values["compensation_depth"].value or 0.0
    where = f"{row.visit.place}: animals come up to {row.animals_at:g} m and the gas line is at {line:.2f} m"
    if high < 0.0:
        level = findings.Level.WATCH if old else findings.Level.ACT
        hint = "keep them deeper, or take gas out before the water reaches them"
        text = f"{where}: above it bubbles can form in them"
        return [_finding(row, "gas/animals-above-gas-line", level, text, hint)]
    if low < 0.0 < line:
        apart = f"{row.margin.value:+.2f} m apart (±{1.96 * (row.margin.u or 0.0):.2f})"
        hint = "read again there with a checked meter: the interval decides"
        text = f"{where}, {apart}: it may reach them"
        return [_finding(row, "gas/animals-may-be-above-gas-line", findings.Level.WATCH, text, hint)]
    return []


def _limits(facility: model.Facility, row: Row) -> list[findings.Finding]:
    """Limits against the interval: crossed, or may be crossed; inside is silent."""
    found: list[findings.Finding] = []
    pairs = (
        (shelves.TOTAL, row.values["total_gas_pressure"]),
        (shelves.DELTA, row.values["delta_p"]),
    )
    for word, value in pairs:
        limits = facility.limits_for(word, row.visit.place)
        interval = value.interval()
        if not limits or interval is None or value.value is None:
            continue
        for name, level in (("act", findings.Level.ACT), ("watch", findings.Level.WATCH)):
            band: model.Band | None = getattr(limits[0], name)
            said = _against(band, value.value, interval)
            if said:
                low, high = interval
                text = (
                    f"{row.visit.place}: {word} {value.value:.1f} {value.unit} ({low:.1f} to {high:.1f})"
                    f" {said} the limit to {name} ({limits[0].text})"
                )
                found.append(
                    findings.Finding(
                        code=f"gas/limit-{'crossed' if said == 'has crossed' else 'may-be-crossed'}",
                        level=level,
                        text=text,
                        hint="take gas out, or bring the animals deeper",
                        spot=findings.Spot(thing=row.visit.place),
                    )
                )
                break
    return found


def _against(band: model.Band | None, value: float, interval: tuple[float, float]) -> str:
    if band is None:
        return ""
    ends = [band.holds(interval[0]), band.holds(interval[1])]
    if all(ends) and band.holds(value):
        return ""
    return "may have crossed" if any(ends) else "has crossed"


def budget_table(rows: Sequence[Row]) -> answers.Table:
    """A row for each place, the least room first."""
    named = (
        ("total_gas_pressure", "TGP", "%", 1),
        ("oxygen_percent", "O₂", "%", 0),
        ("oxygen_concentration", "DO", "mg/L", 2),
        ("nitrogen_percent", "N₂+Ar", "%", 1),
        ("delta_p", "ΔP", "mmHg", 0),
    )
    out: list[dict[str, object]] = []
    for row in rows:
        cells: dict[str, object] = {"place": row.visit.place, "meter": row.visit.instrument}
        cells["measured"] = row.visit.when.isoformat()
        cells |= {name: row.values[name] for name, *_ in named}
        animals = row.animals_at
        cells["animals_at"] = answers.Value(value=animals, unit="m", u=0.03) if animals is not None else None
        cells["gas_line_at"] = row.values["compensation_depth"]
        cells["margin"] = row.margin
        cells["put_right"] = row.changed
        out.append(cells)
    return answers.Table(
        name="budget",
        title="What is in the water, place by place",
        columns=(
            answers.Output(name="place", label="Where", unit=""),
            answers.Output(name="measured", label="When", unit=""),
            answers.Output(name="meter", label="Meter", unit=""),
            *(answers.Output(name=n, label=label, unit=u, decimals=d) for n, label, u, d in named),
            answers.Output(name="animals_at", label="Animals at", unit="m"),
            answers.Output(name="gas_line_at", label="Gas line at", unit="m"),
            answers.Output(name="margin", label="Margin", unit="m"),
            answers.Output(name="put_right", label="Put right for", unit=""),
        ),
        rows=tuple(out),
    )


def steps(row: Row) -> list[answers.Step]:
    """The working of one place, in short."""
    ready = row.visit.ready
    assert ready is not None
    place = ready.place
    given: dict[str, tuple[float | str, str]] = {
        "T": (place.temperature.value, "°C"),
        "S": (place.salinity.value, "PSU"),
        "BP": (place.barometer.value / MMHG, "mmHg"),
        "TGP": (row.values["total_gas_pressure"].value or 0.0, "%"),
        "DO": (row.values["oxygen_concentration"].value or 0.0, "mg/L"),
    }
    sources = (place.temperature, place.salinity, place.barometer, ready.total, ready.oxygen)
    note = "; ".join(dict.fromkeys(one.source for one in sources if one.source))
    if row.changed:
        note += f"; put right for {row.changed}"
    where = row.visit.place
    made = (
        ("nitrogen_percent", "100 (BP + ΔP - pO2 - pH2O)/(0.7902 (BP - pH2O))", "Colt (1984), SM 2810 form"),
        ("compensation_depth", "ΔP/(ρ g)", "Colt (1984), eq. 54"),
    )
    return [
        answers.Step(
            name=f"{where} {name}",
            equation=equation,
            inputs=given,
            result=row.values[name].value,
            unit=row.values[name].unit,
            source=source,
            note=note,
        )
        for name, equation, source in made
    ]

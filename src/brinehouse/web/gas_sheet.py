"""The gas investigation as its sheet shows it: rows for tables and columns for the picture of depths."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from brinehouse import answers, findings, units
from brinehouse.facility import model
from brinehouse.web import catalogue, drawing
from brinehouse.workbench import investigation

OLD = timedelta(days=3)
SMALL = 0.02  # an explanation that weighs less is folded away
ABNORMAL = (findings.Level.ACT, findings.Level.WATCH, findings.Level.ASK)


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """One place in the table of what the water holds."""

    place: str
    name: str
    when: datetime
    old: bool
    meter: str
    values: Mapping[str, answers.Value | None]
    level: str
    verdict: str
    put_right: str


def table(answer: answers.Answer, name: str) -> answers.Table | None:
    """A table of an answer by its name."""
    return next((one for one in answer.tables if one.name == name), None)


def named(facility: model.Facility, id: str) -> str:
    """What the keeper calls a place, a system, a pump or an instrument; its id where it has no other name."""
    for shelf in (facility.vessels, facility.systems, facility.instruments, facility.runs):
        if id in shelf:
            return shelf[id].name or id
    return id


def water(found: investigation.Investigation, facility: model.Facility, t: catalogue.Words) -> list[Water]:
    """What the water holds, place by place, least room first."""
    budget = table(found.water, "budget")
    levels = _levels(found.water.findings)
    rows: list[Water] = []
    for row in budget.rows if budget else ():
        place, when = str(row["place"]), datetime.fromisoformat(str(row["measured"]))
        margin = row.get("margin")
        rows.append(
            Water(
                place=place,
                name=named(facility, place),
                when=when,
                old=found.as_of is not None and found.as_of - when > OLD,
                meter=named(facility, str(row["meter"])),
                values={
                    key: cell
                    for key, cell in row.items()
                    if isinstance(cell, answers.Value) and cell.value is not None
                },
                level=levels.get(place, ""),
                verdict=_verdict(margin, t) if isinstance(margin, answers.Value) else "",
                put_right=str(row.get("put_right") or ""),
            )
        )
    return rows


def _levels(found: Iterable[findings.Finding]) -> dict[str, str]:
    """The heaviest level that was said of each place."""
    heaviest: dict[str, findings.Level] = {}
    for finding in found:
        if finding.level in (findings.Level.ACT, findings.Level.WATCH) and finding.spot.thing:
            known = heaviest.get(finding.spot.thing)
            heaviest[finding.spot.thing] = (
                finding.level if known is None else max(known, finding.level, key=_weight)
            )
    return {place: level.value for place, level in heaviest.items()}


def _weight(level: findings.Level) -> int:
    return list(findings.Level).index(level)


def _verdict(margin: answers.Value, t: catalogue.Words) -> str:
    """Whether animals stand above the gas line, from the margin's whole interval."""
    span = margin.interval()
    if margin.value is None or span is None or span[0] >= 0.0:
        return ""
    if span[1] < 0.0:
        return t("gas.too_shallow", metres=drawing.digits(-margin.value, 2))
    return t("gas.may_be_shallow")


def depths(rows: Sequence[Water], facility: model.Facility, t: catalogue.Words) -> list[drawing.Column]:
    """A column of water for each place whose depth the facility file tells."""
    columns: list[drawing.Column] = []
    for row in rows:
        vessel = facility.place(row.place)
        line, total = row.values.get("gas_line_at"), row.values.get("total_gas_pressure")
        if vessel is None or vessel.depth is None or line is None:
            continue
        low, high = line.interval() or (None, None)
        ranges = [one.depth for one in facility.animals_at(row.place) if one.depth]
        shallow = min((one[0] for one in ranges), default=None)
        columns.append(
            drawing.Column(
                name=row.name,
                depth=vessel.depth,
                gas=line.value,
                low=low,
                high=high,
                shallow=shallow,
                deep=max((one[1] for one in ranges), default=None),
                level=row.level if row.verdict else "",
                verdict=row.verdict,
                value=drawing.figure(total).striptags() if total else "",
                gas_words=t("gas.line_at", metres=drawing.digits(line.value, 2)),
                animal_words=t("gas.animals_from", metres=drawing.digits(shallow, 2))
                if shallow is not None
                else "",
                href=f"/log?place={row.place}&quantity=total+gas+pressure",
            )
        )
    return columns


def meters(
    found: investigation.Investigation, facility: model.Facility, t: catalogue.Words
) -> list[dict[str, Any]]:
    """Each meter with how much too high it reads, and what follows."""
    rows: list[dict[str, Any]] = []
    said = table(found.meters, "meters")
    for row in said.rows if said else ():
        offset = row["offset"]
        span = offset.interval()
        known = offset.value is not None and span is not None
        sound = span is not None and span[0] <= 0.0 <= span[1]
        rows.append(
            {
                "label": named(facility, str(row["meter"])),
                "value": offset.value,
                "low": span[0] if span else None,
                "high": span[1] if span else None,
                "unit": offset.unit,
                "level": "" if sound or not known else "watch",
                "note": t("gas.use_as_it_is" if sound else "gas.let_correction_stand")
                if known
                else offset.text,
                "against": _once(str(row["against"])),
                "accuracy": row.get("accuracy"),
                "readings": row.get("readings"),
            }
        )
    return rows


def _once(told: str) -> str:
    """A list with its repeats counted: ``air check, air check`` is ``2 × air check``."""
    parts = [part.strip() for part in told.split(",") if part.strip()]
    return ", ".join(
        f"{parts.count(part)} × {part}" if parts.count(part) > 1 else part for part in dict.fromkeys(parts)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pumps:
    """What goes with the gas of one system."""

    system: str
    name: str
    answer: answers.Answer
    rises: Sequence[Mapping[str, Any]]
    weights: Sequence[tuple[str, float]]
    changes: Sequence[Mapping[str, Any]]
    mechanisms: Sequence[answers.Explanation]


def pumps(found: investigation.Investigation, facility: model.Facility) -> list[Pumps]:
    """Each system that could be compared; those where a pump was named stand first."""
    told = [
        Pumps(
            system=system,
            name=named(facility, system),
            answer=answer,
            rises=_intervals(table(answer, "places"), "rise", facility),
            weights=_weights(answer),
            changes=_by_change(table(answer, "changes"), facility),
            mechanisms=answer.explanations,
        )
        for system, answer in found.changes.items()
    ]
    return sorted(told, key=lambda one: (one.answer.state != "found", one.name))


def _intervals(rows: answers.Table | None, column: str, facility: model.Facility) -> list[dict[str, Any]]:
    """Rows of a table as dots with whiskers."""
    made: list[dict[str, Any]] = []
    for row in rows.rows if rows else ():
        value = row[column]
        low, high = value.interval() or (None, None)
        made.append(
            {
                "label": named(facility, str(row["place"])),
                "value": value.value,
                "low": low,
                "high": high,
                "unit": value.unit,
            }
        )
    return made


def _weights(answer: answers.Answer) -> list[tuple[str, float]]:
    """Pumps by how much speaks for each."""
    shares: Mapping[str, float] = next(
        (finding.data["weights"] for finding in answer.findings if "weights" in finding.data), {}
    )
    return sorted(((str(pump), float(share)) for pump, share in shares.items()), key=lambda row: -row[1])


def _by_change(rows: answers.Table | None, facility: model.Facility) -> list[dict[str, Any]]:
    """What each dated change did, its places as dots with whiskers."""
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in rows.rows if rows else ():
        one = answers.Table(name="", title="", columns=(), rows=(row,))
        groups.setdefault((str(row["change"]), str(row["at"])), []).extend(_intervals(one, "step", facility))
    return [{"text": text, "at": at, "rows": made} for (text, at), made in groups.items()]


def about_meters(found: investigation.Investigation) -> list[findings.Finding]:
    """What was said of meters and feeds, not of places: what a person must know before the numbers."""
    return [
        finding
        for finding in [*found.meters.findings, *found.water.findings]
        if finding.level in ABNORMAL and finding.spot.thing not in found.names
    ]


def remarks(found: investigation.Investigation) -> list[findings.Finding]:
    """The lesser things that were found: what was left out, what is old."""
    return [finding for finding in found.findings if finding.level is findings.Level.NOTE]


def split(
    items: Sequence[answers.Explanation],
) -> tuple[list[answers.Explanation], list[answers.Explanation]]:
    """Explanations that weigh something, and those that weigh next to nothing."""
    heavy = [item for place, item in enumerate(items) if item.weight >= SMALL or place == 0]
    return heavy, [item for item in items if item not in heavy]


def differences(
    found: investigation.Investigation, facility: model.Facility, t: catalogue.Words
) -> list[dict[str, Any]]:
    """Meters that stood side by side: how much the one reads above the other."""
    rows: list[dict[str, Any]] = []
    said = table(found.meters, "differences")
    for row in said.rows if said else ():
        value = row["difference"]
        low, high = value.interval() or (None, None)
        label = t(
            "gas.above", higher=named(facility, str(row["higher"])), lower=named(facility, str(row["lower"]))
        )
        rows.append({"label": label, "value": value.value, "low": low, "high": high, "unit": value.unit})
    return rows


def newest_first(rows: answers.Table) -> answers.Table:
    """A table of sittings with the newest on top."""
    ordered = sorted(rows.rows, key=lambda row: str(row["sitting"]), reverse=True)
    return dataclasses.replace(rows, title="", rows=tuple(ordered))


def readable(rows: answers.Table, facility: model.Facility) -> answers.Table:
    """A table with its times in the hall's own zone."""
    zone = ZoneInfo(facility.timezone)
    made = [
        {
            **row,
            "measured": datetime.fromisoformat(str(row["measured"]))
            .astimezone(zone)
            .strftime("%Y-%m-%d %H:%M"),
        }
        for row in rows.rows
    ]
    return dataclasses.replace(rows, rows=tuple(made))


def metres(text: str) -> float | None:
    """A typed depth in metres, or None where it is none."""
    try:
        plain = units.read_plain(text)
        return plain if plain is not None else units.read_amount(text, "length").to("m")
    except units.NotUnderstood:
        return None


def sentences(texts: Iterable[str]) -> list[str]:
    """Texts that begin with a capital and end with a stop."""
    return [f"{text[0].upper()}{text[1:].rstrip('.')}." for text in texts if text]


def cautions(found: investigation.Investigation) -> list[str]:
    """The usual cautions of everything that was asked, each once."""
    told = [found.water, *found.changes.values(), found.meters]
    return list(dict.fromkeys(text for answer in told for text in answer.question.cautions))

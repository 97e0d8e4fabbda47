"""The balance as its sheet shows it: what changes, places side by side, each place with its working."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from brinehouse import answers
from brinehouse.facility import model
from brinehouse.web import catalogue, drawing, gas_sheet

SHOWN = ("temperature", "oxygen", "tgp", "ph", "ammonia", "nitrate")
"""Quantities of the table of all places; the rest stands with each place."""
MOST = 12  # rows told of a change


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One quantity at one place."""

    place: str
    name: str
    quantity: str
    label: str
    unit: str
    decimals: int
    read: answers.Value | None
    today: answers.Value | None
    then: answers.Value | None
    difference: answers.Value | None
    settles: str
    level: str
    limit: str
    verdict: str
    holds: str

    def places_of(self, one: answers.Value | None) -> int:
        """Decimals of a number: as many as its interval supports, at most the usual ones."""
        known = drawing.decimals_of(one.interval() if one is not None else None)
        return self.decimals if known is None else min(known, self.decimals)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place: its rows, and the working behind them."""

    id: str
    name: str
    rows: Sequence[Row]
    level: str
    steps: Sequence[answers.Step]

    @property
    def by_quantity(self) -> Mapping[str, Row]:
        """Its rows by quantity."""
        return {row.quantity: row for row in self.rows}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Everything the page draws."""

    changes: Sequence[Row]
    places: Sequence[Place]
    columns: Sequence[answers.Output]
    assumptions: Sequence[Mapping[str, Any]]
    compared: bool
    said: Sequence[str]


def lay_out(answer: answers.Answer, facility: model.Facility, t: catalogue.Words) -> Sheet:
    """An answer of the balance as rows for the page."""
    outputs = {output.name: output for output in answer.question.outputs}
    table = gas_sheet.table(answer, "places")
    rows = [_row(cells, outputs, facility, t) for cells in (table.rows if table else ())]
    ranked = gas_sheet.table(answer, "differences")
    order = [(str(cells["place"]), str(cells["quantity"])) for cells in (ranked.rows if ranked else ())]
    by_key = {(row.place, row.quantity): row for row in rows}
    assumed = gas_sheet.table(answer, "assumptions")
    said = gas_sheet.table(answer, "said")
    return Sheet(
        changes=[by_key[key] for key in order if key in by_key][:MOST],
        places=_places(rows, answer, facility),
        columns=[dataclasses.replace(outputs[name], label=t(f"balance.q_{name}")) for name in SHOWN],
        assumptions=assumed.rows if assumed else (),
        compared=answer.state == "compared",
        said=[str(cells["sentence"]) for cells in (said.rows if said else ())],
    )


def _row(
    cells: Mapping[str, Any],
    outputs: Mapping[str, answers.Output],
    facility: model.Facility,
    t: catalogue.Words,
) -> Row:
    place, output = str(cells["place"]), outputs[str(cells["quantity"])]
    settles = cells.get("settles")
    return Row(
        place=place,
        name=gas_sheet.named(facility, place),
        quantity=output.name,
        label=t(f"balance.q_{output.name}"),
        unit=output.unit if output.unit != "1" else "",
        decimals=output.decimals,
        read=cells.get("read"),
        today=cells.get("today"),
        then=cells.get("then"),
        difference=cells.get("difference"),
        settles=span(settles.value, t) if isinstance(settles, answers.Value) else "",
        level=str(cells.get("level") or ""),
        limit=str(cells.get("limit") or ""),
        verdict=str(cells.get("verdict") or ""),
        holds=str(cells.get("limited_by") or ""),
    )


def span(hours: float | None, t: catalogue.Words) -> str:
    """A time in the unit that suits it.

    >>> span(3.2, catalogue.Words()), span(72.0, catalogue.Words())
    ('3 h', '3 days')
    """
    if hours is None:
        return ""
    if hours < 1.5:
        return t("time.minutes", count=f"{max(round(hours * 6.0), 1) * 10}")
    if hours < 48.0:
        return t("time.hours", count=f"{hours:.0f}")
    if hours < 17_520.0:
        return t("time.days", count=f"{hours / 24.0:.0f}")
    return t("time.years", count=f"{hours / 8766.0:.0f}")


def _places(rows: Sequence[Row], answer: answers.Answer, facility: model.Facility) -> list[Place]:
    """Places in file order, those where animals live first."""
    grouped: dict[str, list[Row]] = {}
    for row in rows:
        grouped.setdefault(row.place, []).append(row)
    tanks = facility.tanks
    order = sorted(grouped, key=lambda place: place not in tanks)
    return [
        Place(
            id=place,
            name=gas_sheet.named(facility, place),
            rows=grouped[place],
            level=_heaviest(grouped[place]),
            steps=[s for s in answer.working if s.name.endswith(f" in {gas_sheet.named(facility, place)}")],
        )
        for place in order
    ]


def _heaviest(rows: Sequence[Row]) -> str:
    levels = {row.level for row in rows}
    return "act" if "act" in levels else "watch" if "watch" in levels else ""


def address(text: str) -> str:
    """Where the sheet with these changes is."""
    return "/balance?" + urlencode({"changes": text})

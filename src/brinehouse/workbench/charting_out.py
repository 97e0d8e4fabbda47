"""Charts as data for the page's script, and as rows for a file that no spreadsheet takes for formulas."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from typing import Any

from brinehouse.workbench import charting, hall

TEXTS = ("bound", "basis", "source", "quality", "instrument")


def rows(place: hall.Hall, wanted: charting.Wanted) -> Iterator[tuple[str, ...]]:
    """Every reading drawn, one row each, as they were read: for a file."""
    yield ("time", "place", "point", "quantity", "value", "unit", *TEXTS)
    if not hall.Hall.has_book(place.folder):
        return
    for pair in wanted.pairs:
        yield from _rows(charting.columns(place, pair, wanted.since, wanted.until))


def _rows(found: Mapping[str, Any]) -> Iterator[tuple[str, ...]]:
    texts = {
        name: found[f"{name}_names"][found[name]] for name in ("place", "point", "quantity", "unit", *TEXTS)
    }
    for row, (at, value) in enumerate(zip(found["time"].tolist(), found["value"].tolist(), strict=True)):
        place, point, quantity, unit, *rest = (str(column[row]) for column in texts.values())
        moment = datetime.fromtimestamp(at / 1e6, UTC).isoformat(timespec="seconds")
        yield moment, place, point, quantity, "" if value != value else f"{value:.10g}", unit, *rest


NUMBER = frozenset("0123456789.+-eE")


def safe(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula; a number stays a number.

    >>> safe("-0.5"), safe("=1+1"), safe("+44"), safe("@home"), safe("T-1")
    ('-0.5', "'=1+1", '+44', "'@home", 'T-1')
    """
    if not cell or cell[0] not in "=+-@\t\r\n":
        return cell
    try:
        float(cell)
    except ValueError:
        return "'" + cell
    return cell if set(cell) <= NUMBER else "'" + cell


def as_data(charts: charting.Charts) -> dict[str, Any]:
    """What the page's script draws: panels, lines, limits, events; times in seconds since 1970."""
    return {
        "since": charts.wanted.since.timestamp(),
        "until": charts.wanted.until.timestamp(),
        "panels": [
            {
                "quantity": panel.quantity,
                "unit": panel.unit,
                "series": [_series_data(series) for series in panel.series],
                "bands": [
                    {"pair": band.pair.text, "level": band.level, "low": band.low, "high": band.high}
                    for band in panel.bands
                ],
            }
            for panel in charts.panels
        ],
        "events": [
            {"at": event.at.timestamp(), "words": event.words, "kind": event.kind, "id": event.id}
            for event in charts.events
        ],
    }


def _series_data(series: charting.Series) -> dict[str, Any]:
    return {
        "pair": series.pair.text,
        "name": series.name,
        "count": series.count,
        "lines": [
            {
                "sensor": line.sensor,
                "gap": line.gap,
                "times": [round(one, 3) for one in line.times.tolist()],
                "values": [float(f"{one:.7g}") for one in line.values.tolist()],
                "low": [float(f"{one:.7g}") for one in line.low.tolist()] if line.thinned else None,
                "high": [float(f"{one:.7g}") for one in line.high.tolist()] if line.thinned else None,
                "counts": line.counts.tolist() if line.thinned else None,
                "hollow": [at for at, one in enumerate(line.hollow.tolist()) if one],
            }
            for line in series.lines
        ],
    }

"""Sheet ``charts``: any quantity at any place over any time, several together."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse

from brinehouse import findings
from brinehouse.web import chart_drawing, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import charting, charting_out, logging_book, mishaps
from brinehouse.workbench import hall as halls

router = make_router()
ROWS = 200  # readings told in the table behind a chart


def _wanted(request: Request, hall: halls.Hall) -> charting.Wanted:
    """What the address asks for; a place and a quantity that were just chosen come on top."""
    given = sheets.typed(request)
    pairs = [text for text in request.query_params.getlist("s") if len(text) < 200]
    if given.get("quantity"):
        pairs.append(f"{given.get('place', '')}:{given['quantity']}")
    return charting.read(hall, pairs, given)


@router.get("/charts")
def charts(request: Request) -> Response:
    """The sheet."""
    hall = sheets.desk_of(request).hall()
    found: tuple[findings.Finding, ...] = ()
    try:
        wanted = _wanted(request, hall)
    except mishaps.Refused as refusal:
        found = tuple(refusal.findings)
        wanted = charting.read(hall, (), {})
    made = charting.look(hall, wanted)
    t, zone = sheets.words_of(request), hall.facility.timezone
    return sheets.render(
        request,
        "charts.html",
        "charts",
        status=422 if found else 200,
        as_of=made.newest,
        title=_title(made, t),
        found=found,
        charts=made,
        panels=[_panel(made, one, zone, t) for one in made.panels],
        events=_numbered(made.events),
        chosen=[
            {"text": pair.text, "words": f"{charting.called(hall.facility, pair.place)}, {pair.quantity}",
             "without": _address(wanted, [one for one in wanted.pairs if one != pair])}
            for pair in wanted.pairs
        ],
        spans=[(span, t(f"charts.days_{span}")) for span in charting.SPANS],
        span=wanted.span,
        query=_address(wanted, wanted.pairs),
        choices=logging_book.choices(hall),
        places=[("", hall.facility.name), *_places(hall)],
    )  # fmt: skip


def _places(hall: halls.Hall) -> list[tuple[str, str]]:
    facility = hall.facility
    places = [(one.id, one.name) for one in facility.places]
    return places + [(point.id, point.name) for point in facility.points.values()]


def _title(made: charting.Charts, t: sheets.catalogue.Words) -> str:
    names = sorted({series.name for panel in made.panels for series in panel.series})
    quantities = list(dict.fromkeys(panel.quantity for panel in made.panels))
    if not made.count:
        return t("charts.title_none")
    return t("charts.title", what=_listed(quantities), where=_listed(names))


def _listed(words: Iterable[str]) -> str:
    rest = list(words)
    return rest[0] if len(rest) == 1 else f"{', '.join(rest[:-1])} and {rest[-1]}" if rest else ""


def _address(wanted: charting.Wanted, pairs: Iterable[charting.Pair]) -> str:
    """The same time with other pairs, as the end of an address."""
    told = [("s", pair.text) for pair in pairs]
    if wanted.span:
        return urlencode([*told, ("days", wanted.span)])
    since, until = (f"{at.timestamp():.0f}" for at in (wanted.since, wanted.until))
    return urlencode([*told, ("since", since), ("until", until)])


def _panel(made: charting.Charts, one: Any, zone: str, t: sheets.catalogue.Words) -> Mapping[str, Any]:
    return {
        "quantity": one.quantity,
        "unit": "" if one.unit == "1" else one.unit,
        "drawn": chart_drawing.panel(made, one, zone, t),
        "series": [
            {
                "name": series.name,
                "count": series.count,
                "left_out": series.left_out,
                "keys": [(chart_drawing.key(at, sensor=line.sensor), line.sensor) for line in series.lines],
                "thinned": any(line.thinned for line in series.lines),
            }
            for at, series in enumerate(one.series)
        ],
        "bands": one.bands,
        "rows": _rows(one),
        "more": max(sum(len(line.times) for series in one.series for line in series.lines) - ROWS, 0),
    }


def _rows(one: Any) -> list[dict[str, Any]]:
    """What is drawn, newest first: a stretch of many with its least and its greatest."""
    rows = [
        {
            "at": datetime.fromtimestamp(at, UTC), "name": series.name, "value": value, "low": low,
            "high": high, "count": count, "sensor": line.sensor, "hollow": hollow,
        }
        for series in one.series
        for line in series.lines
        for at, value, low, high, count, hollow in zip(
            *(
                column[-ROWS:].tolist()
                for column in (line.times, line.values, line.low, line.high, line.counts, line.hollow)
            ),
            strict=True,
        )
    ]  # fmt: skip
    return sorted(rows, key=lambda row: row["at"], reverse=True)[:ROWS]


def _numbered(events: Iterable[Any]) -> list[tuple[int, Any]]:
    return list(enumerate(events, 1))


@router.get("/charts/data.json")
def data(request: Request) -> Response:
    """What the page's script draws, for any stretch of time."""
    hall = sheets.desk_of(request).hall()
    made = charting.look(hall, _wanted(request, hall))
    return JSONResponse(charting_out.as_data(made), headers={"cache-control": "no-store"})


@router.get("/charts/data.csv")
def table(request: Request) -> Response:
    """Every reading drawn, as a file that a spreadsheet reads and takes for no formula."""
    hall = sheets.desk_of(request).hall()
    rows = charting_out.rows(hall, _wanted(request, hall))
    return StreamingResponse(
        _csv(rows),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": 'attachment; filename="readings.csv"', "cache-control": "no-store"},
    )


def _csv(rows: Iterable[tuple[str, ...]]) -> Iterator[str]:
    page = io.StringIO()
    pen = csv.writer(page, lineterminator="\r\n")
    for count, row in enumerate(rows, 1):
        pen.writerow([charting_out.safe(cell) for cell in row])
        if count % 2000 == 0:
            yield page.getvalue()
            page.seek(0)
            page.truncate()
    yield page.getvalue()

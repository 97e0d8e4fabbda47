"""Sheet ``now``: what is not as it should be, oldest first; then each tank in one quiet line."""

from __future__ import annotations

import collections
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from brinehouse.web import sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import hall as halls
from brinehouse.workbench import now as looking

router = make_router()


@router.get("/now")
def now(request: Request) -> Response:
    """The sheet."""
    hall = sheets.desk_of(request).hall()
    knowing = sheets.knowing_of(request)
    known = knowing.soon(hall)
    sheet = knowing.now(hall, known)
    return sheets.render(
        request,
        "now.html",
        "now",
        as_of=sheet.as_of,
        title=looking.title(sheet)
        if sheet.as_of or sheet.concerns
        else sheets.words_of(request)("now.empty"),
        now_sheet=sheet,
        columns=[(word, word) for word in looking.WATER if _is_read(sheet, word)],
        rows=_rows(sheet),
        renewing=known.renewing if known else halls.Hall.has_book(hall.folder),
        stale_hours=int(looking.STALE.total_seconds() // 3600),
        systems=len(sheet.lines),
        gone=sheet.book.of("gone unseen"),
        may_write=sheets.who(request).role != "reader",
    )


def _is_read(sheet: looking.Now, quantity: str) -> bool:
    return any(quantity in line.cells for lines in sheet.lines.values() for line in lines)


def _rows(sheet: looking.Now) -> list[dict[str, Any]]:
    """Tanks by system; tanks that are a system of their own come last, under no heading."""
    together = {system: lines for system, lines in sheet.lines.items() if len(lines) > 1}
    alone = [line for lines in sheet.lines.values() if len(lines) == 1 for line in lines]
    standing = collections.Counter(one.system for one in sheet.book.of("new", "seen"))
    rows: list[dict[str, Any]] = []
    for system, lines in [*together.items(), ("", alone)]:
        for place, line in enumerate(lines):
            rows.append(
                {
                    "group": system if place == 0 else "",
                    "place": line.place,
                    "notices": standing[system] if place == 0 else 0,
                    "alone": not system and place == 0 and bool(together),
                    "name": line.name,
                    "volume": line.volume,
                    "href": f"/tank/{line.place}",
                    "cells": line.cells,
                }
            )
    return rows

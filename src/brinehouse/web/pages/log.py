"""Sheet ``log``: filter, write, supersede, trail."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse.web import forms, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import clock, logging_book, typed

router = make_router()
PAGE = 60


@router.get("/log")
def log(request: Request) -> Response:
    """Newest first, filtered by what the address says."""
    hall = sheets.desk_of(request).hall()
    wanted = logging_book.Wanted.read(dict(request.query_params))
    shown = logging_book.look(hall, wanted, size=PAGE)
    return sheets.render(
        request,
        "log.html",
        "log",
        as_of=shown.newest,
        shown=shown,
        wanted=wanted,
        choices=logging_book.choices(hall),
    )


@router.get("/log/new")
def new(request: Request) -> Response:
    """A form for one reading."""
    return _form(request, dict(request.query_params), [], status=200)


@router.post("/log/new")
async def write(request: Request) -> Response:
    """One reading: stored, asked about once more, or refused with why."""
    hall = sheets.desk_of(request).hall()
    given = await forms.read(request)
    zone = hall.facility.timezone
    at = forms.local_time(given.get("at", ""), zone)
    made = typed.understand(
        hall.facility,
        place=given.get("place", ""),
        quantity=given.get("quantity", ""),
        text=given.get("value", ""),
        at=at,
        instrument=given.get("instrument", ""),
        depth=given.get("depth", ""),
        note=given.get("note", ""),
        basis=given.get("basis", ""),
        sure=bool(given.get("sure")),
        reason=given.get("reason", ""),
        person=logging_book.person(hall, given.get("by", "")),
    )
    if made.reading is None or made.ask or made.refused:
        return _form(request, given, list(made.findings), status=422)
    hall.write([made.reading], person=made.reading.person)
    return RedirectResponse(f"/log/{made.reading.id}", status_code=303)


def _form(request: Request, given: dict[str, str], found: list[Any], status: int) -> Response:
    hall = sheets.desk_of(request).hall()
    local = sheets.clocktime(clock.now(), hall.facility.timezone).replace(" ", "T")
    return sheets.render(
        request,
        "log_new.html",
        "log",
        status=status,
        given={"at": local, **given},
        found=found,
        choices=logging_book.choices(hall),
        unusual=any(finding.code == "typed/unusual" for finding in found),
    )


@router.get("/log/{id}")
def trail(request: Request, id: str) -> Response:
    """One entry: every version, who, when and why; and a form that supersedes it."""
    hall = sheets.desk_of(request).hall()
    return _trail(request, hall, id, {}, [], status=200)


@router.post("/log/{id}/supersede")
async def supersede(request: Request, id: str) -> Response:
    """A correction of value, place, time or person: a new row with a reason."""
    hall = sheets.desk_of(request).hall()
    given = await forms.read(request)
    at = forms.local_time(given.get("at", ""), hall.facility.timezone)
    done = logging_book.supersede(hall, id, given, at)
    if done.findings:
        return _trail(request, hall, id, given, list(done.findings), status=422)
    return RedirectResponse(f"/log/{done.id}", status_code=303)


def _trail(
    request: Request, hall: Any, id: str, given: dict[str, str], found: list[Any], status: int
) -> Response:
    shown = logging_book.trail(hall, id)
    return sheets.render(
        request,
        "log_trail.html",
        "log",
        status=status,
        as_of=shown.versions[-1].fact.measured,
        shown=shown,
        given=given,
        found=found,
        choices=logging_book.choices(hall),
        recent=timedelta(days=1),
    )

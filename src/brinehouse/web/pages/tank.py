"""Sheet ``tank``: all of one tank at a glance; and the codes that lead to it."""

from __future__ import annotations

from urllib.parse import quote, urlsplit

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse.web import codes, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import hall as halls
from brinehouse.workbench import now as standing
from brinehouse.workbench import tags
from brinehouse.workbench import tank as looking

router = make_router()
SIZES = ("small", "large")


@router.get("/tank/{id}")
def tank(request: Request, id: str) -> Response:
    """The sheet of one tank, sump or vessel."""
    hall = sheets.desk_of(request).hall()
    knowing = sheets.knowing_of(request)
    _ = hall.facility
    known = knowing.gas(hall) if halls.Hall.has_book(hall.folder) else None
    sheet = looking.look(hall, id, knowing.now(hall, known).concerns)
    t = sheets.words_of(request)
    return sheets.render(
        request,
        "tank.html",
        "tank",
        as_of=sheet.as_of,
        title=_title(sheet, t),
        tank=sheet,
        lines=sheet.lines,
        hours=standing.STALE.total_seconds() / 3600.0,
    )


def _title(sheet: looking.Sheet, t: sheets.catalogue.Words) -> str:
    name = sheet.vessel.name
    if not sheet.lines:
        return t("tank.unread", name=name)
    if not sheet.away and not sheet.concerns:
        return t("tank.calm", name=name)
    return t.many("tank.away", max(sheet.away, len(sheet.concerns)), name=name)


@router.get("/t")
def typed(request: Request) -> Response:
    """A code typed by hand."""
    return _lead(request, sheets.typed(request).get("code", ""))


@router.get("/t/{code}")
def read(request: Request, code: str) -> Response:
    """A code read from a label."""
    return _lead(request, code)


def _lead(request: Request, typed_code: str) -> Response:
    found = tags.read(sheets.desk_of(request).hall().facility, typed_code)
    if found is None:
        return sheets.render(
            request,
            "code.html",
            "tank",
            status=404 if typed_code else 200,
            typed_code=typed_code,
        )
    return RedirectResponse("/".join(quote(part) for part in found.href.split("/")), status_code=303)


@router.get("/labels")
def labels(request: Request) -> Response:
    """Labels to print: a code for the phone's own camera, and a short one for people."""
    given = sheets.typed(request)
    facility = sheets.desk_of(request).hall().facility
    base = given.get("address", str(request.base_url)).rstrip("/")
    found = list(tags.of(facility).values())
    wanted = given.get("of", "places")
    shown = [
        one
        for one in found
        if wanted == "all" or (one.kind in ("tank", "sump", "vessel")) == (wanted == "places")
    ]
    fit = urlsplit(base).scheme in ("http", "https") and bool(urlsplit(base).netloc)
    return sheets.render(
        request,
        "labels.html",
        "labels",
        address=base,
        fit=fit,
        near=urlsplit(base).hostname in ("127.0.0.1", "localhost", "::1"),
        of=wanted,
        size=given.get("size", "small") if given.get("size") in SIZES else "small",
        labels=[{"tag": one, "drawn": codes.drawn(f"{base}/t/{one.code}")} for one in shown] if fit else [],
    )

"""The sheet of a round for the day the power is out, and the fast screen to type it in afterwards."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse import findings
from brinehouse.web import forms, round_view, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import hall as halls
from brinehouse.workbench import mishaps, round_stops, round_typing, round_writing, rounds, times

router = make_router()
PAPERS = ("a4", "letter")


@router.get("/rounds/{round}/sheet")
def paper(request: Request, round: str) -> Response:  # noqa: A002 - the word of the address
    """A blank sheet: what is expected, boxes to write in, who and when."""
    place = sheets.desk_of(request).hall()
    whole = round_stops.find(place.facility, round)
    asked = request.query_params.get("paper", "")
    return sheets.render(
        request,
        "round_sheet.html",
        "rounds",
        whole=whole,
        sheet_of=round_typing.blank(place, round),
        version=rounds.version(place.facility, whole),
        paper=asked if asked in PAPERS else PAPERS[0],
        number_of=round_view.number_of,
        last=lambda ask: round_view.last(ask, place.facility.timezone),  # pyright: ignore[reportUnknownLambdaType, reportUnknownArgumentType]
    )


@router.get("/rounds/{round}/type")
def typing(request: Request, round: str) -> Response:  # noqa: A002
    """One grid: Tab or Enter goes on, the time is asked once."""
    place = sheets.desk_of(request).hall()
    return _grid(request, place, round, round_typing.blank(place, round), {}, 200)


@router.post("/rounds/{round}/type")
def typed(request: Request, round: str, given: forms.Given) -> Response:  # noqa: A002
    """All of it judged at once: stored, or shown again with what is to be said about it."""
    place = sheets.desk_of(request).hall()
    at, found = _when(given, place.facility.timezone)
    person = sheets.writer(request, given.get("by", ""))
    sheet = round_typing.take(place, round, given, at, person)
    if sheet.stored:
        return RedirectResponse("/rounds", status_code=303)
    if found:
        sheet = round_typing.Sheet(lines=sheet.lines, findings=found)
    return _grid(request, place, round, sheet, given, 422)


def _when(given: Mapping[str, str], zone: str) -> tuple[datetime | None, tuple[findings.Finding, ...]]:
    if not given.get("at", "").strip():
        return None, ()
    try:
        return times.local(given["at"], zone), ()
    except mishaps.Refused as refusal:
        return None, tuple(refusal.findings)


def _grid(
    request: Request,
    place: halls.Hall,
    name: str,
    sheet: round_typing.Sheet,
    given: Mapping[str, str],
    status: int,
) -> Response:
    whole = round_stops.find(place.facility, name)
    t = sheets.words_of(request)
    return sheets.render(
        request,
        "round_type.html",
        "rounds",
        status=status,
        title=round_view.typing_title(sheet, whole.name, t),
        whole=whole,
        sheet_of=sheet,
        given=given,
        box=round_typing.box,
        id=round_writing.own_id(given.get("id", "")),
        who=sheets.who(request),
        people=list(rounds.people(place).values()),
        number_of=round_view.number_of,
    )

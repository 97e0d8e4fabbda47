"""Sheet ``hand-over``: written by the day itself, signed over by one shift and read by the next."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse.web import catalogue, forms, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import hall as halls
from brinehouse.workbench import handing_over, mishaps, on_call
from brinehouse.workbench import now as looking

router = make_router()
EARLIER = 30
SHORT = 12  # digits of the head that are printed: enough for `verify --against`


def _now(request: Request, hall: halls.Hall) -> looking.Now:
    knowing = sheets.knowing_of(request)
    return knowing.now(hall, knowing.soon(hall))


@router.get("/hand-over")
def draft(request: Request) -> Response:
    """The hand-over as the day has written it so far, and earlier ones."""
    return _draft(request, {}, (), 200)


def _draft(request: Request, given: Mapping[str, str], found: Any, status: int) -> Response:
    hall, t = sheets.desk_of(request).hall(), sheets.words_of(request)
    made = handing_over.draft(hall, _now(request, hall))
    earlier = handing_over.kept(hall)
    return sheets.render(
        request,
        "hand_over.html",
        "handover",
        status=status,
        title=_sentence(made, t),
        draft=made,
        unread=[one for one in earlier[:3] if not one.read],
        earlier=earlier[:EARLIER],
        places=[(vessel.id, vessel.name) for vessel in hall.facility.places],
        people=on_call.people(hall),
        open=sheets.who(request).role == "open",
        may_write=sheets.who(request).role != "reader",
        given={"words": "", "by": "", "note": "", "about": "", "until": "", **given},
        found=list(found),
    )


def _sentence(made: handing_over.Draft, t: catalogue.Words) -> str:
    """Out of range, overdue and promised, in one sentence."""
    counts = [(name, made.count(name)) for name in ("out", "overdue", "promised")]
    told = [t.many(f"handover.title_{name}", count) for name, count in counts if count]
    return t("handover.title", what=", ".join(told)) if told else t("handover.title_quiet")


@router.post("/hand-over")
def sign(request: Request, given: forms.Given) -> Response:
    """Sign the day over."""
    hall = sheets.desk_of(request).hall()
    made = handing_over.draft(hall, _now(request, hall))
    person = sheets.writer(request, given.get("by", ""))
    try:
        id = handing_over.sign_over(hall, made, given.get("words", ""), person)
    except mishaps.Refused as refusal:
        return _draft(request, given, refusal.findings, 422)
    return RedirectResponse(f"/hand-over/{id}", status_code=303)


@router.post("/hand-over/note")
def pin(request: Request, given: forms.Given) -> Response:
    """Pin a note to a place, with the day it ends."""
    hall = sheets.desk_of(request).hall()
    try:
        handing_over.pin(
            hall,
            given.get("note", ""),
            about=given.get("about", ""),
            until=given.get("until", ""),
            promised=bool(given.get("promised")),
            person=sheets.writer(request, given.get("by", "")),
        )
    except mishaps.Refused as refusal:
        return _draft(request, given, refusal.findings, 422)
    return RedirectResponse("/hand-over", status_code=303)


@router.get("/hand-over/{id}")
def one(request: Request, id: str) -> Response:
    """One hand-over as it was signed over: one printed page."""
    return _one(request, id, {}, (), 200)


@router.post("/hand-over/{id}")
def read(request: Request, id: str, given: forms.Given) -> Response:
    """The next shift has read it."""
    hall = sheets.desk_of(request).hall()
    try:
        handing_over.sign_read(hall, id, sheets.writer(request, given.get("by", "")))
    except mishaps.Refused as refusal:
        if refusal.findings[0].code == "hand-over/unknown":
            raise
        return _one(request, id, given, refusal.findings, 422)
    return RedirectResponse(f"/hand-over/{id}", status_code=303)


def _one(request: Request, id: str, given: Mapping[str, str], found: Any, status: int) -> Response:
    hall, t = sheets.desk_of(request).hall(), sheets.words_of(request)
    shown = handing_over.of(hall, id)
    number, _, digest = shown.head.partition(":")
    return sheets.render(
        request,
        "hand_over_one.html",
        "handover",
        status=status,
        as_of=shown.until,
        by=shown.by,
        title=t("handover.of", shift=shown.shift) if shown.shift else t("handover.one"),
        shown=shown,
        head=f"{number}:{digest[:SHORT]}",
        open=sheets.who(request).role == "open",
        may_write=sheets.who(request).role != "reader",
        given={"by": "", **given},
        found=list(found),
    )

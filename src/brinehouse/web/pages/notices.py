"""Sheet ``notices``: what asks somebody for something, how it stands, and how much of it there is."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse.web import coming, forms, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import clock, logging_book, mishaps, notice_counts, on_call, recent
from brinehouse.workbench import hall as halls
from brinehouse.workbench import notices as noticing
from brinehouse.workbench import now as looking

router = make_router()
WEIGHTY = ("shelved", "out of service", "in service")
"""What asks for the PIN or password once more."""
SHELVES = (1, 2, 4, 8, 12)
LAST = 12  # of what was sent


def _book(request: Request) -> tuple[halls.Hall, noticing.Book]:
    """The notices as the sheet `now` has them."""
    return sheets.desk_of(request).hall(), _now(request).book


def _now(request: Request) -> looking.Now:
    hall, knowing = sheets.desk_of(request).hall(), sheets.knowing_of(request)
    return knowing.now(hall, knowing.soon(hall))


@router.get("/notices")
def notices(request: Request) -> Response:
    """Every notice: those that wait first; what is quiet stands below."""
    hall, book = _book(request)
    t = sheets.words_of(request)
    waiting = book.of("new", "gone unseen")
    return sheets.render(
        request,
        "notices.html",
        "notices",
        title=t.many("notices.title", len(waiting)) if waiting else t("notices.title_none"),
        book=book,
        asking=book.of("new", "seen"),
        gone=book.of("gone unseen"),
        shelved=book.of("shelved"),
        out=book.of("out of service"),
        quiet=book.of("normal"),
        duty=on_call.now(hall),
        addresses=len(hall.facility.notify),
        may_write=sheets.who(request).role != "reader",
    )


@router.get("/notices/rates")
def rates(request: Request) -> Response:
    """How many are asked of one person, against published figures."""
    hall, book = _book(request)
    found = notice_counts.of(hall, book)
    t = sheets.words_of(request)
    over = [one for one in found.figures if one.verdict in ("much", "too much")]
    if not found.enough:
        title = t("notices.rates_cannot", days=f"{found.days:.0f}")
    else:
        title = t.many("notices.rates_over", len(over)) if over else t("notices.rates_well")
    return sheets.render(request, "notice_rates.html", "notices", title=title, rates=found, book=book)


@router.get("/notices/{id}")
def notice(request: Request, id: str) -> Response:
    """One notice: why, what to do, how long there is, and what was done with it."""
    return _one(request, id, {}, (), 200)


@router.post("/notices/{id}")
def act(request: Request, id: str, given: forms.Given) -> Response:
    """Seen, shelved, back from the shelf, out of service, in service again."""
    hall, book = _book(request)
    found = noticing.one(book, id)
    hours = given.get("hours", "")
    until = clock.now() + timedelta(hours=int(hours)) if hours.isdecimal() and len(hours) < 4 else None
    who = sheets.who(request)
    unsure = coming.confirmed(request, given) if given.get("what", "") in WEIGHTY else ()
    if unsure:
        return _one(request, id, given, unsure, 422)
    try:
        noticing.act(
            hall,
            found,
            given.get("what", ""),
            who,
            until=until,
            why=given.get("why", ""),
            person=sheets.writer(request, given.get("by", "")),
        )
    except mishaps.Refused as refusal:
        return _one(request, id, given, refusal.findings, 422)
    return RedirectResponse("/now" if given.get("from") == "now" else f"/notices/{found.id}", status_code=303)


def _one(request: Request, id: str, given: Mapping[str, str], found: Any, status: int) -> Response:
    hall, book = _book(request)
    one = noticing.one(book, id)
    return sheets.render(
        request,
        "notice.html",
        "notices",
        status=status,
        as_of=one.read,
        title=one.what,
        one=one,
        shelves=SHELVES,
        given={"hours": "4", **given},
        found=list(found),
        leads=sheets.who(request).role in noticing.LEADS,
        may_write=sheets.who(request).role != "reader",
        open=sheets.who(request).role == "open",
        history=_history(hall, one),
    )


def _history(hall: halls.Hall, one: noticing.Notice) -> list[dict[str, Any]]:
    """What was done with a notice and where it was sent, newest first."""
    names = logging_book.people(hall)
    facts = [fact for fact in recent.facts(hall, "notice") if fact.details.get("notice") == one.id]
    return [
        {
            "at": fact.measured,
            "what": str(fact.details.get("what", "")),
            "until": noticing.moment(fact.details.get("until")),
            "why": str(fact.details.get("why", "")),
            "to": str(fact.details.get("to", "")),
            "result": str(fact.details.get("result", "")),
            "by": names.get(fact.person, "") if fact.person is not None else "",
        }
        for fact in reversed(facts[-LAST:])
    ]


@router.get("/on-call")
def duty(request: Request) -> Response:
    """Who is on call, and a form that hands the phone over."""
    return _duty(request, {}, (), 200)


@router.post("/on-call")
def hand_phone(request: Request, given: forms.Given) -> Response:
    """Somebody takes the phone."""
    hall = sheets.desk_of(request).hall()
    try:
        on_call.take(hall, given, writer=sheets.writer(request, given.get("by", "")))
    except mishaps.Refused as refusal:
        return _duty(request, given, refusal.findings, 422)
    return RedirectResponse("/on-call", status_code=303)


def _duty(request: Request, given: Mapping[str, str], found: Any, status: int) -> Response:
    hall = sheets.desk_of(request).hall()
    current = on_call.now(hall)
    t = sheets.words_of(request)
    return sheets.render(
        request,
        "on_call.html",
        "notices",
        status=status,
        title=t("oncall.title", name=current.name) if current else t("oncall.title_none"),
        current=current,
        list_of=on_call.turns(hall)[:LAST],
        people=on_call.people(hall),
        given={"name": "", "since": "", "until": "", **given},
        found=list(found),
        addresses=[
            {
                "id": one.id, "what": one.what, "whom": ", ".join(one.whom), "level": one.level,
                "quiet": _quiet(one.quiet or hall.facility.quiet), "after": one.after / 60.0,
                "kept": one.to.partition(":")[0],
            }
            for one in hall.facility.notify.values()
        ],
    )  # fmt: skip


def _quiet(hours: tuple[int, int] | None) -> str:
    if hours is None:
        return ""
    return " – ".join(f"{minutes // 60:02d}:{minutes % 60:02d}" for minutes in hours)

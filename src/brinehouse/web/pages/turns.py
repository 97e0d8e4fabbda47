"""Sheet ``turns``: which pumps run tomorrow, what is due, and one tap for what was done."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse import findings
from brinehouse.web import forms, sheets, turns_drawing
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import clock, mishaps, times, turns_calendar
from brinehouse.workbench import hall as halls
from brinehouse.workbench import turns as bench

router = make_router()
DONE = ("turn", "running", "test", "trial", "counter")


@router.get("/turns")
def turns(request: Request) -> Response:
    """The sheet."""
    return _sheet(request)


def _sheet(request: Request, found: tuple[findings.Finding, ...] = (), *, status: int = 200) -> Response:
    hall = sheets.desk_of(request).hall()
    made = bench.survey(hall)
    answer = made.answer
    t = sheets.words_of(request)
    zone = hall.facility.timezone
    done = request.query_params.get("done", "")
    return sheets.render(
        request,
        "turns.html",
        "turns",
        status=status,
        as_of=answer.as_of,
        answer=answer,
        groups=[_group(one, zone, t) for one in made.groups],
        worth=next((table.rows for table in answer.tables if table.name == "worth"), ()),
        found=found,
        told=sheets.weighty(answer.findings),
        notes=sheets.notes(answer.findings),
        done=done if done in DONE else "",
        calendar=_address(request) if _may_give(request) else "",
        at=sheets.clocktime(clock.now(), zone).replace(" ", "T"),
    )


def _may_give(request: Request) -> bool:
    """Whether whoever asks may see the secret of the calendar's address, and one was made."""
    made = (sheets.desk_of(request).folder / turns_calendar.KEY_FILE).is_file()
    return made and sheets.who(request).role in ("lead", "administrator", "open")


def _address(request: Request) -> str:
    key = turns_calendar.key(sheets.desk_of(request).folder)
    return str(request.url.replace(path="/turns.ics", query=f"key={key}"))


def _group(one: Any, zone: str, t: sheets.catalogue.Words) -> dict[str, Any]:
    """What the sheet shows of a group; its next change first."""
    turns_ahead = [change for change in one.plan.changes if change.why != "trial"]
    trials = [change for change in one.plan.changes if change.why == "trial"]
    following = turns_ahead[0] if turns_ahead else None
    return {
        "id": one.duty.id,
        "name": one.duty.name,
        "keep": one.duty.keep,
        "pumps": [_pump(one, unit, zone) for unit in one.units],
        "running": [unit.pump for unit in one.units if unit.running],
        "resting": [unit.pump for unit in one.units if unit.running is False and not unit.locked],
        "next": turns_drawing.said([following], zone)[0] if following else None,
        "next_start": following.start if following else (),
        "next_stop": following.stop if following else (),
        "trial": turns_drawing.said(trials[:1], zone)[0] if trials else None,
        "changes": turns_drawing.said(one.plan.changes, zone),
        "bars": turns_drawing.bars(one, t),
        "strips": turns_drawing.fortnight(one, zone, t),
        "spacing": one.spacing,
        "automatic": one.duty.standby == "automatic",
        "tested": one.tested,
        "test_due": one.test_due,
        "entry": halls.new_id(),
    }


def _pump(one: Any, unit: Any, zone: str) -> dict[str, Any]:
    due = one.overhauls.get(unit.pump)
    here = ZoneInfo(zone)
    return {
        "id": unit.pump,
        "name": unit.name,
        "state": "locked" if unit.locked else {True: "runs", False: "rests", None: "unknown"}[unit.running],
        "since": unit.since,
        "wear": one.ran(unit.pump),
        "u": unit.u,
        "counted": one.counted,
        "share": unit.wear / unit.life if unit.life and unit.counted else None,
        "due": f"{due.at.astimezone(here):%b %Y}" if due else "",
        "low": f"{due.low.astimezone(here):%Y-%m-%d}" if due else "",
        "high": f"{due.high.astimezone(here):%Y-%m-%d}" if due else "",
        "started": unit.started,
        "starts": unit.starts,
    }


def _change(request: Request, duty: str, given: dict[str, str]) -> bench.Change:
    """What a form tells: boxes ``start-P`` and ``stop-P``, when it was, and by whom."""
    hall = sheets.desk_of(request).hall()
    return bench.Change(
        duty=duty,
        start=_ticked(given, "start-"),
        stop=_ticked(given, "stop-"),
        at=_when(given.get("at", ""), hall.facility.timezone),
        person=sheets.writer(request, given.get("by", "")),
        note=given.get("note", "").strip(),
        id=given.get("entry", "")[:64],
    )


def _ticked(given: dict[str, str], kind: str) -> list[str]:
    return [name.removeprefix(kind) for name in given if name.startswith(kind)]


def _when(text: str, zone: str) -> datetime | None:
    """The time typed; None for now. What lies ahead is refused: a plan is no log."""
    if not text.strip():
        return None
    at = times.local(text, zone)
    if at > clock.now():
        raise mishaps.Refused(
            findings.Finding(
                code="turns/ahead",
                level=findings.Level.STOP,
                text=f"{text.replace('T', ' ')} has not come yet",
                hint="write it down once it is done",
            )
        )
    return at


@router.post("/turns/{duty}/turn")
def turned(request: Request, duty: str, given: forms.Given) -> Response:
    """A change-over was done."""
    return _written(request, "turn", lambda: bench.log_change(_hall(request), _change(request, duty, given)))


@router.post("/turns/{duty}/running")
def running(request: Request, duty: str, given: forms.Given) -> Response:
    """Who runs now, as somebody saw it."""
    return _written(
        request, "running", lambda: bench.log_running(_hall(request), _change(request, duty, given))
    )


@router.post("/turns/{duty}/trial")
def tried(request: Request, duty: str, given: forms.Given) -> Response:
    """A resting pump was started for half an hour."""
    return _written(request, "trial", lambda: bench.log_trial(_hall(request), _change(request, duty, given)))


@router.post("/turns/{duty}/test")
def tested(request: Request, duty: str, given: forms.Given) -> Response:
    """The automatic change-over was tried."""
    worked = given.get("worked", "") == "yes"
    return _written(
        request,
        "test",
        lambda: bench.log_test(_hall(request), _change(request, duty, given), worked=worked),
    )


def _hall(request: Request) -> halls.Hall:
    return sheets.desk_of(request).hall()


def _written(request: Request, what: str, work: Any) -> Response:
    try:
        work()
    except mishaps.Refused as refusal:
        return _sheet(request, tuple(refusal.findings), status=422)
    return RedirectResponse(f"/turns?done={what}", status_code=303)


@router.post("/turns/calendar")
def address(request: Request) -> Response:
    """A new secret address for calendars: the old one tells nothing from then on."""
    turns_calendar.renew(sheets.desk_of(request).folder)
    return RedirectResponse("/turns#calendar", status_code=303)


@router.get("/turns.ics")
def calendar(request: Request) -> Response:
    """The plan as a calendar: for who is signed in, or who has its secret address."""
    hall = _hall(request)
    known = turns_calendar.fits(hall.folder, request.query_params.get("key", ""))
    if sheets.who(request).role == "nobody" and not known:
        return Response(
            "The address of this calendar is not known here.\n", status_code=403, media_type="text/plain"
        )
    return Response(
        turns_calendar.calendar(hall),
        media_type="text/calendar; charset=utf-8",
        headers={"cache-control": "no-store", "content-disposition": 'inline; filename="turns.ics"'},
    )

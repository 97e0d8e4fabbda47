"""Sheet ``time in hand``: every failure, how long the animals have, what to do first; cards and drills."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse import findings
from brinehouse.web import catalogue, forms, knowing, sheets, svg, time_drawing, time_sheet
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import clock, drills, lock_outs, time_told
from brinehouse.workbench import hall as halls

if TYPE_CHECKING:
    from brinehouse.workbench import time_in_hand

router = make_router()
ALL = "all"


def survey(hall: halls.Hall, wanted: time_told.Wanted) -> time_in_hand.Found:
    """Every failure; what works them out is loaded with the first that is asked."""
    from brinehouse.workbench import time_in_hand

    return time_in_hand.survey(hall, wanted, ahead=knowing.HOURS_AHEAD)


def courses(hall: halls.Hall, id: str, wanted: time_told.Wanted) -> Sequence[time_told.Course]:
    """The courses that matter after a failure."""
    from brinehouse.workbench import time_in_hand

    return time_in_hand.courses(hall, id, wanted)


@router.get("/time")
def table(request: Request) -> Response:
    """Every failure, shortest first."""
    hall, given = sheets.desk_of(request).hall(), sheets.typed(request)
    wanted = time_sheet.read(given, hall.facility)
    found = survey(hall, wanted)
    teller = time_sheet.Teller(found.table, hall.facility, sheets.words_of(request))
    return sheets.render(
        request, "time.html", "time", as_of=found.as_of, **_shown(teller, found, wanted, ALL in given)
    )


def _shown(
    teller: time_sheet.Teller, found: time_in_hand.Found, wanted: time_told.Wanted, whole: bool
) -> dict[str, Any]:
    made, facility, t = found.table, teller.facility, teller.t
    rows = time_told.rows(made, facility, wanted)
    query = time_sheet.query(wanted)
    crossing = [row for row in rows if row.noticed and row.first is not None]
    quiet = [row for row in rows if row.noticed and row.first is None]
    few = _few(made, wanted, crossing)
    shown = crossing if whole else few[: time_sheet.MOST]
    return {
        **_common(teller, found),
        "title": teller.heading(few if wanted.pairs else rows),
        "each": len(few) < len(crossing) and not whole and not wanted.pairs,
        "lead": t("hand.lead", start=made.start.text),
        "wanted": wanted,
        "query": query,
        "picks": time_sheet.picks(wanted, t),
        "kind_picks": time_sheet.kind_picks(wanted, made, teller),
        "systems": time_told.systems(facility),
        "usual": time_told.LESS_THAN,
        "hidden": time_sheet.hidden(wanted),
        "kinds": [(kind, teller.kind(kind)) for kind in time_told.kinds(made)],
        "within": svg.digits(wanted.within),
        "rows": [teller.line(row, query) for row in shown],
        "more": f"{query}&{ALL}=yes".lstrip("&") if len(shown) < len(crossing) else "",
        "hidden_rows": len(crossing) - len(shown),
        "unseen": [] if wanted.pairs else [teller.line(row, query) for row in rows if not row.noticed],
        "open": [teller.line(row, query) for row in quiet[: time_sheet.MOST]],
        "open_more": max(len(quiet) - time_sheet.MOST, 0),
        "sets": teller.sets(),
        "sets_more": max(len(time_told.sets_of_two(made)) - time_sheet.CUTS, 0),
        "sets_one": len(made.cut_sets) - len(time_told.sets_of_two(made)),
        "pairs_href": f"/time?{time_sheet.query(wanted, show='pairs')}",
        "parts": teller.parts(),
        "has_standby": bool(facility.duties),
    }


def _few(
    made: time_told.Table, wanted: time_told.Wanted, crossing: list[time_told.Row]
) -> list[time_told.Row]:
    """What is shown unless all is asked for: pairs that are worse together, or a few of each kind."""
    if wanted.pairs:
        return time_told.worse_together(made, crossing)
    return crossing if wanted.kind else time_told.shortest_of_kinds(crossing, time_sheet.EACH)


def _common(teller: time_sheet.Teller, found: time_in_hand.Found) -> dict[str, Any]:
    """What sheet and page of one failure both show."""
    made, t = found.table, teller.t
    return {
        "ruler": time_drawing.ruler(t("hand.scale"), made.asked.hours),
        "lost": time_sheet.span(time_told.lost(made), t),
        "hours": svg.digits(made.asked.hours),
        "computing": made.intervals == "computing",
        "told": sheets.weighty(made.findings),
        "notes": sheets.notes(made.findings),
        "assumed": teller.assumed(),
        "beyond": teller.beyond(),
        "steps": made.working,
        "warnings": time_told.CAUTIONS,
    }


@router.get("/time/card")
def cards(request: Request) -> Response:
    """The cards of all failures that cross a limit, as one document."""
    hall, given = sheets.desk_of(request).hall(), sheets.typed(request)
    wanted = time_sheet.read(given, hall.facility)
    found = survey(hall, wanted)
    rows = [
        row
        for row in time_told.rows(found.table, hall.facility, wanted)
        if row.noticed and row.first is not None
    ]
    return _cards(request, hall, found, rows[: time_sheet.MOST], wanted)


@router.get("/time/card/{id:path}")
def card(request: Request, id: str) -> Response:
    """The card of one failure."""
    hall = sheets.desk_of(request).hall()
    wanted, found, row = _one(request, hall, id)
    return _cards(request, hall, found, [row], wanted, drill=time_sheet.address(id, "drill"))


def _cards(
    request: Request,
    hall: halls.Hall,
    found: time_in_hand.Found,
    rows: Sequence[time_told.Row],
    wanted: time_told.Wanted,
    drill: str = "",
) -> Response:
    t = sheets.words_of(request)
    teller = time_sheet.Teller(found.table, hall.facility, t)
    query, large = time_sheet.query(wanted), sheets.typed(request).get("paper") == "a4"
    made = t(
        "card.made",
        at=sheets.clocktime(clock.now(), hall.facility.timezone),
        start=found.table.start.text,
        readings=sheets.clocktime(found.as_of, hall.facility.timezone) or t("card.no_readings"),
        there=time_sheet.span(time_told.lost(found.table), t),
    )
    back = f"/time?{query}" if query else "/time"
    return sheets.render(
        request,
        "time_card.html",
        "card",
        as_of=found.as_of,
        cards=_with_locks(hall, t, [teller.card(row) for row in rows]),
        made=made,
        large=large,
        small_query=query,
        large_query=f"{query}&paper=a4".lstrip("&"),
        back=time_sheet.address(rows[0].id, query=query) if drill else back,
        drill=drill,
    )


def _with_locks(
    hall: halls.Hall, t: catalogue.Words, cards: Sequence[time_sheet.Card]
) -> list[time_sheet.Card]:
    """Cards whose steps name a thing that is locked out say so first."""
    locks = lock_outs.standing(hall)
    told: list[time_sheet.Card] = []
    for card in cards:
        named = lock_outs.named(hall.facility, locks, (*card.steps, *(text for text, _ in card.gains)))
        said = [t("card.locked", name=lock.name, tag=lock.tag) for lock in named]
        told.append(dataclasses.replace(card, cautions=(*said, *card.cautions)) if said else card)
    return told


@router.get("/time/drill/{id:path}")
def drill(request: Request, id: str) -> Response:
    """A drill of one failure: the card with a clock."""
    return _drill(request, id, sheets.typed(request), (), status=200)


@router.post("/time/drill/{id:path}/note")
def note(request: Request, id: str, given: forms.Given) -> Response:
    """The result of a drill goes into the log."""
    hall = sheets.desk_of(request).hall()
    _, found, row = _one(request, hall, id)
    steps = _steps(found, row)
    begun = drills.begun(given.get("began", ""))
    done = drills.result(given, steps)
    faults = drills.faults(given, begun, len(steps))
    if faults or begun is None:
        return _drill(request, id, given, faults, status=422)
    written = drills.note(
        hall, row.title, row.hours, begun, done, given.get("remark", ""), given.get("by", "")
    )
    return RedirectResponse(f"/log/{written}", status_code=303)


@router.post("/time/drill/{id:path}")
def start(request: Request, id: str) -> Response:
    """Start the clock: the address holds when, so that a reload changes nothing."""
    _one(request, sheets.desk_of(request).hall(), id)
    began = clock.now().replace(microsecond=0)
    return RedirectResponse(
        time_sheet.address(id, "drill", f"began={began:%Y-%m-%dT%H:%M:%SZ}"), status_code=303
    )


def _steps(found: time_in_hand.Found, row: time_told.Row) -> list[str]:
    """What is drilled: the steps of the failure, or what gains time where it has none."""
    steps = time_told.own_steps(found.table, row) or time_told.gaining(row)
    return [step.text for step in steps]


def _drill(
    request: Request, id: str, given: Mapping[str, str], faults: Sequence[findings.Finding], status: int
) -> Response:
    hall = sheets.desk_of(request).hall()
    _, found, row = _one(request, hall, id)
    teller = time_sheet.Teller(found.table, hall.facility, sheets.words_of(request))
    now, began = clock.now(), drills.begun(given.get("began", ""))
    passed = max((now - began).total_seconds(), 0.0) if began else 0.0
    whole = int(row.hours * 3600.0) if row.first is not None and row.hours < time_told.HOURS else 0
    return sheets.render(
        request,
        "time_drill.html",
        "drill",
        status=status,
        as_of=found.as_of,
        card=teller.card(row),
        steps=_steps(found, row),
        began=began,
        server_now=now,
        elapsed=drills.told(passed),
        passed=min(int(passed), whole),
        seconds=whole,
        given=dict(given),
        found=faults,
        here=time_sheet.address(id, "drill"),
        back=time_sheet.address(id),
    )


@router.get("/time/{id:path}")
def failure(request: Request, id: str) -> Response:
    """One failure: its courses, its limits, its first steps."""
    hall = sheets.desk_of(request).hall()
    wanted, found, row = _one(request, hall, id)
    t, query = sheets.words_of(request), time_sheet.query(wanted)
    teller = time_sheet.Teller(found.table, hall.facility, t)
    made = teller.card(row)
    return sheets.render(
        request,
        "time_one.html",
        "time",
        as_of=found.as_of,
        **_common(teller, found),
        title=teller.title(row),
        lead=t("hand.lead_one", start=found.table.start.text, there=f"{made.there}." if made.there else ""),
        card=made,
        drawn=teller.drawn(row, made.level),
        limits=teller.limits(row),
        margins=teller.margins(row),
        first=time_sheet.FIRST,
        courses=teller.courses(row, courses(hall, row.id, wanted)),
        back=f"/time?{query}" if query else "/time",
        card_href=time_sheet.address(id, "card", query),
        drill_href=time_sheet.address(id, "drill"),
    )


def _one(
    request: Request, hall: halls.Hall, id: str
) -> tuple[time_told.Wanted, time_in_hand.Found, time_told.Row]:
    """The failure of an address; a pair where the id names two."""
    wanted = time_sheet.read({**sheets.typed(request), "show": "pairs" if " + " in id else ""}, hall.facility)
    found = survey(hall, wanted)
    return wanted, found, time_told.needed(found.table, id)

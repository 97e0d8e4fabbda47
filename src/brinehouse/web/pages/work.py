"""Sheet ``work``: what is due, asked for, under way and done; one order with its steps and photos."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse import findings
from brinehouse.facility import model
from brinehouse.web import catalogue, forms, sheets
from brinehouse.web.pages import importing
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import (
    attachments,
    clock,
    lock_outs,
    mishaps,
    times,
    upkeep,
    works,
)

router = make_router()
PAGE = "work"
BACK = timedelta(days=60)


@router.get("/work")
def everything(request: Request) -> Response:
    """What is due, what is asked for and under way, and what was done of late."""
    hall = sheets.desk_of(request).hall()
    t = sheets.words_of(request)
    due, orders = upkeep.due(hall), works.orders(hall)
    opened = sorted((one for one in orders if one.open), key=lambda one: (one.due or "9999", one.asked))
    recent = clock.now() - BACK
    done = [one for one in reversed(orders) if not one.open and one.steps[-1].at >= recent]
    late = [one for one in opened if one.overdue(works.today(hall))]
    return sheets.render(
        request,
        "work.html",
        PAGE,
        title=_title(t, due, opened, late),
        due=due,
        opened=opened,
        late=[one.id for one in late],
        done=sorted(done, key=lambda one: one.steps[-1].at, reverse=True),
        locks=lock_outs.standing(hall),
    )


def _title(
    t: catalogue.Words,
    due: Sequence[upkeep.Due],
    opened: Sequence[works.Order],
    late: Sequence[works.Order],
) -> str:
    waiting = [one for one in due if one.state == "due" and not one.order]
    if late:
        return t.many("work.title_late", len(late))
    if waiting:
        return t.many("work.title_due", len(waiting))
    return t.many("work.title_open", len(opened)) if opened else t("work.title_none")


@router.get("/work/new")
def new(request: Request) -> Response:
    """A form that asks for work; filled where it comes round."""
    given = sheets.typed(request)
    item = _item(request, given.get("upkeep", ""))
    if item is not None:
        parts = f" ({', '.join(item.parts)})" if item.parts else ""
        given = {"of": item.of, "title": f"{item.what}{parts}", "note": item.note, **given}
        if item.when is not None and "due" not in given:
            given["due"] = max(item.when.date(), works.today(sheets.desk_of(request).hall())).isoformat()
    return _new(request, given, ())


def _item(request: Request, key: str) -> upkeep.Due | None:
    if not key:
        return None
    return next((one for one in upkeep.due(sheets.desk_of(request).hall()) if one.key == key), None)


def _new(
    request: Request, given: Mapping[str, str], found: Sequence[findings.Finding], status: int = 200
) -> Response:
    hall = sheets.desk_of(request).hall()
    return sheets.render(
        request,
        "work_new.html",
        PAGE,
        status=status,
        given=dict(given),
        things=_things(hall.facility, works.today(hall).isoformat()),
        faults={one.spot.field: one.text for one in found if one.spot.field},
        found=[one for one in found if not one.spot.field],
        open_hall=sheets.who(request).role == "open",
    )


def _things(facility: model.Facility, day: str) -> list[tuple[str, str]]:
    """Everything at which work is done, by id and name."""
    shelves: tuple[Mapping[str, Any], ...] = (
        facility.pumps,
        facility.equipment,
        facility.instruments,
        facility.vessels,
        facility.duties,
        facility.runs,
        facility.boards,
    )
    return [
        (id, id if one.name in (id, "") else f"{id}, {one.name}")
        for shelf in shelves
        for id, one in shelf.items()
        if facility.in_use(id, day)
    ]


@router.post("/work")
def ask(request: Request, given: forms.Given) -> Response:
    """Ask for a piece of work."""
    hall = sheets.desk_of(request).hall()
    told = {name: given.get(name, "") for name in ("of", "title", "due", "upkeep", "note")}
    try:
        id = works.ask(hall, person=sheets.writer(request, given.get("by", "")), **told)
    except mishaps.Refused as refusal:
        return _new(request, given, refusal.findings, status=422)
    return RedirectResponse(f"/work/{id}", status_code=303)


@router.get("/work/{id}")
def order(request: Request, id: str) -> Response:
    """One order: every step, who and when, and what may come next."""
    return _order(request, id, {}, ())


def _order(
    request: Request,
    id: str,
    given: Mapping[str, str],
    found: Sequence[findings.Finding],
    status: int = 200,
) -> Response:
    hall = sheets.desk_of(request).hall()
    one, t = works.order(hall, id), sheets.words_of(request)
    files = attachments.kept_of(hall, [step.fact.id for step in one.steps])
    item = _item(request, one.upkeep)
    return sheets.render(
        request,
        "work_one.html",
        PAGE,
        status=status,
        title=t(f"work.is_{one.state}", title=one.title),
        order=one,
        next=works.STEPS[one.state],
        photos={step.fact.id: [file for file in files if file.about == step.fact.id] for step in one.steps},
        parts="\n".join(item.parts) if item is not None else "",
        locks=lock_outs.at(hall.facility, lock_outs.standing(hall), one.of),
        in_register=hall.facility.find(one.of) in ("pump", "equipment", "instrument"),
        given=dict(given),
        faults={each.spot.field: each.text for each in found if each.spot.field},
        found=[each for each in found if not each.spot.field],
        open_hall=sheets.who(request).role == "open",
    )


@router.post("/work/{id}/step")
def step(request: Request, id: str, given: forms.Given) -> Response:
    """The next step of an order."""
    hall = sheets.desk_of(request).hall()
    try:
        works.step(
            hall,
            id,
            given.get("what", ""),
            did=given.get("did", ""),
            parts=forms.lines(given.get("parts", "")),
            minutes=_minutes(given.get("minutes", "")),
            note=given.get("note", ""),
            at=_at(given.get("at", ""), hall.facility.timezone),
            person=sheets.writer(request, given.get("by", "")),
        )
    except mishaps.Refused as refusal:
        return _order(request, id, given, refusal.findings, status=422)
    return RedirectResponse(f"/work/{id}", status_code=303)


def _at(text: str, zone: str) -> datetime | None:
    return times.local(text, zone) if text.strip() else None


def _minutes(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        minutes = float(text.replace(",", "."))
    except ValueError:
        minutes = -1.0
    if not 0.0 <= minutes < 1e6:
        raise mishaps.Refused(
            findings.Finding(
                code="work/no-minutes",
                level=findings.Level.STOP,
                text=f"'{text.strip()}' is not a number of minutes",
                hint="write 40",
                spot=findings.Spot(field="minutes"),
            )
        )
    return minutes


@router.post("/work/{id}/photo")
def photo(request: Request, id: str, sent: importing.Sent) -> Response:
    """A photo or a paper, kept with the newest step."""
    hall = sheets.desk_of(request).hall()
    name, content, given = sent
    one = works.order(hall, id)
    if not name:
        return _order(request, id, given, [_no_photo()], status=422)
    person = sheets.writer(request, given.get("by", ""))
    try:
        attachments.keep(hall, content, name, about=one.steps[-1].fact.id, person=person)
    except mishaps.Refused as refusal:
        return _order(request, id, given, refusal.findings, status=422)
    return RedirectResponse(f"/work/{id}", status_code=303)


def _no_photo() -> findings.Finding:
    return findings.Finding(
        code="work/no-photo",
        level=findings.Level.STOP,
        text="No photo was chosen",
        hint="choose one, then send it",
        spot=findings.Spot(field="file"),
    )

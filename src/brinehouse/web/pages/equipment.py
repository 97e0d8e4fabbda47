"""Sheet ``equipment``: the register of machines and meters, and all of one of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse import findings
from brinehouse.web import catalogue, coming, forms, sheets
from brinehouse.web.pages import importing
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import attachments, lock_outs, mishaps, register, running, upkeep

router = make_router()
PAGE = "equipment"
BOXES = frozenset(
    {
        "off.why", "count.hours", "count.starts", "renew.what", "renew.expires", "lock.tag", "lock.why",
        "paper.file",
    }
)  # fmt: skip
"""Part and box of what this sheet shows a fault at; what is about no such box stands above all of it."""


@router.get("/equipment")
def everything(request: Request) -> Response:
    """Every machine and meter: tag, where, hours, starts, what is due."""
    hall = sheets.desk_of(request).hall()
    t = sheets.words_of(request)
    rows = register.rows(hall)
    due = sum(1 for row in rows if row.due is not None and row.due.state == "due")
    locked = sum(1 for row in rows if row.locks)
    return sheets.render(
        request,
        "equipment.html",
        PAGE,
        title=_title(t, due, locked),
        groups=[
            (t(f"equipment.group_{name}"), [row for row in rows if row.table == name])
            for name in register.TABLES
        ],
        hours=_hours(t),
        starts=_starts,
    )


def _title(t: catalogue.Words, due: int, locked: int) -> str:
    if locked:
        return t.many("equipment.title_locked", locked)
    return t.many("equipment.title_due", due) if due else t("equipment.title")


def _hours(t: catalogue.Words) -> Callable[[running.Ran | None], str]:
    def say(ran: running.Ran | None) -> str:
        """Hours as a person says them: one number, or from and to where it is not known."""
        if ran is None:
            return ""
        if ran.hours.sure:
            return t("equipment.hours_of", hours=f"{ran.hours.high:.0f}")
        return t("equipment.hours_between", low=f"{ran.hours.low:.0f}", high=f"{ran.hours.high:.0f}")

    return say


def _starts(ran: running.Ran | None) -> str:
    """Starts, where something tells of them."""
    if ran is None or ran.starts is None:
        return ""
    return f"{ran.starts.low:.0f}"


@router.get("/equipment/{id}")
def thing(request: Request, id: str) -> Response:
    """All of one machine or meter."""
    return _thing(request, id, {}, ())


def _thing(
    request: Request, id: str, given: dict[str, str], found: Sequence[findings.Finding], status: int = 200
) -> Response:
    hall = sheets.desk_of(request).hall()
    who = sheets.who(request)
    t = sheets.words_of(request)
    sheet = register.sheet(hall, id)
    at = [(f"{given.get('part', '')}.{one.spot.field}", one) for one in found]
    return sheets.render(
        request,
        "equipment_one.html",
        PAGE,
        status=status,
        title=_title_of(t, sheet),
        whole=sheet,
        row=sheet.row,
        given=given,
        faults={box: one.text for box, one in at if box in BOXES},
        found=[one for box, one in at if box not in BOXES],
        hours=_hours(t),
        starts=_starts,
        open_hall=who.role == "open",
        may_off=[lock.id for lock in sheet.row.locks if lock_outs.may_take_off(lock, who)],
        own=[lock.id for lock in sheet.row.locks if who.number is not None and who.number == lock.person],
        edit=f"/plant/edit/{sheet.row.table}/{quote(id, safe='')}",
    )


def _title_of(t: catalogue.Words, sheet: register.Sheet) -> str:
    row = sheet.row
    name = f"{row.tag}, {row.name}" if row.name else row.tag
    if row.locks:
        return t("equipment.one_locked", name=name)
    if row.retired:
        return t("equipment.one_retired", name=name, day=row.retired)
    due = next((one for one in sheet.due if one.state == "due"), None)
    if due is not None:
        return t("equipment.one_due", name=name, what=due.what)
    return name


@router.post("/equipment/{id}/count")
def count(request: Request, id: str, given: forms.Given) -> Response:
    """What its counter shows."""
    hall, person = sheets.desk_of(request).hall(), sheets.writer(request, given.get("by", ""))
    told = {name: given.get(name, "") for name in ("hours", "starts", "note")}
    return _written(request, id, given, "count", lambda: upkeep.count(hall, of=id, person=person, **told))


@router.post("/equipment/{id}/renew")
def renew(request: Request, id: str, given: forms.Given) -> Response:
    """A membrane, a reagent, a lamp or the like, renewed."""
    hall, person = sheets.desk_of(request).hall(), sheets.writer(request, given.get("by", ""))
    told = {name: given.get(name, "") for name in ("what", "lot", "expires", "note")}
    return _written(request, id, given, "renew", lambda: upkeep.renew(hall, of=id, person=person, **told))


@router.post("/equipment/{id}/lock")
def lock(request: Request, id: str, given: forms.Given) -> Response:
    """A lock-out note, hung."""
    hall, person = sheets.desk_of(request).hall(), sheets.writer(request, given.get("by", ""))
    told = {name: given.get(name, "") for name in ("tag", "why")}
    return _written(request, id, given, "lock", lambda: lock_outs.hang(hall, of=id, person=person, **told))


@router.post("/equipment/{id}/lock-off")
def lock_off(request: Request, id: str, given: forms.Given) -> Response:
    """A lock-out note, taken off."""
    hall, who = sheets.desk_of(request).hall(), sheets.who(request)
    person = sheets.writer(request, given.get("by", ""))

    def work() -> object:
        return lock_outs.take_off(
            hall, given.get("lock", ""), person=person, role=who.role, why=given.get("why", "")
        )

    return _written(request, id, given, "off", work)


@router.post("/equipment/{id}/paper")
def paper(request: Request, id: str, sent: importing.Sent) -> Response:
    """A photo or a paper, kept with the thing."""
    hall = sheets.desk_of(request).hall()
    name, content, given = sent
    person = sheets.writer(request, given.get("by", ""))

    def work() -> object:
        if not name:
            raise mishaps.Refused(_no_paper())
        return attachments.keep(hall, content, name, about=id, person=person)

    return _written(request, id, given, "paper", work)


def _no_paper() -> findings.Finding:
    return findings.Finding(
        code="register/no-paper",
        level=findings.Level.STOP,
        text="No photo or paper was chosen",
        hint="choose one, then send it",
        spot=findings.Spot(field="file"),
    )


def _written(
    request: Request, id: str, given: dict[str, str], part: str, work: Callable[[], object]
) -> Response:
    """Back to the sheet; with what stands in the way where it was refused."""
    register.sheet(sheets.desk_of(request).hall(), id)  # there
    unsure = coming.confirmed(request, given) if part in ("lock", "off") else ()
    if unsure:
        return _thing(request, id, {**given, "part": part}, unsure, status=422)
    try:
        work()
    except mishaps.Refused as refusal:
        return _thing(request, id, {**given, "part": part}, refusal.findings, status=422)
    return RedirectResponse(f"/equipment/{quote(id, safe='')}", status_code=303)

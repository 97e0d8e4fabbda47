"""Sheet ``log``: filter, write, supersede, trail."""

from __future__ import annotations

import dataclasses
import typing
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from brinehouse import findings, records
from brinehouse.web import catalogue, forms, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import attachments, beside, clock, logging_book, mishaps, times, typed
from brinehouse.workbench import hall as halls

router = make_router()
PAGE = 60
KINDS = ("reading", *(kind for kind in typing.get_args(records.FactKind) if kind != "withdrawal"))


@router.get("/log")
def log(request: Request) -> Response:
    """Newest first, filtered by what the address says."""
    hall = sheets.desk_of(request).hall()
    wanted = logging_book.Wanted.read(sheets.typed(request))
    shown = logging_book.look(hall, wanted, size=PAGE)
    t = sheets.words_of(request)
    return sheets.render(
        request,
        "log.html",
        "log",
        as_of=shown.newest,
        title=t("log.title_of", what=", ".join(_told(wanted))) if _told(wanted) else t("log.title"),
        shown=shown,
        wanted=wanted,
        size=PAGE,
        choices=logging_book.choices(hall),
        kinds=[(kind, t(f"kind.{kind.replace('-', '_')}")) for kind in KINDS],
    )


def _told(wanted: logging_book.Wanted) -> list[str]:
    return [part for part in (wanted.place, wanted.quantity, wanted.instrument) if part]


@router.get("/log/new")
def new(request: Request) -> Response:
    """A form for one reading."""
    return _form(request, sheets.typed(request), (), status=200)


@router.get("/log/new/beside")
def last_readings(request: Request) -> Response:
    """What was read last, alone: the form shows it as soon as place and quantity are chosen."""
    given = sheets.typed(request)
    hall = sheets.desk_of(request).hall()
    page = sheets.environment().get_template("log_beside.html")
    units = beside.units_of(given.get("quantity", ""))
    values = {**sheets.context(request, "log"), "beside": beside.last(hall, given), "units": units}
    return HTMLResponse(page.render(values), headers={"cache-control": "no-store"})


@router.post("/log/new")
def write(request: Request, given: forms.Given) -> Response:
    """One reading: stored, asked about once more, or refused with why."""
    hall = sheets.desk_of(request).hall()
    at, found = _when(given, hall.facility.timezone)
    if found or not given.get("value", "").strip():
        return _form(request, given, found or [_nothing_read()], status=422)
    made = typed.understand(
        hall.facility,
        place=given.get("place", ""),
        quantity=given.get("quantity", ""),
        text=beside.as_typed(given.get("value", ""), given.get("unit", "")),
        at=at,
        instrument=given.get("instrument", ""),
        depth=given.get("depth", ""),
        note=given.get("note", ""),
        basis=given.get("basis", ""),
        sure=bool(given.get("sure")),
        reason=given.get("reason", ""),
    )
    if made.reading is None or made.ask or made.refused:
        return _form(request, given, made.findings, status=422)
    person = logging_book.person(hall, given.get("by", ""))
    hall.write([dataclasses.replace(made.reading, person=person)], person=person)
    return RedirectResponse(f"/log/{made.reading.id}", status_code=303)


def _nothing_read() -> findings.Finding:
    return findings.Finding(
        code="page/nothing-read",
        level=findings.Level.STOP,
        text="Nothing is written where the value belongs",
        hint="write the value with its unit, or 'not measured' and why",
        spot=findings.Spot(field="value"),
    )


def _box(then: datetime, zone: str) -> str:
    """A time as its box holds it: the hall's own, without its offset."""
    return sheets.clocktime(then, zone).replace(" ", "T")


def _when(given: Mapping[str, str], zone: str) -> tuple[datetime | None, Sequence[findings.Finding]]:
    """The time of a reading; one that was left as the form gave it is that moment, whatever the clocks do."""
    try:
        opened = datetime.fromisoformat(given.get("opened", ""))
    except ValueError:
        opened = None
    if opened is not None and opened.tzinfo is not None and _box(opened, zone) == given.get("at", ""):
        return opened.astimezone(UTC), ()
    return _time(given.get("at", ""), zone)


def _time(text: str, zone: str) -> tuple[datetime | None, Sequence[findings.Finding]]:
    """A typed time, or why it is none; nothing where nothing was typed."""
    if not text.strip():
        return None, ()
    try:
        return times.local(text, zone), ()
    except mishaps.Refused as refusal:
        return None, refusal.findings


def _form(
    request: Request, given: Mapping[str, str], found: Sequence[findings.Finding], status: int
) -> Response:
    hall = sheets.desk_of(request).hall()
    opened = clock.now().replace(second=0, microsecond=0)
    units = beside.units_of(given.get("quantity", ""))
    return sheets.render(
        request,
        "log_new.html",
        "log",
        status=status,
        given={
            "at": _box(opened, hall.facility.timezone),
            "opened": opened.isoformat(),
            "unit": next(iter(units), ""),
            **given,
        },
        units=units,
        found=found,
        choices=logging_book.choices(hall),
        unusual=any(finding.code == "typed/unusual" for finding in found),
        beside=beside.last(hall, given),
    )


@router.get("/log/{id}")
def trail(request: Request, id: str) -> Response:
    """One entry: every version, who, when and why; and a form that supersedes it."""
    return _trail(request, id, {}, (), status=200)


@router.post("/log/{id}/supersede")
def supersede(request: Request, id: str, given: forms.Given) -> Response:
    """A correction of value, place, time or person: a new row with a reason."""
    hall = sheets.desk_of(request).hall()
    old = logging_book.trail(hall, id).stands.fact
    unchanged = given.get("at", "") == _box(old.measured, hall.facility.timezone)
    at, found = (None, ()) if unchanged else _time(given.get("at", ""), hall.facility.timezone)
    if found:
        return _trail(request, id, given, found, status=422)
    done = logging_book.supersede(hall, id, _corrected(given, old), at)
    if done.findings:
        return _trail(request, id, given, done.findings, status=422)
    return RedirectResponse(f"/log/{done.id}", status_code=303)


def _corrected(given: Mapping[str, str], old: records.Reading | records.Fact) -> dict[str, str]:
    """What the form says, a decimal comma read as one; a text left as it is stays as it was typed."""
    value = given.get("value", "")
    same = isinstance(old, records.Reading) and value == old.text
    return {**given, "value": value if same else beside.as_typed(value, "")}


def _trail(
    request: Request, id: str, given: Mapping[str, str], found: Sequence[findings.Finding], status: int
) -> Response:
    hall = sheets.desk_of(request).hall()
    shown = logging_book.trail(hall, id)
    fact, t = _entry(shown), sheets.words_of(request)
    reading = fact if isinstance(fact, records.Reading) else None
    place = (reading.point or reading.place) if reading else fact.place
    return sheets.render(
        request,
        "log_trail.html",
        "log",
        status=status,
        as_of=fact.measured,
        title=_title(shown, t),
        shown=shown,
        versions=[_version(one, shown) for one in shown.versions],
        is_reading=reading is not None,
        another="/log/new?" + urlencode(_next(reading, shown.names)),
        correctable=fact is shown.stands.fact,
        unusual=any(finding.code == "typed/unusual" for finding in found),
        given={
            "value": reading.text if reading else "",
            "place": place,
            "instrument": reading.instrument if reading else "",
            "taken_by": shown.names.get(fact.person, "") if fact.person is not None else "",
            "at": _box(fact.measured, hall.facility.timezone),
            **given,
        },
        found=found,
        choices=logging_book.choices(hall),
        attached=_attached(hall, shown),
    )


def _attached(hall: halls.Hall, shown: logging_book.Trail) -> list[attachments.Kept]:
    """The photos and papers of an entry, or the one that this entry is about."""
    facts = [version.fact for version in shown.versions]
    own = [
        str(one.details.get("sha256", ""))
        for one in facts
        if isinstance(one, records.Fact) and one.kind == "file"
    ]
    return attachments.kept_of(hall, [*(fact.id for fact in facts), *own])


def _is_withdrawal(fact: records.Reading | records.Fact) -> bool:
    return isinstance(fact, records.Fact) and fact.kind == "withdrawal"


def _entry(shown: logging_book.Trail) -> records.Reading | records.Fact:
    """The entry as it stands, or as it last stood where it was taken back."""
    kept = [version.fact for version in shown.versions if not _is_withdrawal(version.fact)]
    stands = shown.stands.fact
    return stands if not _is_withdrawal(stands) or not kept else kept[-1]


def _next(reading: records.Reading | None, names: Mapping[int, str]) -> dict[str, str]:
    """What the next reading has in common with this one: its place, and who writes."""
    if reading is None:
        return {}
    by = names.get(reading.person, "") if reading.person is not None else ""
    return {"place": reading.point or reading.place, "by": by}


def _title(shown: logging_book.Trail, t: catalogue.Words) -> str:
    count = len(shown.versions)
    said = logging_book.says(_entry(shown), shown.names, shown.zone)
    if _entry(shown) is not shown.stands.fact:
        return t("log.trail_taken_back", what=said)
    return t.many("log.trail", count, what=said) if count > 1 else t("log.trail_one", what=said)


def _version(one: Any, shown: logging_book.Trail) -> dict[str, Any]:
    fact = one.fact
    reading = isinstance(fact, records.Reading)
    return {
        "seq": one.seq,
        "entered": one.entered,
        "measured": fact.measured,
        "says": logging_book.says(fact, shown.names, shown.zone),
        "instrument": fact.instrument if reading else "",
        "by": shown.names.get(one.person, "") if one.person is not None else "",
        "reason": one.reason,
        "note": fact.note,
        "stands": one.stands,
        "withdrawal": _is_withdrawal(fact),
    }

"""Sheet ``people``: who may come in, as what, on which phones, and what happened at the door."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse import findings
from brinehouse.web import coming, forms, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import door_log, entering, mishaps, people

router = make_router()
PAGE = 100


@router.get("/people")
def everyone(request: Request) -> Response:
    """Everyone who may come in; in an open hall, how to make the first account."""
    return _everyone(request, {}, ())


def _everyone(
    request: Request,
    given: Mapping[str, str],
    found: Sequence[findings.Finding],
    told: tuple[str, str] = ("", ""),
) -> Response:
    place = sheets.desk_of(request).hall()
    everybody = people.everyone(place)
    return sheets.render(
        request,
        "people.html",
        "people",
        status=422 if found else 200,
        everybody=everybody,
        others=people.without_account(place),
        odd=door_log.odd(place) if everybody else (),
        roles=people.ROLES,
        given={name: given.get(name, "") for name in ("name", "role")},
        found=found,
        told=told,
    )


@router.post("/people")
def add(request: Request, given: forms.Given) -> Response:
    """Somebody may come in from now on; the code is shown once."""
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    found = coming.confirmed(request, given)
    if found:
        return _everyone(request, given, found)
    try:
        _, code = people.add(place, given.get("name", ""), given.get("role", ""), asking)
    except mishaps.Refused as refusal:
        return _everyone(request, given, refusal.findings)
    return _everyone(request, {}, (), told=(" ".join(given["name"].split()), code))


@router.get("/people/first")
def first(request: Request) -> Response:
    """The first account: whoever looks after this hall chooses name and password."""
    return _first(request, {}, ())


@router.post("/people/first")
def make_first(request: Request, given: forms.Given) -> Response:
    """From now on roles hold, and whoever made it is in."""
    name, password = given.get("name", ""), given.get("password", "")
    if password != given.get("password again", ""):
        return _first(request, given, [_twice()])
    try:
        place = sheets.desk_of(request).hall()
        people.first(place, name, password, address=coming.address(request))
        entered = entering.by_password(coming.door(request), name, password)
    except mishaps.Refused as refusal:
        return _first(request, given, refusal.findings)
    return coming.let_in(request, RedirectResponse("/me", status_code=303), entered)


def _twice() -> findings.Finding:
    return findings.Finding(
        code="people/not-twice",
        level=findings.Level.STOP,
        text="The two passwords are not the same",
        hint="type the same twice",
        spot=findings.Spot(field="password again"),
    )


def _first(request: Request, given: Mapping[str, str], found: Sequence[findings.Finding]) -> Response:
    if sheets.who(request).role != "open":
        return RedirectResponse("/people", status_code=303)
    shown = {"name": given.get("name", "")}
    return sheets.render(
        request, "people_first.html", "people", status=422 if found else 200, given=shown, found=found
    )


@router.get("/people/devices")
def devices(request: Request) -> Response:
    """The hall's phones and machines."""
    return _devices(request, ())


def _devices(request: Request, found: Sequence[findings.Finding], code: str = "") -> Response:
    return sheets.render(
        request,
        "people_devices.html",
        "people",
        status=422 if found else 200,
        devices=people.devices(sheets.desk_of(request).hall()),
        found=found,
        code=code,
    )


@router.post("/people/devices/code")
def device_code(request: Request, given: forms.Given) -> Response:
    """A code that makes one phone the hall's; shown once."""
    found = coming.confirmed(request, given)
    if found:
        return _devices(request, found)
    try:
        code = people.device_code(sheets.desk_of(request).hall(), sheets.who(request))
    except mishaps.Refused as refusal:
        return _devices(request, refusal.findings)
    return _devices(request, (), code)


@router.post("/people/devices/{id}/end")
def end_device(request: Request, id: str, given: forms.Given) -> Response:
    """A phone is the hall's no more."""
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    found = coming.confirmed(request, given)
    if not found:
        try:
            people.end_device(place, id, asking)
        except mishaps.Refused as refusal:
            found = refusal.findings
    return _devices(request, found) if found else RedirectResponse("/people/devices", status_code=303)


@router.get("/people/log")
def log(request: Request) -> Response:
    """What happened at the door, newest first."""
    place = sheets.desk_of(request).hall()
    before = request.query_params.get("before", "")
    at = int(before) if before.isascii() and before.isdigit() and len(before) < 16 else None
    events = door_log.events(place, before=at, size=PAGE)
    return sheets.render(
        request,
        "people_log.html",
        "people",
        events=events,
        older=events[-1].seq if len(events) == PAGE else None,
        odd=door_log.odd(place),
    )


@router.get("/people/{number}")
def one(request: Request, number: int) -> Response:
    """One person: role, what they come in by, and what an administrator can change."""
    return _one(request, number, ())


def _one(request: Request, number: int, found: Sequence[findings.Finding], code: str = "") -> Response:
    place = sheets.desk_of(request).hall()
    return sheets.render(
        request,
        "person.html",
        "people",
        status=422 if found else 200,
        account=people.account(place, number),
        roles=people.ROLES,
        found=found,
        code=code,
    )


def _changed(
    request: Request, number: int, given: Mapping[str, str], change: Callable[[people.Who], str | None]
) -> Response:
    """Do it once whoever asks is sure; a code that comes of it is shown once."""
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    people.account(place, number)
    found = coming.confirmed(request, given)
    code: str | None = None
    if not found:
        try:
            code = change(asking)
        except mishaps.Refused as refusal:
            found = refusal.findings
    if found or code:
        return _one(request, number, found, code or "")
    return RedirectResponse(f"/people/{number}", status_code=303)


@router.post("/people/{number}/role")
def role(request: Request, number: int, given: forms.Given) -> Response:
    """Another role."""
    place = sheets.desk_of(request).hall()
    return _changed(
        request, number, given, lambda by: people.change_role(place, number, given.get("role", ""), by)
    )


@router.post("/people/{number}/disable")
def disable(request: Request, number: int, given: forms.Given) -> Response:
    """Let in no more."""
    place = sheets.desk_of(request).hall()
    return _changed(request, number, given, lambda by: people.disable(place, number, by))


@router.post("/people/{number}/enable")
def enable(request: Request, number: int, given: forms.Given) -> Response:
    """Let in again."""
    place = sheets.desk_of(request).hall()
    return _changed(request, number, given, lambda by: people.enable(place, number, by))


@router.post("/people/{number}/reset")
def reset(request: Request, number: int, given: forms.Given) -> Response:
    """Take away all they come in by, and show a new code."""
    place = sheets.desk_of(request).hall()
    return _changed(request, number, given, lambda by: people.reset(place, number, by))


@router.post("/people/{number}/blank")
def blank(request: Request, number: int, given: forms.Given) -> Response:
    """Take the name out for good."""
    place = sheets.desk_of(request).hall()
    answer = _changed(
        request, number, given, lambda by: people.blank(place, number, given.get("reason", ""), by)
    )
    return RedirectResponse("/people", status_code=303) if answer.status_code == 303 else answer

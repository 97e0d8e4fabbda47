"""The door: names and PINs on the hall's phones, passwords, passkeys and told codes; and leaving."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from fastapi import Depends
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from brinehouse import findings
from brinehouse.web import coming, forms, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import entering, mishaps, passkeys

router = make_router()
LARGEST = 64 * 1024


async def answer_of(request: Request) -> dict[str, Any]:
    """What a script sends: an object, or an empty one where it is none."""
    parts = b""
    async for part in request.stream():
        parts += part
        if len(parts) > LARGEST:
            return {}
    try:
        found: Any = json.loads(parts)
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


Sent = Annotated[dict[str, Any], Depends(answer_of)]


@router.get("/enter")
def enter(request: Request) -> Response:
    """Whose name is it; or by password where this is not a phone of the hall."""
    return _enter(request, sheets.typed(request), ())


@router.post("/enter")
def by_password(request: Request, given: forms.Given) -> Response:
    """By name and password."""
    ours = given.get("ours", "")
    try:
        entered = entering.by_password(
            coming.door(request),
            given.get("name", ""),
            given.get("password", ""),
            given.get("code", ""),
            device_name=(given.get("device", "") or given.get("name", "")) if ours else None,
        )
    except mishaps.Refused as refusal:
        return _enter(request, given, refusal.findings)
    return _onward(request, entered, given.get("next", ""))


def _enter(request: Request, given: Mapping[str, str], found: Sequence[findings.Finding]) -> Response:
    """The door itself."""
    table = sheets.desk_of(request)
    open_hall = sheets.who(request).role == "open"
    door = coming.door(request) if table.has_hall() and not open_hall else None
    shown = {name: text for name, text in given.items() if name not in ("password", "code")}
    return sheets.render(
        request,
        "enter.html",
        "enter",
        status=_status(found),
        open_hall=open_hall,
        ours=bool(door and door.device),
        names=entering.tiles(door.place) if door and door.device else (),
        given=shown,
        next=coming.onward(given.get("next", "")),
        found=found,
    )


def _status(found: Sequence[findings.Finding]) -> int:
    if any(one.code == "people/wait" for one in found):
        return 429
    return 422 if found else 200


def _onward(request: Request, entered: entering.Entered, wanted: str) -> Response:
    to = "/me" if entered.needs_change else coming.onward(wanted)
    return coming.let_in(request, RedirectResponse(to, status_code=303), entered)


@router.get("/enter/pin")
def pin(request: Request) -> Response:
    """Four to eight digits for a name that was touched."""
    return _pin(request, sheets.typed(request), ())


@router.post("/enter/pin")
def by_pin(request: Request, given: forms.Given) -> Response:
    """By name and PIN."""
    number = given.get("who", "")
    try:
        plain = int(number) if number.isascii() and number.isdigit() and len(number) < 10 else 0
        entered = entering.by_pin(coming.door(request), plain, given.get("pin", "").strip())
    except mishaps.Refused as refusal:
        return _pin(request, given, refusal.findings)
    return _onward(request, entered, given.get("next", ""))


def _pin(request: Request, given: Mapping[str, str], found: Sequence[findings.Finding]) -> Response:
    open_hall = sheets.who(request).role == "open" or not sheets.desk_of(request).has_hall()
    door = None if open_hall else coming.door(request)
    names = dict(entering.tiles(door.place)) if door and door.device else {}
    number = given.get("who", "")
    name = names.get(int(number), "") if number.isascii() and number.isdigit() else ""
    if not name and not found:
        return RedirectResponse("/enter", status_code=303)
    return sheets.render(
        request,
        "enter_pin.html",
        "enter",
        status=_status(found),
        name=name,
        number=number if name else "",
        next=coming.onward(given.get("next", "")),
        found=found,
    )


@router.get("/enter/code")
def code(request: Request) -> Response:
    """A code that somebody told."""
    return _code(request, {}, ())


@router.post("/enter/code")
def by_code(request: Request, given: forms.Given) -> Response:
    """A told code: a person comes in to choose a password, or this phone becomes the hall's."""
    try:
        came = entering.by_code(
            coming.door(request), given.get("code", ""), device_name=given.get("device", "")
        )
    except mishaps.Refused as refusal:
        return _code(request, given, refusal.findings)
    if isinstance(came, str):
        return coming.admit(request, RedirectResponse("/enter", status_code=303), came)
    return _onward(request, came, "/me")


def _code(request: Request, given: Mapping[str, str], found: Sequence[findings.Finding]) -> Response:
    shown = {"device": given.get("device", "")}
    return sheets.render(request, "enter_code.html", "enter", status=_status(found), given=shown, found=found)


@router.post("/enter/passkey/ask.json")
def ask_passkey(request: Request) -> Response:
    """What the browser is asked for a passkey."""
    return JSONResponse(passkeys.ask_to_enter(coming.questions(request), coming.site(request)))


@router.post("/enter/passkey.json")
def by_passkey(request: Request, sent: Sent) -> Response:
    """By passkey."""
    try:
        entered = passkeys.enter(coming.questions(request), coming.door(request), coming.site(request), sent)
    except mishaps.Refused as refusal:
        return refused(refusal)
    to = coming.onward(str(sent.get("next", "")))
    return coming.let_in(request, JSONResponse({"to": "/me" if entered.needs_change else to}), entered)


def refused(refusal: mishaps.Refused) -> Response:
    """A refusal for a script."""
    found = refusal.findings[0]
    status = 429 if found.code == "people/wait" else 422
    return JSONResponse({"code": found.code, "text": found.text, "hint": found.hint}, status)


@router.get("/leave")
def leave(request: Request) -> Response:
    """Ask before leaving: the page's script says what still waits on this phone."""
    return sheets.render(request, "leave.html", "enter")


@router.post("/leave")
def left(request: Request) -> Response:
    """End this session; what waits on the phone stays on it, and the phone stays the hall's."""
    asking = sheets.who(request)
    if asking.session:
        entering.leave(sheets.desk_of(request).hall(), asking)
    return coming.let_out(request, RedirectResponse("/enter", status_code=303))

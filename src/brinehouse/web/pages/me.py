"""Sheet ``me``: one's own password, PIN, codes, passkeys and sessions."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from brinehouse import findings
from brinehouse.web import coming, forms, sheets
from brinehouse.web.pages import entering as door_pages
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import entering, mishaps, one_time, passkeys, people

router = make_router()
SECRET = re.compile(r"[A-Z2-7]{32}")


@router.get("/me")
def me(request: Request) -> Response:
    """What one comes in by, and where one is in just now."""
    if sheets.who(request).number is None:
        return RedirectResponse("/people", status_code=303)
    return _me(request, {}, ())


def _me(request: Request, given: Mapping[str, str], found: Sequence[findings.Finding]) -> Response:
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    if asking.number is None:
        return RedirectResponse("/people", status_code=303)
    return sheets.render(
        request,
        "me.html",
        "me",
        status=422 if found else 200,
        account=people.account(place, asking.number),
        sessions=entering.sessions(place, asking),
        passkeys=passkeys.of(place, asking),
        given={name: given.get(name, "") for name in ("part", "device")},
        found=found,
    )


def _changed(
    request: Request, given: Mapping[str, str], change: Callable[[], object], *, sure: bool = True
) -> Response:
    """Do it once the person is sure, and show the sheet again."""
    found = coming.confirmed(request, given) if sure else ()
    if found:
        return _me(request, given, found)
    try:
        change()
    except mishaps.Refused as refusal:
        return _me(request, given, refusal.findings)
    return RedirectResponse("/me", status_code=303)


@router.post("/me/password")
def password(request: Request, given: forms.Given) -> Response:
    """Another password; every other session ends, and this one gets a new number."""
    asking = sheets.who(request)
    if given.get("new", "") != given.get("new again", ""):
        return _me(request, {"part": "password"}, [_twice("new again")])
    try:
        entered = entering.set_password(
            coming.door(request), asking, given.get("old", ""), given.get("new", "")
        )
    except mishaps.Refused as refusal:
        return _me(request, {"part": "password"}, refusal.findings)
    return coming.let_in(request, RedirectResponse("/me", status_code=303), entered)


def _twice(box: str) -> findings.Finding:
    return findings.Finding(
        code="people/not-twice",
        level=findings.Level.STOP,
        text="The two are not the same",
        hint="type the new one twice, alike",
        spot=findings.Spot(field=box),
    )


@router.post("/me/pin")
def pin(request: Request, given: forms.Given) -> Response:
    """A PIN for the hall's phones."""
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    if given.get("pin", "") != given.get("pin again", ""):
        return _me(request, {"part": "pin"}, [_twice("pin again")])
    return _changed(
        request, {**given, "part": "pin"}, lambda: entering.set_pin(place, asking, given.get("pin", ""))
    )


@router.get("/me/codes")
def codes(request: Request) -> Response:
    """A new secret as a square code; it counts once one of its codes was typed."""
    return _codes(request, one_time.secret(), ())


def _codes(request: Request, secret: str, found: Sequence[findings.Finding]) -> Response:
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    if asking.number is None:
        return RedirectResponse("/people", status_code=303)
    where = one_time.address(secret, asking.name, place.facility.name)
    return sheets.render(
        request,
        "me_codes.html",
        "me",
        status=422 if found else 200,
        secret=secret,
        groups=" ".join(secret[n : n + 4] for n in range(0, len(secret), 4)),
        picture=one_time.picture(where),
        found=found,
    )


@router.post("/me/codes")
def keep_codes(request: Request, given: forms.Given) -> Response:
    """Ask for one-time codes from now on."""
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    secret = given.get("secret", "")
    if not SECRET.fullmatch(secret):
        return RedirectResponse("/me/codes", status_code=303)
    found = coming.confirmed(request, given)
    if not found:
        try:
            entering.set_codes(place, asking, secret, given.get("code", ""))
        except mishaps.Refused as refusal:
            found = refusal.findings
    return _codes(request, secret, found) if found else RedirectResponse("/me", status_code=303)


@router.post("/me/codes/end")
def end_codes(request: Request, given: forms.Given) -> Response:
    """Ask for no one-time code any more."""
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    return _changed(request, given, lambda: entering.end_codes(place, asking))


@router.post("/me/passkey/ask.json")
def ask_passkey(request: Request) -> Response:
    """What the browser is asked for a new passkey; only for whoever has just typed the PIN or password."""
    asking, place = sheets.who(request), sheets.desk_of(request).hall()
    if asking.number is None or not asking.sure:
        return JSONResponse({"code": "people/again", "text": sheets.words_of(request)("me.be_sure")}, 422)
    return JSONResponse(passkeys.ask_to_make(coming.questions(request), place, asking, coming.site(request)))


@router.post("/me/passkey.json")
def keep_passkey(request: Request, sent: door_pages.Sent) -> Response:
    """Keep a new passkey."""
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    try:
        passkeys.keep(
            coming.questions(request), place, asking, coming.site(request), sent, str(sent.get("name", ""))
        )
    except mishaps.Refused as refusal:
        return door_pages.refused(refusal)
    return JSONResponse({"to": "/me"})


@router.post("/me/passkey/{id}/end")
def end_passkey(request: Request, id: str, given: forms.Given) -> Response:
    """Take a passkey away."""
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    return _changed(request, given, lambda: passkeys.end(place, asking, id))


@router.post("/me/sure")
def sure(request: Request, given: forms.Given) -> Response:
    """Type the PIN or password again."""
    return _changed(request, given, lambda: None)


@router.post("/me/sessions/end")
def end_others(request: Request) -> Response:
    """End every other session of one's own."""
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    return _changed(request, {}, lambda: entering.end_others(place, asking), sure=False)


@router.post("/me/sessions/{ref}/end")
def end_session(request: Request, ref: str) -> Response:
    """End one session of one's own."""
    place, asking = sheets.desk_of(request).hall(), sheets.who(request)
    return _changed(request, {}, lambda: entering.end_session(place, asking, ref), sure=False)

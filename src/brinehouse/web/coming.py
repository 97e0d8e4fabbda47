"""What a request says of whoever makes it: cookies, the door they stand at, and the way back."""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping, Sequence
from urllib.parse import urlsplit

from starlette.requests import Request
from starlette.responses import Response

from brinehouse import findings
from brinehouse.workbench import entering, guessing, mishaps, passkeys, people

SESSION, DEVICE = "brinehouse", "brinehouse-device"
YEAR = 365 * 24 * 3600
LOOPBACK = frozenset({"127.0.0.1", "localhost", "[::1]"})

# Cookies are SameSite=Lax, not Strict: a printed code at a tank, or the address in a notice, must open its
# sheet for whoever is signed in. What Lax lets through changes nothing: every change is asked where it comes
# from (`guard`).


def _name(request: Request, name: str) -> str:
    return f"__Host-{name}" if request.url.scheme == "https" else name


def _ticket(request: Request, name: str) -> str:
    found = request.cookies.get(_name(request, name), "")
    return found if len(found) <= 100 else ""


def _set(request: Request, response: Response, name: str, ticket: str, seconds: int) -> None:
    response.set_cookie(
        _name(request, name),
        ticket,
        max_age=seconds,
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="lax",
    )


def address(request: Request) -> str:
    """Where a request comes from."""
    return request.client.host if request.client else ""


def host(request: Request) -> str:
    """The name this hall was called by, without its port."""
    said = request.headers.get("host", "")
    return said if said.endswith("]") else said.rsplit(":", 1)[0]


def nearby(request: Request) -> bool:
    """Whether a request comes over the loopback line of the hall's own machine, whatever it says."""
    try:
        at = ipaddress.ip_address(address(request))
    except ValueError:
        return False
    mapped = at.ipv4_mapped if isinstance(at, ipaddress.IPv6Address) else None
    return (mapped or at).is_loopback


def at_home(request: Request) -> bool:
    """Whether it is asked on the hall's own machine: over its loopback line, and by its own name.

    The name alone can be sent from anywhere; the line alone is also that of a proxy on the same machine, and
    of a name elsewhere which resolves to it.
    """
    return nearby(request) and host(request) in LOOPBACK


def who(request: Request) -> people.Who:
    """Whoever makes this request, as the store says at this moment."""
    table = request.app.state.desk
    if not table.has_hall():
        return people.OPEN if at_home(request) else people.NOBODY
    place = table.hall()
    if not request.app.state.peopled:
        request.app.state.peopled = people.has_people(place)
    if not request.app.state.peopled:
        return people.OPEN if at_home(request) else people.NOBODY
    return entering.who(place, _ticket(request, SESSION), address=address(request))


def known(request: Request) -> people.Who | None:
    """Whoever is signed in, where that can be said without the disk; else None, and `who` must be asked."""
    place = request.app.state.desk.opened
    if place is None or not request.app.state.peopled:
        return None
    return entering.known(place, _ticket(request, SESSION), address=address(request))


def door(request: Request) -> entering.Door:
    """The door somebody stands at."""
    place = request.app.state.desk.hall()
    known = entering.device(place, _ticket(request, DEVICE))
    asking: people.Who = getattr(request.state, "who", people.NOBODY)
    return entering.Door(
        place=place,
        guesses=guesses(request),
        device=known["id"] if known else "",
        address=address(request),
        replaces=asking.session,
    )


def guesses(request: Request) -> guessing.Guesses:
    """The failures so far at this door."""
    return request.app.state.guesses


def questions(request: Request) -> passkeys.Questions:
    """The passkeys' questions that wait for an answer."""
    return request.app.state.questions


def site(request: Request) -> passkeys.Site:
    """What passkeys are bound to; the host is one of ours, the guard has seen to that."""
    return passkeys.Site(
        name=host(request), origin=f"{request.url.scheme}://{request.headers.get('host', '')}"
    )


def let_in(request: Request, response: Response, entered: entering.Entered) -> Response:
    """Give the cookies of somebody who came in."""
    request.app.state.peopled = True
    _set(request, response, SESSION, entered.ticket, int(entering.LASTS.total_seconds()))
    return admit(request, response, entered.device_ticket)


def admit(request: Request, response: Response, ticket: str) -> Response:
    """Give the cookie of a phone that became the hall's."""
    if ticket:
        _set(request, response, DEVICE, ticket, YEAR)
    return response


def let_out(request: Request, response: Response) -> Response:
    """Take the session's cookie back; the phone stays the hall's."""
    secure = request.url.scheme == "https"
    response.delete_cookie(_name(request, SESSION), path="/", secure=secure, httponly=True, samesite="lax")
    return response


def onward(wanted: str) -> str:
    """The way back after coming in: a path of this hall, or the first sheet.

    >>> onward("/log/new?place=pipefish"), onward("//elsewhere.example"), onward("https://elsewhere.example")
    ('/log/new?place=pipefish', '/', '/')
    >>> onward("/enter?next=/now"), onward(chr(92) + "elsewhere.example"), onward("/now" + chr(10))
    ('/', '/', '/')
    """
    plain = all(32 < ord(sign) != 127 and sign != "\\" for sign in wanted)
    try:
        parts = urlsplit(wanted)
    except ValueError:
        return "/"
    local = wanted.startswith("/") and not wanted.startswith("//") and not parts.netloc and not parts.scheme
    at_the_door = parts.path.startswith(("/enter", "/leave"))
    return wanted if plain and local and not at_the_door and len(wanted) <= 1000 else "/"


def confirmed(request: Request, given: Mapping[str, str]) -> Sequence[findings.Finding]:
    """Ask for the PIN or password again before something weighty; what stands against it, or nothing.

    For shelving, lock-outs and changes of people: call it before the change, show what it gives with status
    422, and let the form hold ``{{ again() }}`` of ``parts/again.html``. In an open hall, and within five
    minutes of typing it, nothing is asked.
    """
    asking: people.Who = getattr(request.state, "who", people.OPEN)
    if asking.sure:
        return ()
    if not given.get("again", ""):
        return (
            findings.Finding(
                code="people/again",
                level=findings.Level.STOP,
                text="This asks for your PIN or password once more",
                hint="type it below and send again",
                spot=findings.Spot(field="again"),
            ),
        )
    try:
        entering.again(door(request), asking, given["again"])
    except mishaps.Refused as refusal:
        return refusal.findings
    return ()

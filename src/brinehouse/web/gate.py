"""Who may come to which page: the matrix of roles and routes, held before every page.

A route that stands not in ``matrix.toml`` is there for nobody once the hall has people.
"""

from __future__ import annotations

import functools
import importlib.resources
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Match, Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from brinehouse.web import coming, sheets
from brinehouse.workbench import mishaps, people

LETTERS = {role[0]: role for role in (*people.ROLES, "nobody")}
STATIC = "/static/"
BEAT = "/phone/beat"
"""Whether the hall can be reached: asked by every phone about once a second, and answered to anybody."""
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS"})
CHANGING = ("/me", "/me/password", "/leave", "/enter", "/enter/code", "/enter/pin")
"""What is left to somebody who must choose a password first."""


@functools.cache
def matrix() -> Mapping[str, frozenset[str]]:
    """Method and route, and the roles that may."""
    text = importlib.resources.files("brinehouse.web").joinpath("matrix.toml").read_text("utf-8")
    return {
        key: frozenset(LETTERS[letter] for letter in letters if letter != "-")
        for key, letters in tomllib.loads(text).items()
    }


def key(scope: Scope, routes: Iterable[Route]) -> str | None:
    """Method and template of the route that serves a request; empty for a wrong method, None for no route."""
    method = "GET" if scope["method"] == "HEAD" else scope["method"]
    plain = {**scope, "method": method}
    found: str | None = None
    for route in routes:
        match = route.matches(plain)[0]
        if match is Match.FULL:
            return f"{method} {route.path}"
        found = "" if match is Match.PARTIAL else found
    return found


class Ways:
    """As `key`, with what was found for an address that is a whole route kept: most requests ask for few."""

    def __init__(self, routes: Sequence[Route]) -> None:
        self._routes = routes
        self._plain = frozenset(route.path for route in routes if "{" not in route.path)
        self._known: dict[tuple[str, str], str | None] = {}

    def key(self, scope: Scope) -> str | None:
        """Method and template of the route; see `key`."""
        asked = (scope["method"], scope["path"])
        if asked in self._known:
            return self._known[asked]
        found = key(scope, self._routes)
        if asked[1] in self._plain and asked[0] in METHODS:
            self._known[asked] = found
        return found


class Gate:
    """ASGI middleware: say who asks (``request.state.who``), and let through whoever may."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let one request through, or answer it at the gate."""
        if scope["type"] != "http" or scope["path"].startswith(STATIC):
            await self.app(scope, receive, send)
            return
        if scope["path"] == BEAT and scope["method"] in ("GET", "HEAD"):
            await _reached(send)
            return
        request = Request(scope)
        if not _at_once(request):
            answer = await run_in_threadpool(_answer, request)
            if answer is not None:
                await answer(scope, receive, send)
                return

        async def unkept(message: Message) -> None:
            if message["type"] == "http.response.start":
                present = {name.lower() for name, _ in message["headers"]}
                if b"cache-control" not in present:
                    message["headers"] = [*message["headers"], (b"cache-control", b"no-store")]
            await send(message)

        await self.app(scope, receive, unkept)


async def _reached(send: Send) -> None:
    """The hall is there: said without looking at anything."""
    headers = [(b"cache-control", b"no-store")]
    await send({"type": "http.response.start", "status": 204, "headers": headers})
    await send({"type": "http.response.body", "body": b""})


def _at_once(request: Request) -> bool:
    """Whether somebody who is known without the disk may go on; all else is asked in a thread (`_answer`)."""
    asking = coming.known(request)
    if asking is None or asking.needs_change or any(ord(sign) < 32 for sign in request.scope["path"]):
        return False
    found = request.app.state.ways.key(request.scope)
    if not found or asking.role not in matrix().get(found, frozenset[str]()):
        return False
    request.state.who = asking
    return True


def _answer(request: Request) -> Response | None:
    """What is answered at the gate; None for whoever may go on."""
    if any(ord(sign) < 32 for sign in request.scope["path"]):
        return sheets.sentence(request, "fault.not_there", status=404)  # no id of ours holds such signs
    try:
        asking = coming.who(request)
    except mishaps.Refused as refusal:
        request.state.who = people.NOBODY
        handler: Any = request.app.exception_handlers[mishaps.Refused]
        return handler(request, refusal)
    request.state.who = asking
    if asking.role == "open":
        return None
    found = request.app.state.ways.key(request.scope)
    if found is None:
        return sheets.sentence(request, "fault.not_there", status=404)
    if not found:
        return None  # it says itself that this is no way of asking
    allowed = matrix().get(found, frozenset[str]())
    if not allowed:
        return sheets.sentence(request, "fault.not_there", status=404)
    if asking.needs_change and request.url.path not in CHANGING:
        return _to_change(request)
    if asking.role in allowed or "nobody" in allowed:
        return None
    return _outside(request) if asking.role == "nobody" else _not_yours(request, allowed)


def _for_scripts(request: Request) -> bool:
    path = request.url.path
    return path.startswith("/phone") or path.endswith(".json") or "x-brinehouse-phone" in request.headers


def _json(status: int, code: str, text: str, hint: str) -> Response:
    return JSONResponse({"code": code, "text": text, "hint": hint}, status, {"cache-control": "no-store"})


def _outside(request: Request) -> Response:
    """Whoever is not signed in is led to the door, and back afterwards; what they sent is not taken."""
    t = sheets.words_of(request)
    if _for_scripts(request):
        return _json(401, "people/enter", t("enter.first"), t("enter.kept"))
    if request.method in ("GET", "HEAD"):
        way = request.url.path + (f"?{request.url.query}" if request.url.query else "")
        return RedirectResponse(f"/enter?next={quote(way, safe='/')}", 303, {"cache-control": "no-store"})
    return sheets.render(request, "gate.html", "fault", status=401, said=t("enter.first"), roles=())


def _not_yours(request: Request, allowed: frozenset[str]) -> Response:
    """Say which roles may."""
    t = sheets.words_of(request)
    roles = [t(f"people.role_{role}") for role in people.ROLES if role in allowed]
    if _for_scripts(request):
        return _json(403, "people/not-yours", t("people.not_yours"), ", ".join(roles))
    return sheets.render(request, "gate.html", "fault", status=403, said=t("people.not_yours"), roles=roles)


def _to_change(request: Request) -> Response:
    t = sheets.words_of(request)
    if _for_scripts(request) or request.method not in ("GET", "HEAD"):
        return _json(403, "people/choose-first", t("me.choose_first"), "/me")
    return RedirectResponse("/me", 303, {"cache-control": "no-store"})

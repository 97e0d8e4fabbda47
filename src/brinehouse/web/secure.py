"""Pages by https: what plain http leads to, what it may still show, and what a phone may rely on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from brinehouse.web import guard
from brinehouse.workbench import desk, handing, tls

AT_HOME = ("127.0.0.1", "localhost", "::1")
OPEN = ("/trust", "/static/")
REMEMBER = 7 * 24 * 3600
"""How long a phone insists on https after a visit. Short: a hall may go back to plain http. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Https:
    """Where the pages are by https and where the plain door is, and how people call this hall."""

    port: int
    plain_port: int
    called: str


def hall_name(folder: Path) -> str:
    """What the hall is called, for the list of authorities on a phone."""
    table = desk.Desk(folder)
    try:
        facility = table.facility_or_none()
        return facility.name if facility else ""
    finally:
        table.close()


def host_headers(names: Iterable[str]) -> frozenset[str]:
    """The ``Host`` headers that are answered: this machine's own and those of the names given.

    >>> sorted(host_headers(["hall.lan", "fd00::2"]) - guard.LOOPBACK)
    ['[fd00::2]', 'hall.lan']
    """
    return guard.LOOPBACK | {f"[{name}]" if ":" in name else name for name in names}


def host_of(scope: Scope) -> str:
    """The name this hall was called by, without its port."""
    for name, value in scope["headers"]:
        if name.lower() == b"host":
            said = value.decode("latin-1")
            return said if said.endswith("]") else said.rsplit(":", 1)[0]
    return ""


class Strict:
    """ASGI middleware: a browser that came by a name insists on https from then on.

    By a name that was given with ``--name`` only: an address may be another machine's tomorrow, and
    ``localhost`` is everybody's.
    """

    def __init__(self, app: ASGIApp, names: Sequence[str]) -> None:
        self.app = app
        self.names = frozenset(
            name for name in names if not name.replace(".", "").isdigit() and ":" not in name
        ) - frozenset(tls.ALWAYS)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or host_of(scope) not in self.names:
            await self.app(scope, receive, send)
            return

        async def insisting(message: Message) -> None:
            if message["type"] == "http.response.start":
                told = (b"strict-transport-security", f"max-age={REMEMBER}".encode())
                message["headers"] = [*message["headers"], told]
            await send(message)

        await self.app(scope, receive, insisting)


class Plain:
    """ASGI middleware for the plain door: it shows how to trust the hall, and leads elsewhere by https.

    Nothing is signed in to, read or written here. What a command on this machine hands over comes through
    it too, over loopback and with its token.
    """

    def __init__(self, app: ASGIApp, hosts: frozenset[str], port: int) -> None:
        self.app = app
        self.hosts = hosts
        self.port = port

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request, or lead to where it is served."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        path = scope["path"]
        ours = path.startswith(OPEN) and scope["method"] in guard.SAFE
        if ours or (path == handing.PATH and _from_here(scope)):
            await self.app(scope, receive, send)
            return
        await self._elsewhere(scope)(scope, receive, send)

    def _elsewhere(self, scope: Scope) -> Response:
        host = host_of(scope)
        if host not in self.hosts:
            return PlainTextResponse("This address is not one of this hall's.\n", 421)
        if scope["method"] not in guard.SAFE:
            return PlainTextResponse("This hall takes changes by https only.\n", 403)
        way = scope.get("raw_path", b"/").decode("latin-1")
        query = scope["query_string"].decode("latin-1")
        to = f"https://{host}:{self.port}{way}{'?' + query if query else ''}"
        return RedirectResponse(to, 307, {"cache-control": "no-store"})


def _from_here(scope: Scope) -> bool:
    client = scope.get("client")
    return client is not None and client[0] in AT_HOME

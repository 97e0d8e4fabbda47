"""What stands before every page: a host that is ours, no cross-site change, and a strict content policy."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
PHONE, PHONE_HEADER = "/phone/", b"x-brinehouse-phone"
OURS = "brinehouse"
FOREIGN = "A change can only come from the hall's own pages."
LOOPBACK = frozenset({"127.0.0.1", "localhost", "[::1]"})

HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (
        b"content-security-policy",
        b"default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data:; object-src 'none'; "
        b"frame-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=(), payment=(), usb=()"),
)


class Guard:
    """ASGI middleware: refuse foreign hosts and cross-site changes, and add the security headers.

    What broke unforeseen becomes a sheet here too, so that it goes out under the same headers and no
    traceback leaves the process.

    A change (anything but GET, HEAD, OPTIONS) is taken only from our own pages, which
    ``Sec-Fetch-Site`` tells, or else ``Origin`` against ``Host``. A request with neither header is not from
    a browser; it is taken only where it brings no cookie of ours. What phones send by script has to bring
    a header of its own too, which no form of another site can set. A host that is not one of the hall's is
    refused, so that a name elsewhere which resolves to this machine cannot read the pages.
    """

    def __init__(
        self, app: ASGIApp, broke: Callable[[Request, Exception], Response], hosts: Iterable[str] = LOOPBACK
    ) -> None:
        self.app = app
        self.broke = broke
        self.hosts = frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request, or refuse it in a sentence."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = {name.lower(): value.decode("latin-1") for name, value in scope["headers"]}
        fault = self._fault(scope["method"], scope["path"], headers)
        if fault is not None:
            await _refuse(send, *fault)
            return

        begun = False

        async def with_headers(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                present = {name.lower() for name, _ in message["headers"]}
                message["headers"] = [
                    *message["headers"],
                    *(pair for pair in HEADERS if pair[0] not in present),
                ]
            await send(message)

        try:
            await self.app(scope, receive, with_headers)
        except Exception as fault:
            if begun:
                raise
            answer = await run_in_threadpool(self.broke, Request(scope), fault)
            await answer(scope, receive, with_headers)

    def _fault(self, method: str, path: str, headers: dict[bytes, str]) -> tuple[int, str] | None:
        host = headers.get(b"host", "")
        name = host.rsplit(":", 1)[0] if not host.endswith("]") else host
        if name not in self.hosts:
            return 421, "This address is not one of this hall's."
        if method in SAFE:
            return None
        by_script = not path.startswith(PHONE) or PHONE_HEADER in headers
        return None if by_script and _from_here(headers, host) else (403, FOREIGN)


def _from_here(headers: dict[bytes, str], host: str) -> bool:
    """Whether a change comes from one of our own pages, as the browser says; or from no browser at all."""
    site, origin = headers.get(b"sec-fetch-site"), headers.get(b"origin")
    if site is not None:
        return site in ("same-origin", "none")
    if origin is not None:
        try:
            return urlsplit(origin).netloc == host
        except ValueError:
            return False
    names = (part.split("=")[0].strip() for part in headers.get(b"cookie", "").split(";"))
    return not any(name.removeprefix("__Host-").startswith(OURS) for name in names)


async def _refuse(send: Send, status: int, sentence: str) -> None:
    body = sentence.encode()
    await send(
        {
            "type": "http.response.start",
            "status": status,
            "headers": [
                (b"content-type", b"text/plain; charset=utf-8"),
                (b"content-length", str(len(body)).encode()),
                *HEADERS,
            ],
        }
    )
    await send({"type": "http.response.body", "body": body})

"""Sheet ``trust``: how a phone learns to trust the hall's pages, and how it forgets them again.

Open to whoever has not signed in, and by plain http: it is where a phone goes before either is possible.
"""

from __future__ import annotations

from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response

from brinehouse.web import codes, guard, secure, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import tls

router = make_router()
GROUPS = 4
STEPS = ("fetch", "compare", "install", "switch", "open")
REMOVE = ("settings", "list", "remove")
WITHOUT = ("round", "install", "camera", "passkey", "awake", "read")


def _folder(request: Request) -> Path:
    return sheets.desk_of(request).folder


@router.get("/trust")
def trust(request: Request) -> Response:
    """The code, the file, the fingerprint, the steps there and back, and what plain http takes away."""
    state = tls.state(_folder(request))
    https: secure.Https | None = getattr(request.app.state, "https", None)
    served = state is not None and https is not None
    called = _called(request, https) if https is not None else ""
    here = f"http://{called}:{https.plain_port}/trust" if https is not None else ""
    return sheets.render(
        request,
        "trust.html",
        "trust",
        state=state if served else None,
        code=codes.drawn(here) if served else "",
        here=here,
        pages=f"https://{called}:{https.port}/" if https is not None else "",
        fingerprint=_lines(state.fingerprint) if state is not None else (),
        covers=", ".join(name for name in state.covers if name not in tls.ALWAYS) if state else "",
        plain=request.url.scheme != "https",
        steps=STEPS,
        removing=REMOVE,
        without=WITHOUT,
    )


def _called(request: Request, https: secure.Https) -> str:
    """How this hall was called; on its own machine the name by which phones call it."""
    host = secure.host_of(request.scope)
    return https.called if host in guard.LOOPBACK else host


def _lines(fingerprint: str) -> list[str]:
    """Four groups to a line, as two people read them to each other."""
    groups = fingerprint.split()
    return [" ".join(groups[place : place + GROUPS]) for place in range(0, len(groups), GROUPS)]


@router.get("/trust/ca.crt")
def authority(request: Request) -> Response:
    """The authority's certificate, which is no secret; its key never leaves the folder."""
    content = tls.authority_file(_folder(request))
    if content is None:
        return sheets.sentence(request, "fault.not_there", status=404)
    headers = {"content-disposition": 'attachment; filename="hall.crt"', "cache-control": "no-store"}
    return Response(content, media_type="application/x-x509-ca-cert", headers=headers)

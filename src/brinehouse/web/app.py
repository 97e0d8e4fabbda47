"""The pages as one ASGI application over one folder.

Every page is a plain GET with its own address; a form that changes something is a POST that answers with a
redirect, or with the same page and its faults at 422. Everything works without JavaScript.
"""

from __future__ import annotations

import contextlib
import importlib
from collections.abc import AsyncGenerator, Sequence
from pathlib import Path

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse import _version, findings
from brinehouse.web import files, gate, guard, knowing, minder, sheets
from brinehouse.workbench import clock_watch, desk, guessing, mishaps, notices, passkeys, sending
from brinehouse.workbench import hall as halls

PAGES = (
    "phone_in",  # first, for what phones send is looked for among the routes most often
    "first",
    "now",
    "loop",
    "gas",
    "sources",
    "plant",
    "plant_edit",
    "equipment",
    "work",
    "flows",
    "balance",
    "standby",
    "turns",
    "charts",
    "tank",
    "time",
    "trials",
    "trust",
    "ask",
    "importing",
    "log",
    "notices",
    "hand_over",
    "handing",
    "entering",
    "me",
    "people",
    "files",
    "keeping",
    "phone",
    "round_paper",
    "rounds",
)
PATIENCE = 1.0
"""How long [s] a server told to stop waits for what is worked out behind the readers."""
NOT_THERE = frozenset(
    {
        "workbench/no-such-place",
        "workbench/no-entry",
        "workbench/no-engine",
        "trial/unknown",
        "notice/unknown",
        "hand-over/unknown",
        "round/unknown",
        "round/no-stop",
        "drill/no-failure",
        "plant/no-version",
        "plant/gone",
        "plant/no-table",
        "register/unknown",
        "work/unknown",
    }
)


def create_app(folder: Path, *, hosts: frozenset[str] = guard.LOOPBACK, token: str = "") -> FastAPI:
    """The application for one hall's folder.

    Parameters
    ----------
    folder : Path
        May be empty: then the first page asks the five questions.
    hosts : frozenset of str
        Host names answered to: this machine's own, and those that whoever serves it named.
    token : str
        What a command on this machine must show to hand over a batch; empty refuses every batch.
    """

    @contextlib.asynccontextmanager
    async def life(app: FastAPI) -> AsyncGenerator[None]:
        with contextlib.suppress(mishaps.Refused):  # it is told on every page
            _warm(app)
        sender = _sender(app)
        if sender is not None:
            sender.start()
        copies, watcher = minder.Minder(app.state.desk), clock_watch.Watcher(app.state.desk)
        if app.state.desk.door is not None:  # it is served, and not only asked by a test or a tool
            copies.start()
            watcher.start()
        yield
        watcher.close()
        copies.close()
        if sender is not None:
            sender.close()
        app.state.knowing.close(PATIENCE if app.state.desk.door is not None else None)
        app.state.desk.close()

    app = FastAPI(
        title="Brinehouse",
        version=_version.__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        lifespan=life,
    )
    app.state.desk = desk.Desk(folder)
    app.state.knowing = knowing.Knowing()
    app.state.token = token
    app.state.peopled = False
    app.state.guesses, app.state.questions = guessing.Guesses(), passkeys.Questions()
    app.add_middleware(gate.Gate)
    app.add_middleware(guard.Guard, broke=_broke, hosts=hosts)  # the last one added stands outermost
    app.add_middleware(GZipMiddleware, minimum_size=600, compresslevel=6)
    app.state.routes = []  # what the gate knows: once there are people, nothing else is served
    for page in PAGES:
        router = importlib.import_module(f"brinehouse.web.pages.{page}").router
        app.state.routes += router.routes
        app.include_router(router)
    app.state.ways = gate.Ways(app.state.routes)
    app.mount("/static", files.Static(), name="static")
    app.add_exception_handler(HTTPException, _not_there)
    app.add_exception_handler(RequestValidationError, _not_understood)
    app.add_exception_handler(mishaps.Refused, _refused)
    return app


def _sender(app: FastAPI) -> sending.Sender | None:
    """Whoever sends notices out: only beside a server that holds the writer's lock."""
    table, known = app.state.desk, app.state.knowing
    if table.door is None:
        return None

    def look(hall: halls.Hall) -> Sequence[notices.Notice]:
        return known.now(hall, known.soon(hall)).book.notices

    return sending.Sender(table.hall, look)


def _warm(app: FastAPI) -> None:
    """Begin the investigation before the first reader asks."""
    table = app.state.desk
    if table.has_hall() and halls.Hall.has_book(table.folder):
        app.state.knowing.warm(table.hall())


def _not_there(request: Request, fault: Exception) -> Response:
    status = fault.status_code if isinstance(fault, HTTPException) else 404
    keys = {404: "fault.not_there", 413: "fault.too_large", 400: "fault.not_understood"}
    answer = sheets.sentence(request, keys.get(status, "fault.not_so"), status=status)
    answer.headers.update(getattr(fault, "headers", None) or {})
    return answer


def _not_understood(request: Request, _: Exception) -> Response:
    return sheets.sentence(request, "fault.not_understood", status=422)


def _refused(request: Request, fault: Exception) -> Response:
    found = fault.findings if isinstance(fault, mishaps.Refused) else ()
    codes = {finding.code for finding in found}
    if "workbench/no-facility" in codes and not sheets.desk_of(request).has_hall():
        return RedirectResponse("/", status_code=303)
    if codes & NOT_THERE:
        return sheets.sentence(request, "fault.not_there", status=404, findings=found)
    return sheets.sentence(request, "fault.refused", status=422, findings=found)


def _broke(request: Request, fault: Exception) -> Response:
    """What nobody caught: a refusal of the store or the disk in its own words, all else in one sentence."""
    carried = getattr(fault, "finding", None)
    if isinstance(carried, findings.Finding):
        return sheets.sentence(request, "fault.not_saved", status=503, findings=[carried])
    mishaps.keep(fault)
    try:
        return sheets.sentence(request, "fault.broke", status=500)
    except Exception:  # noqa: BLE001 - the sheet itself is what broke: plain words are left
        return Response("Something broke that should not have.\n", status_code=500, media_type="text/plain")

"""The pages as one ASGI application over one folder.

Every page is a plain GET with its own address; a form that changes something is a POST that answers with a
redirect, or with the same page and its faults at 422. Everything works without JavaScript.
"""

from __future__ import annotations

import contextlib
import importlib
from collections.abc import AsyncGenerator
from pathlib import Path

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from brinehouse import _version
from brinehouse.web import files, guard, sheets
from brinehouse.workbench import desk, mishaps

PAGES = ("first", "now", "gas", "trials", "ask", "log", "importing", "handing")


def create_app(folder: Path, *, hosts: frozenset[str] = guard.LOOPBACK, token: str = "") -> FastAPI:
    """The application for one hall's folder.

    Parameters
    ----------
    folder : Path
        May be empty: then the first page asks the five questions.
    hosts : frozenset of str
        Host names answered to. Loopback until people and roles exist.
    token : str
        What a command on this machine must show to hand over a batch; empty refuses every batch.
    """

    @contextlib.asynccontextmanager
    async def life(app: FastAPI) -> AsyncGenerator[None]:
        yield
        app.state.desk.close()

    app = FastAPI(
        title="Brinehouse",
        version=_version.__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url="/openapi.json",
        lifespan=life,
    )
    app.state.desk = desk.Desk(folder)
    app.state.token = token
    app.add_middleware(guard.Guard, hosts=hosts)
    for page in PAGES:
        app.include_router(importlib.import_module(f"brinehouse.web.pages.{page}").router)
    app.mount("/static", files.Static(), name="static")
    app.add_exception_handler(HTTPException, _not_there)
    app.add_exception_handler(RequestValidationError, _not_understood)
    app.add_exception_handler(mishaps.Refused, _refused)
    app.add_exception_handler(Exception, _broke)
    return app


async def _not_there(request: Request, fault: Exception) -> Response:
    status = fault.status_code if isinstance(fault, HTTPException) else 404
    return sheets.sentence(request, "fault.not_there" if status == 404 else "fault.not_so", status=status)


async def _not_understood(request: Request, _: Exception) -> Response:
    return sheets.sentence(request, "fault.not_understood", status=422)


async def _refused(request: Request, fault: Exception) -> Response:
    found = fault.findings if isinstance(fault, mishaps.Refused) else ()
    return sheets.sentence(request, "fault.refused", status=422, findings=found)


async def _broke(request: Request, fault: Exception) -> Response:
    mishaps.keep(fault)
    return sheets.sentence(request, "fault.broke", status=500)

"""Where commands of the same user hand over their batches while the pages hold the writer's lock."""

from __future__ import annotations

import hmac
import json
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from brinehouse.web import sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import handing, plain

router = make_router()


@router.post(handing.PATH)
async def hand(request: Request) -> Response:
    """One batch: stored in one transaction, or refused whole with why."""
    desk = sheets.desk_of(request)
    expected = desk.token or request.app.state.token
    shown = request.headers.get(handing.TOKEN, "")
    if not expected or not hmac.compare_digest(shown.encode(), expected.encode()):
        return Response("The token is missing or wrong.\n", status_code=403, media_type="text/plain")
    content = await _body(request)
    if content is None:
        return Response("The batch is too large.\n", status_code=413, media_type="text/plain")
    answer = await run_in_threadpool(_take, desk, content)
    return JSONResponse(plain.finite(answer), status_code=200 if "answer" in answer else 422)


async def _body(request: Request) -> bytes | None:
    """What was sent, or None where it is larger than is taken."""
    parts: list[bytes] = []
    size = 0
    async for part in request.stream():
        size += len(part)
        if size > handing.LARGEST:
            return None
        parts.append(part)
    return b"".join(parts)


def _take(desk: Any, content: bytes) -> dict[str, Any]:
    try:
        body: Any = json.loads(content)
    except (ValueError, RecursionError):
        body = None
    return handing.take(desk.hall(), body)

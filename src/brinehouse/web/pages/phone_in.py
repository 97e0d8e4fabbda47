"""What passes between the hall and the phones on their rounds: the plan out, entries and pictures in."""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from brinehouse import findings
from brinehouse.web import round_view, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import mishaps, plain, queue_in, queue_photo, rounds, strict_json

router = make_router()
PICTURE = 25 * 1024 * 1024  # bytes
_STATUS = {"round/too-large": 413, "round/unknown": 404}


@router.get("/rounds/{round}/plan.json")
def plan(request: Request, round: str) -> Response:  # noqa: A002 - the word of the address
    """All that a phone needs to walk a round without a signal."""
    who = sheets.who(request)
    walks = {"who": {"number": who.number, "name": who.name} if who.number is not None else None}
    try:
        return _json(_plan(request, round) | walks)
    except mishaps.Refused as fault:
        return _refused(fault)


def _plan(request: Request, name: str) -> dict[str, Any]:
    place = sheets.desk_of(request).hall()
    return rounds.plan(place, name, round_view.corrections(place, sheets.words_of(request)))


@router.post("/phone/entries")
async def entries(request: Request) -> Response:
    """Entries of one phone's queue: each is answered by itself, in the same order."""
    body = await _body(request, strict_json.LARGEST)
    return await run_in_threadpool(_take, request, body)


def _take(request: Request, body: bytes) -> Response:
    try:
        return _json(queue_in.take(sheets.desk_of(request).hall(), body, sheets.who(request)))
    except mishaps.Refused as fault:
        return _refused(fault)
    except Exception as fault:  # noqa: BLE001 - the phone keeps all of it and sends again
        return _json({"findings": [_plain(one) for one in mishaps.told(fault)]}, 503)


@router.put("/phone/photo/{id}")
async def photo(request: Request, id: str) -> Response:
    """One picture, made upright and without its place data; about an entry of the same phone."""
    body = await _body(request, PICTURE)
    return await run_in_threadpool(_keep, request, id, body)


def _keep(request: Request, id: str, body: bytes) -> Response:
    about, made = request.headers.get("x-about", ""), request.headers.get("x-made", "")
    place, who = sheets.desk_of(request).hall(), sheets.who(request)
    try:
        return _json(queue_photo.take(place, body, who, id=id, about=about, made=made))
    except Exception as fault:  # noqa: BLE001 - the phone keeps it and sends again
        return _json({"findings": [_plain(one) for one in mishaps.told(fault)]}, 503)


async def _body(request: Request, most: int) -> bytes:
    """The body, up to one byte more than it may have: no more of it is held."""
    held = bytearray()
    async for block in request.stream():
        held += block
        if len(held) > most:
            break
    return bytes(held[: most + 1])


def _refused(fault: mishaps.Refused) -> Response:
    codes = {found.code for found in fault.findings}
    status = next((status for code, status in _STATUS.items() if code in codes), 0)
    mine = all(code.startswith("round/") for code in codes)
    return _json({"findings": [_plain(one) for one in fault.findings]}, status or (400 if mine else 503))


def _json(body: Any, status: int = 200) -> JSONResponse:
    return JSONResponse(plain.finite(body), status_code=status, headers={"cache-control": "no-store"})


def _plain(found: findings.Finding) -> dict[str, str]:
    return {"code": found.code, "level": found.level.value, "text": found.text, "hint": found.hint}

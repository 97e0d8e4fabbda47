"""What a phone needs to walk a round without a network: the sheet of a round, what waits, worker and icon.

The sheets hold nothing of the hall but its name: the plan of a round is asked for by the script, as the
person who is signed in. So they can be kept on a phone, and opened by whoever has it in hand.
"""

from __future__ import annotations

import json
from typing import Annotated

from fastapi import Depends
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from brinehouse.web import catalogue, forms, phone_shell, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import mishaps, queue_file

router = make_router()


@router.get("/phone")
def on_this_phone(request: Request) -> Response:
    """What waits on this phone, what needs a person, and the way out by hand."""
    return _kept(
        sheets.render(request, "phone.html", "phone", scripts=phone_shell.LIST_SCRIPTS, words=_words(request))
    )


async def _sent(request: Request) -> bytes:
    """The file of the form."""
    async with request.form(max_files=1, max_fields=5) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile):
            return b""
        if (file.size or 0) > forms.LARGEST:
            raise HTTPException(413)
        return await file.read()


@router.get("/hand-in")
def hand_in_form(request: Request) -> Response:
    """A form for a phone's queue that was saved as a file."""
    return sheets.render(request, "phone_file.html", "phone", taken=None, found=[])


@router.post("/hand-in")
def hand_in(request: Request, content: Annotated[bytes, Depends(_sent)]) -> Response:
    """Take in such a file: the same entries by the same rules, each once."""
    try:
        taken = queue_file.take(sheets.desk_of(request).hall(), content, sheets.who(request))
    except mishaps.Refused as fault:
        found = list(fault.findings)
        return sheets.render(request, "phone_file.html", "phone", status=422, taken=None, found=found)
    return sheets.render(request, "phone_file.html", "phone", taken=taken, found=[])


@router.get("/phone/round/{round}")
def a_round(request: Request, round: str) -> Response:  # noqa: A002 - the word of the address
    """The sheet a round is walked on; its script fetches the plan and keeps it."""
    return _kept(
        sheets.render(
            request,
            "phone_round.html",
            "walk",
            scripts=phone_shell.SCRIPTS,
            words=_words(request),
            round=round,
        )
    )


@router.get("/phone/beat")
def beat() -> Response:
    """Whether the hall can be reached."""
    return Response(status_code=204, headers={"cache-control": "no-store"})


@router.get("/phone-worker.js")
def worker() -> Response:
    """The worker that opens the sheets of a round without a network."""
    headers = {"service-worker-allowed": "/", "cache-control": "no-cache"}
    return Response(phone_shell.worker(), media_type="text/javascript", headers=headers)


@router.get("/hall.webmanifest")
def manifest(request: Request) -> Response:
    """What a phone asks for before it puts the hall among its programs."""
    facility = sheets.desk_of(request).facility_or_none()
    words = sheets.words_of(request)
    name = facility.name if facility else words("sheet.nameless")
    icons = [
        {
            "src": f"/phone/icon-{kind}-{size}.png",
            "sizes": f"{size}x{size}",
            "type": "image/png",
            "purpose": kind,
        }
        for size in phone_shell.SIZES
        for kind in ("any", "maskable")
    ]
    told = {
        "id": "/phone",
        "name": name,
        "short_name": name if len(name) <= 12 else words("phone.short_name"),
        "lang": "en" if words.language == catalogue.INVENTED else words.language,
        "start_url": "/phone",
        "scope": "/",
        "display": "standalone",
        "background_color": "#fdfbf6",
        "theme_color": "#fdfbf6",
        "icons": icons,
    }
    body = json.dumps(told, ensure_ascii=False)
    return Response(body, media_type="application/manifest+json", headers={"cache-control": "no-cache"})


@router.get("/phone/icon-{kind}-{size}.png")
def icon(kind: str, size: int) -> Response:
    """The hall's mark."""
    if kind not in ("any", "maskable") or size not in phone_shell.SIZES:
        return Response(status_code=404)
    body = phone_shell.icon(size, whole=kind == "maskable")
    return Response(body, media_type="image/png", headers={"cache-control": "public, max-age=86400"})


def _kept(sheet: Response) -> Response:
    """With the digest of the build, by which the worker knows whether it may keep it."""
    sheet.headers["x-build"] = phone_shell.build()
    return sheet


def _words(request: Request) -> dict[str, str]:
    """The words of the scripts."""
    words = sheets.words_of(request)
    return {key[5:]: words(key) for key in catalogue.words() if key.startswith("walk.")}

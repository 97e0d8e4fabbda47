"""Files that belong to entries: given out by the hash of what is kept, never run."""

from __future__ import annotations

from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response

from brinehouse.web import sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import attachments, mishaps, pictures

router = make_router()

SHUT = "default-src 'none'; sandbox; frame-ancestors 'none'"
"""For a browser that opens it by itself: nothing in it may run or be asked for."""


@router.get("/files/{sha256}")
def one(request: Request, sha256: str) -> Response:
    """A kept file: a picture made anew is shown, everything else is a download."""
    place = sheets.desk_of(request).hall()
    try:
        content = attachments.read(place.folder, sha256)
    except mishaps.Refused as refusal:
        damaged = refusal.findings[0].code == "attachment/damaged"
        status, key = (500, "fault.refused") if damaged else (404, "fault.not_there")
        return sheets.sentence(request, key, status=status, findings=refusal.findings)
    kind = pictures.type_of(content)
    shown = kind in (pictures.JPEG, pictures.PNG)
    name = attachments.name_of(place, sha256) or f"{sha256[:12]}.{pictures.ENDINGS.get(kind, 'bin')}"
    way = "inline" if shown and "download" not in request.query_params else "attachment"
    return Response(
        content,
        media_type=kind if shown else "application/octet-stream",
        headers={
            "content-disposition": f"{way}; filename*=UTF-8''{quote(name, safe='')}",
            "content-security-policy": SHUT,
            "cache-control": "private, max-age=31536000, immutable",
            "etag": f'"{sha256}"',
        },
    )

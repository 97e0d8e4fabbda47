"""Sheet ``keeping``: copies, how old they are, room on the disk, what the doctor says, and the way out."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from starlette.background import BackgroundTask
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response, StreamingResponse

from brinehouse import findings
from brinehouse.web import sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import clock, copying, doctoring, keeping, mishaps, moving_out
from brinehouse.workbench import hall as halls

router = make_router()
BLOCK = 1 << 18
MOST = 40


@router.get("/keeping")
def keeping_sheet(request: Request) -> Response:
    """How safe the hall is from its own disk."""
    return _sheet(request, (), status=200)


@router.post("/keeping/copy")
def make_copy(request: Request) -> Response:
    """A copy now; the answer comes when it was made and tried."""
    hall = sheets.desk_of(request).hall()
    asked = hall.facility.backup
    if asked is None:
        return _sheet(request, [_none_asked()], status=422)
    try:
        copying.make(hall, copying.place_for(hall.folder, asked), asked)
    except mishaps.Refused as refusal:
        return _sheet(request, refusal.findings, status=422)
    return RedirectResponse("/keeping", status_code=303)


@router.post("/keeping/export")
def export(request: Request) -> Response:
    """Everything of the hall as one .zip."""
    hall = sheets.desk_of(request).hall()
    work = Path(tempfile.mkdtemp(prefix="brinehouse-out-"))
    try:
        out = moving_out.move_out(hall, work / "hall")
        archive = Path(shutil.make_archive(str(work / "out"), "zip", out.path))
    except BaseException:
        shutil.rmtree(work, ignore_errors=True)
        raise
    name = f"hall-{clock.now():%Y%m%dT%H%M%SZ}.zip"
    return StreamingResponse(
        _blocks(archive),
        media_type="application/zip",
        headers={
            "content-disposition": f'attachment; filename="{name}"',
            "content-length": str(archive.stat().st_size),
            "cache-control": "no-store",
        },
        background=BackgroundTask(shutil.rmtree, work, ignore_errors=True),
    )


def _blocks(path: Path) -> Iterator[bytes]:
    with path.open("rb") as page:
        while block := page.read(BLOCK):
            yield block


def _none_asked() -> findings.Finding:
    return findings.Finding(
        code="copy/none-asked",
        level=findings.Level.STOP,
        text="The facility file does not say where copies go",
        hint='write [backup] with to = "..." on another disk',
    )


def _sheet(request: Request, found: Any, status: int) -> Response:
    hall = sheets.desk_of(request).hall()
    t = sheets.words_of(request)
    stands = keeping.standing(hall)
    told = doctoring.of_open(hall)
    there = copying.all_in(copying.place_for(hall.folder, stands.asked)) if stands.asked else []
    usage = shutil.disk_usage(hall.folder)
    made = stands.made.measured if stands.made else None
    return sheets.render(
        request,
        "keeping.html",
        "keeping",
        status=status,
        title=_title(stands, t, sheets.ago(made, clock.now(), t)),
        stands=stands,
        copies=there[:MOST],
        more=max(0, len(there) - MOST),
        told=told,
        found=list(found),
        needs=[one for one in told if one.level is not findings.Level.NOTE],
        disk={
            "full": sheets.percent(1.0 - usage.free / usage.total if usage.total else 0.0),
            "free": f"{usage.free / 1e9:.1f}",
        },
        entries=hall.book.head()[0] if halls.Hall.has_book(hall.folder) else 0,
    )


def _title(stands: keeping.Standing, t: Any, age: str) -> str:
    if stands.asked is None:
        return t("keeping.none_asked")
    if stands.failing:
        return t("keeping.failing")
    return t("keeping.copied", age=age) if stands.made else t("keeping.none_yet")

"""Sheet ``now``: what is not as it should be, oldest first; then each tank in one quiet line."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from brinehouse.web import sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import investigation
from brinehouse.workbench import now as looking

router = make_router()


@router.get("/now")
def now(request: Request) -> Response:
    """The sheet."""
    hall = sheets.desk_of(request).hall()
    sheet = looking.look(hall, investigation.concerns(hall))
    return sheets.render(request, "now.html", "now", as_of=sheet.as_of, now_sheet=sheet, water=looking.WATER)

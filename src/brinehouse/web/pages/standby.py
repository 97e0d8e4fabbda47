"""Sheet ``standby``: what resting pumps are worth, by the hall's own failure rates."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from brinehouse.web import sheets, standby_drawing, standby_sheet
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import standby as bench

router = make_router()


@router.get("/time/standby")
def worth(request: Request) -> Response:
    """How often too few pumps of each duty group run, by what, and what would help."""
    answer = bench.with_hours(sheets.desk_of(request).hall(), wait=False)
    words = sheets.words_of(request)
    said, _, best = answer.sentence.partition(". ")
    return sheets.render(
        request,
        "standby.html",
        "standby",
        answer=answer,
        said=said,
        best=best,
        groups=standby_sheet.groups(answer, words),
        hands=any("hand" in row for row in standby_sheet.rows(answer, "groups")),
        scale=standby_drawing.scale(words("standby.scale")),
        rates=standby_sheet.rows(answer, "rates"),
        told=sheets.weighty(answer.findings),
        notes=sheets.notes(answer.findings),
    )

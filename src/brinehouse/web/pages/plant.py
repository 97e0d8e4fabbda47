"""Sheet ``plant``: machines, places and pipes as a drawing, what runs, and how much water passes."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from brinehouse.web import plant_drawing, plant_sheet, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import lock_outs
from brinehouse.workbench import plant as looking

router = make_router()
PAPERS = ("a4", "a3")  # laid broad


@router.get("/plant")
def plant(request: Request) -> Response:
    """The sheet."""
    hall = sheets.desk_of(request).hall()
    t = sheets.words_of(request)
    look = looking.look(hall)
    say = plant_drawing.Say(t, look.display)
    paper = request.query_params.get("paper", "")
    return sheets.render(
        request,
        "plant.html",
        "plant",
        as_of=look.as_of,
        title=plant_sheet.title(look, t),
        sections=[plant_sheet.section(one, t, say) for one in look.schemes],
        alone=plant_sheet.alone(look.alone, t, say),
        found=look.findings,
        locks=lock_outs.standing(hall),
        paper=paper if paper in PAPERS else "",
    )

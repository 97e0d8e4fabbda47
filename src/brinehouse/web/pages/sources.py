"""Sheet ``gas``, part sources: where in the loop the excess comes from, and what a change would do."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from brinehouse.web import gas_sheet, gas_sources_sheet, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import gas_sources
from brinehouse.workbench import hall as halls

router = make_router()


@router.get("/gas/sources")
def sources(request: Request) -> Response:
    """Where the excess of every place comes from, with the sum against what was measured."""
    hall = sheets.desk_of(request).hall()
    if not halls.Hall.has_book(hall.folder):
        return sheets.render(request, "gas_empty.html", "gas")
    answer = gas_sources.survey(hall)
    heavy, light = gas_sources_sheet.told(answer)
    return sheets.render(
        request,
        "gas_sources.html",
        "gas",
        as_of=answer.as_of,
        answer=answer,
        places=gas_sources_sheet.places(answer, hall.facility),
        pumps=gas_sources_sheet.weights(answer),
        heavy=heavy,
        light=light,
        next=gas_sheet.sentences(answer.next_readings),
    )

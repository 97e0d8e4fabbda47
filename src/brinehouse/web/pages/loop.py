"""Sheet ``loop``: each system drawn the way its water goes, with heights, static head and gas line."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from brinehouse.web import forms, loop_sheet, loop_words, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import hall as halls
from brinehouse.workbench import loop as looking

router = make_router()
PAPERS = ("a3", "a4")
LONGEST = 4000  # of a typed list of changes [characters]


@router.get("/loop")
def loop(request: Request) -> Response:
    """The sheet."""
    hall = sheets.desk_of(request).hall()
    known = sheets.knowing_of(request).gas(hall) if halls.Hall.has_book(hall.folder) else None
    what_if = forms.clean(request.query_params.get("change", ""))[:LONGEST]
    look = looking.look(hall, known.found if known else None, what_if=what_if)
    t = sheets.words_of(request)
    say = loop_words.Say(t, look.display, hall.facility.timezone)
    air = look.barometer if request.query_params.get("panel") == "pressure" else None
    return sheets.render(
        request,
        "loop.html",
        "loop",
        as_of=look.as_of,
        renewing=known is not None and known.renewing,
        sections=loop_sheet.sections(look, say, air),
        pressures=air is not None,
        can_press=look.barometer is not None,
        alone=loop_sheet.strips(look.alone, say),
        key=loop_sheet.key(say, then=any(one.then for one in look.systems)),
        look=look,
        paper=paper if (paper := request.query_params.get("paper", "")) in PAPERS else "",
        found=look.findings,
    )

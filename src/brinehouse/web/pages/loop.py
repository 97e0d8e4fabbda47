"""Sheet ``loop``: each system drawn the way its water goes, with heights, static head and gas line."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from brinehouse import answers, findings
from brinehouse.web import forms, gas_sources_sheet, loop_later, loop_sheet, loop_words, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import hall as halls
from brinehouse.workbench import loop as looking

router = make_router()
PAPERS = ("a3", "a4")
LONGEST = 4000  # of a typed list of changes [characters]


later = loop_later.Later()


@router.get("/loop")
def loop(request: Request) -> Response:
    """The sheet."""
    hall = sheets.desk_of(request).hall()
    known = sheets.knowing_of(request).gas(hall) if halls.Hall.has_book(hall.folder) else None
    found = known.found if known else None
    what_if = forms.clean(request.query_params.get("change", ""))[:LONGEST]
    look = looking.look(hall, found, what_if=what_if)
    sources, waiting = None, False
    if known is not None and not known.renewing and known.found.used and not _stopped(look):
        stamp = (str(hall.folder), hall.facility.digest, tuple(hall.book.head()), what_if)
        sources, waiting = later.ask(stamp, lambda: looking.sources(hall, what_if))
        if sources is not None and what_if:
            look = looking.look(hall, found, what_if=what_if, predicted=looking.foreseen(sources, what_if))
    return _sheet(
        request, hall, look, sources, renewing=known is not None and known.renewing, waiting=waiting
    )


def _stopped(look: looking.Look) -> bool:
    return any(one.level is findings.Level.STOP for one in look.met)


def _worst(look: looking.Look, places: list[gas_sources_sheet.Place]) -> gas_sources_sheet.Place | None:
    """The place of the title, where its sources are known."""
    first = min(look.systems, key=lambda one: one.weight, default=None)
    wanted = first.worst.id if first is not None and first.worst is not None else ""
    return next((one for one in places if one.id == wanted), places[0] if places else None)


def _sheet(
    request: Request,
    hall: halls.Hall,
    look: looking.Look,
    sources: answers.Answer | None,
    *,
    renewing: bool,
    waiting: bool,
) -> Response:
    say = loop_words.Say(sheets.words_of(request), look.display, hall.facility.timezone)
    air = look.barometer if request.query_params.get("panel") == "pressure" else None
    paper = request.query_params.get("paper", "")
    places = gas_sources_sheet.places(sources, hall.facility) if sources is not None else []
    return sheets.render(
        request,
        "loop.html",
        "loop",
        as_of=look.as_of,
        renewing=renewing,
        waiting=waiting,
        again=f"/loop?{request.url.query}" if request.url.query else "/loop",
        sections=loop_sheet.sections(look, say, air),
        pressures=air is not None,
        can_press=look.barometer is not None,
        alone=loop_sheet.strips(look.alone, say),
        key=loop_sheet.key(say, then=any(one.then for one in look.systems)),
        look=look,
        worst=_worst(look, places),
        paper=paper if paper in PAPERS else "",
        found=look.findings,
    )

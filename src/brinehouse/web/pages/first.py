"""The first page of an empty folder: five questions, or one gas reading answered at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse import findings
from brinehouse.web import forms, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import asking, starting

router = make_router()


@router.get("/")
def first(request: Request) -> Response:
    """The hall's own first sheet, or the questions that make a hall."""
    if sheets.desk_of(request).has_hall():
        return RedirectResponse("/now", status_code=303)
    return _page(request, {}, (), status=200)


@router.post("/begin")
def begin(request: Request, given: forms.Given) -> Response:
    """Five answers: a facility file, or the faults in the answers."""
    made = starting.begin(
        sheets.desk_of(request).folder,
        name=given.get("name", ""),
        altitude=given.get("altitude", ""),
        zone=given.get("zone", ""),
        tanks=forms.lines(given.get("tanks", "")),
        meters=forms.lines(given.get("meters", "")),
    )
    if made.written:
        return RedirectResponse("/now", status_code=303)
    return _page(request, given, made.findings, status=422)


def _page(
    request: Request, given: Mapping[str, str], found: Sequence[findings.Finding], status: int
) -> Response:
    question = asking.question("gas budget")
    return sheets.render(
        request,
        "first.html",
        "first",
        status=status,
        given={"zone": starting.likely_zone(), "altitude": "0 m", **given},
        found=found,
        question=question,
        fields=sheets.fields(question, {}),
        main=sheets.MAIN_BOXES,
    )

"""Any engine's question, drawn from what it declares."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from brinehouse.web import sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import asking, plain

router = make_router()


@router.get("/ask")
def questions(request: Request) -> Response:
    """Every question that can be asked."""
    asked = [asking.question(name) for name in asking.names()]
    return sheets.render(request, "questions.html", "ask", questions=asked)


@router.get("/ask/{name}")
def ask(request: Request, name: str) -> Response:
    """The form, and the answer where something was typed; the address holds it all, so it can be sent on."""
    given = sheets.typed(request)
    as_json = given.pop("format", "") == "json"
    answer, found, status = sheets.asked(name, given)
    if as_json:
        body = answer.as_json() if answer else {"findings": [finding.as_json() for finding in found]}
        return JSONResponse(plain.finite(body), status_code=status)
    return sheets.render(
        request,
        "ask.html",
        "ask",
        status=status,
        **sheets.questioned(name, given, answer, found),
        link=f"/ask/{name}",
    )

"""Sheet ``balance``: where the water settles, and what a change would do, today beside then."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from brinehouse import findings
from brinehouse.web import balance_sheet, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import balance, mishaps

router = make_router()
BOX = "changes"


@router.get("/balance")
def settled(request: Request) -> Response:
    """The balance, with the changes of the box carried out on a copy of the facility file."""
    hall = sheets.desk_of(request).hall()
    text = sheets.typed(request).get(BOX, "")
    told: tuple[findings.Finding, ...] = ()
    try:
        answer = balance.survey(hall, balance.parse(text, "line") if text else None)
    except mishaps.Refused as refusal:
        answer, told = balance.survey(hall), tuple(refusal.findings)
    told = (*told, *answer.findings)
    refused = any(finding.level is findings.Level.STOP for finding in told)
    facility, words = hall.facility, sheets.words_of(request)
    return sheets.render(
        request,
        "balance.html",
        "balance",
        status=422 if refused else 200,
        as_of=answer.as_of,
        answer=answer,
        typed=text,
        refused=refused,
        examples=balance.examples(facility),
        sheet_of=balance_sheet.lay_out(answer, facility, words),
        told=sheets.weighty(told),
        notes=sheets.notes(told),
    )

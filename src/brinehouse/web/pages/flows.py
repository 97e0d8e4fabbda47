"""Sheet ``flows``: what each run really carries, and what does not fit."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from brinehouse.web import flow_drawing, flow_sheet, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import flows

router = make_router()
NEXT = 4  # readings to take next that are shown


@router.get("/flows")
def run_flows(request: Request) -> Response:
    """Every run with its stated, measured and reconciled flow."""
    hall = sheets.desk_of(request).hall()
    answer = flows.survey(hall)
    t = sheets.words_of(request)
    groups = flow_sheet.groups(answer, hall.facility, t)
    return sheets.render(
        request,
        "flows.html",
        "flows",
        as_of=answer.as_of,
        answer=answer,
        groups=groups,
        computed=any(line.computed for group in groups for line in group.lines),
        key=[
            (sign, t(f"flows.{name}"))
            for sign, name in flow_drawing.key()
            if name != "computed" or any(line.computed for group in groups for line in group.lines)
        ],
        scale=flow_drawing.scale(t("flows.scale")),
        meters=flow_sheet.meters(answer, t),
        balances=flow_sheet.table(answer, "balances").rows,
        tests=flow_sheet.tests(answer),
        next=[f"{one[:1].upper()}{one[1:]}" for one in answer.next_readings[:NEXT]],
        told=[one for one in sheets.weighty(answer.findings) if one.text != answer.sentence],
        notes=sheets.notes(answer.findings),
    )

"""Sheet ``gas``: the investigation, the budget of one reading, and the meters."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from brinehouse import answers
from brinehouse.web import drawing, gas_sheet, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import hall as halls

router = make_router()
NEXT = 6  # readings to take next that are shown


@router.get("/gas")
def gas(request: Request) -> Response:
    """The whole investigation."""
    hall = sheets.desk_of(request).hall()
    if not halls.Hall.has_book(hall.folder):
        return sheets.render(request, "gas_empty.html", "gas")
    known = sheets.knowing_of(request).gas(hall)
    found = known.found
    if not found.used:
        return sheets.render(request, "gas_empty.html", "gas", as_of=found.as_of)
    facility, t = hall.facility, sheets.words_of(request)
    rows = gas_sheet.water(found, facility, t)
    heavy, light = gas_sheet.split(found.water.explanations)
    return sheets.render(
        request,
        "gas.html",
        "gas",
        as_of=found.as_of,
        found=found,
        renewing=known.renewing,
        meters=gas_sheet.meters(found, facility, t),
        about_meters=gas_sheet.about_meters(found),
        water=rows,
        columns=gas_sheet.depths(rows, facility, t),
        pumps=gas_sheet.pumps(found, facility),
        heavy=heavy,
        light=light,
        next=gas_sheet.sentences(found.next_readings[:NEXT]),
        remarks=gas_sheet.remarks(found),
        caution_texts=gas_sheet.cautions(found),
    )


@router.get("/gas/budget")
def budget(request: Request) -> Response:
    """One reading: its budget, drawn, with the working behind every number."""
    name = "gas budget"
    given = sheets.typed(request)
    answer, found, status = sheets.asked(name, given)
    shown = sheets.questioned(name, given, answer, found)
    return sheets.render(
        request,
        "gas_budget.html",
        "gas",
        status=status,
        **shown,
        columns=_column(shown["answer"], given, sheets.words_of(request)),
        link="/gas/budget",
        main=sheets.MAIN_BOXES,
    )


def _column(answer: answers.Answer | None, given: dict[str, str], t: Any) -> list[drawing.Column]:
    """The gas line of one reading in a column of water deep enough to show it."""
    line = answer.values.get("compensation_depth") if answer else None
    if answer is None or line is None or line.value is None:
        return []
    low, high = line.interval() or (None, None)
    shallow = gas_sheet.metres(given.get("depth", ""))
    left = answer.values.get("uncompensated_delta_p")
    over = shallow is not None and left is not None and (left.interval() or (0.0, 0.0))[0] > 0.0
    total = answer.values.get("total_gas_pressure")
    return [
        drawing.Column(
            name=t("gas.this_water"),
            depth=max(0.6, 1.5 * max(high or line.value, shallow or 0.0)),
            gas=line.value,
            low=low,
            high=high,
            shallow=shallow,
            level="act" if over else "",
            verdict=t("gas.too_shallow", metres=drawing.digits(line.value - (shallow or 0.0), 2))
            if over
            else "",
            value=drawing.figure(total).striptags() if total else "",
            gas_words=t("gas.line_at", metres=drawing.digits(line.value, 2)),
            animal_words=t("gas.animals_from", metres=drawing.digits(shallow, 2))
            if shallow is not None
            else "",
        )
    ]


@router.get("/gas/instruments")
def instruments(request: Request) -> Response:
    """Which meter is off, by how much, and what each place really read."""
    hall = sheets.desk_of(request).hall()
    if not halls.Hall.has_book(hall.folder):
        return sheets.render(request, "gas_empty.html", "gas")
    found = sheets.knowing_of(request).gas(hall).found
    facility, t = hall.facility, sheets.words_of(request)
    places = gas_sheet.table(found.meters, "places")
    return sheets.render(
        request,
        "gas_instruments.html",
        "gas",
        as_of=found.meters.as_of or found.as_of,
        found=found,
        meters=gas_sheet.meters(found, facility, t),
        differences=gas_sheet.differences(found, facility, t),
        about_meters=gas_sheet.about_meters(found),
        places=gas_sheet.newest_first(places) if places else None,
        corrected=[
            gas_sheet.readable(one, hall.facility)
            for one in found.water.tables
            if one.name.startswith("corrected")
        ],
    )

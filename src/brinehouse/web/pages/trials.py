"""Gas trials: begin one, write what the meter shows minute by minute, see where it will settle, end it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse import answers, findings, units
from brinehouse.web import catalogue, drawing, forms, gas_sheet, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import asking, clock, logging_book, mishaps
from brinehouse.workbench import hall as halls
from brinehouse.workbench import trials as book

router = make_router()
ENOUGH = 3  # readings before a curve can be asked for
SMOOTH = 60  # points of a drawn curve


@router.get("/gas/trials")
def trials(request: Request) -> Response:
    """The trials of the last month, and a form that begins one."""
    return _list(request, {}, (), status=200)


@router.post("/gas/trials")
def begin(request: Request, given: forms.Given) -> Response:
    """Start the clock."""
    hall = sheets.desk_of(request).hall()
    depth = gas_sheet.metres(given.get("depth", ""))
    found: list[findings.Finding] = []
    if depth is None and given.get("depth", "").strip():
        found.append(_stop("page/not-a-depth", "depth", given["depth"], "0.8 m"))
    try:
        if not found:
            begun = book.begin(
                hall,
                at=given.get("place", ""),
                instrument=given.get("instrument", ""),
                depth=depth,
                unit="%",
                person=logging_book.person(hall, given.get("by", "")),
            )
            return RedirectResponse(f"/gas/trials/{begun}", status_code=303)
    except mishaps.Refused as refusal:
        found += refusal.findings
    return _list(request, given, found, status=422)


@router.get("/gas/trials/{id}")
def trial(request: Request, id: str) -> Response:
    """One trial: its clock, its curve, its readings."""
    return _trial(request, id, {}, (), status=200)


@router.post("/gas/trials/{id}/add")
def add(request: Request, id: str, given: forms.Given) -> Response:
    """One more reading of a running trial."""
    hall = sheets.desk_of(request).hall()
    one = book.trial(hall, id)
    minute, value = units.read_plain(given.get("minute", "")), _value(given.get("value", ""), one.unit)
    found = [
        _stop("page/not-a-number", name, given.get(name, ""), example)
        for name, number, example in (("minute", minute, "12.5"), ("value", value, "104.6"))
        if number is None or not math.isfinite(number) or (name == "minute" and number < 0.0)
    ]
    if one.concluded:
        found.append(_ended())
    if found or minute is None or value is None:
        return _trial(request, id, given, found, status=422)
    book.add(hall, one, minute=minute, value=value, person=logging_book.person(hall, given.get("by", "")))
    return RedirectResponse(f"/gas/trials/{id}", status_code=303)


@router.post("/gas/trials/{id}/end")
def end(request: Request, id: str, given: forms.Given) -> Response:
    """End a trial: its last value goes into the log."""
    hall = sheets.desk_of(request).hall()
    one = book.trial(hall, id)
    if one.concluded:
        return _trial(request, id, given, [_ended()], status=422)
    try:
        book.conclude(hall, one, person=logging_book.person(hall, given.get("by", "")))
    except mishaps.Refused as refusal:
        return _trial(request, id, given, refusal.findings, status=422)
    return RedirectResponse(f"/gas/trials/{id}", status_code=303)


def _value(text: str, unit: str) -> float | None:
    """A typed reading in the trial's unit: bare, with a decimal comma, or with a unit."""
    plain = units.read_plain(text.strip().replace(",", "."))
    if plain is not None:
        return plain
    try:
        return units.read_amount(text).to(unit)
    except units.NotUnderstood:
        return None


def _stop(code: str, name: str, text: str, example: str) -> findings.Finding:
    return findings.Finding(
        code=code,
        level=findings.Level.STOP,
        text=f"{name}: '{text}' is not understood" if text.strip() else f"{name}: nothing is written there",
        hint=f"write it like {example}",
        spot=findings.Spot(field=name),
    )


def _ended() -> findings.Finding:
    return findings.Finding(
        code="page/trial-ended",
        level=findings.Level.STOP,
        text="This trial has ended",
        hint="begin another: a probe that was lifted starts anew",
    )


def _list(
    request: Request, given: Mapping[str, str], found: Sequence[findings.Finding], status: int
) -> Response:
    hall = sheets.desk_of(request).hall()
    facility, t = hall.facility, sheets.words_of(request)
    known = book.trials(hall) if halls.Hall.has_book(hall.folder) else []
    meters = [
        (meter.id, gas_sheet.named(facility, meter.id))
        for meter in facility.instruments.values()
        if "total gas pressure" in meter.measures
    ]
    return sheets.render(
        request,
        "trials.html",
        "trials",
        status=status,
        as_of=known[0].began if known else None,
        given=given,
        found=found,
        question=asking.question("settling"),
        choices={
            "vessels": [(vessel.id, vessel.name or vessel.id) for vessel in facility.places],
            "meters": meters,
        },
        trials=[_row(one, facility, t) for one in known],
    )


def _row(one: book.Trial, facility: Any, t: catalogue.Words) -> dict[str, Any]:
    return {
        "id": one.id,
        "began": one.began,
        "place": gas_sheet.named(facility, one.place),
        "instrument": gas_sheet.named(facility, one.instrument),
        "last": f"{drawing.digits(one.values[-1], 1)} {one.unit}" if one.values else "",
        "minutes": drawing.digits(max(one.minutes)) if one.minutes else "",
        "state": t("trials.ended" if one.concluded else "trials.open"),
    }


def _trial(
    request: Request, id: str, given: Mapping[str, str], found: Sequence[findings.Finding], status: int
) -> Response:
    hall = sheets.desk_of(request).hall()
    one = book.trial(hall, id)
    facility, t, now = hall.facility, sheets.words_of(request), clock.now()
    answer = one.settle() if len(one.values) >= ENOUGH else None
    settles = answer.values.get("plateau") if answer else None
    low, high = (settles.interval() or (None, None)) if settles else (None, None)
    points = sorted(zip(one.minutes, one.values, strict=True))
    place, meter = gas_sheet.named(facility, one.place), gas_sheet.named(facility, one.instrument)
    writer = logging_book.people(hall).get(one.person, "") if one.person is not None else ""
    return sheets.render(
        request,
        "trial.html",
        "trials",
        status=status,
        as_of=one.began,
        by=writer,
        writer=writer,
        trial=one,
        title=answer.sentence if answer else t("trials.running", place=place, instrument=meter),
        lead=t("trials.where", place=place, instrument=meter)
        + (t("trials.at_depth", metres=drawing.digits(one.depth, 2)) if one.depth is not None else ""),
        answer=answer,
        told=sheets.weighty(answer.findings) if answer else [],
        notes=sheets.notes(answer.findings) if answer else [],
        points=points,
        decimals=1 if one.unit == "%" else None,
        curve=_curve(points, answer),
        settles=settles,
        low=low,
        high=high,
        elapsed=f"{max((now - one.began).total_seconds(), 0.0) / 60.0:.1f}",
        server_now=now,
        given=given,
        found=found,
        question=asking.question("settling"),
    )


def _curve(points: Sequence[tuple[float, float]], answer: answers.Answer | None) -> list[tuple[float, float]]:
    """The fitted approach: through the plateau with its time constant, nearest to the readings."""
    plateau = answer.values.get("plateau") if answer else None
    constant = answer.values.get("time_constant") if answer else None
    if plateau is None or constant is None or not plateau.value or not constant.value or not points:
        return []
    level, tau, last = plateau.value, constant.value, points[-1][0]
    shapes = [math.exp(-minute / tau) for minute, _ in points]
    size = sum(shape * (value - level) for shape, (_, value) in zip(shapes, points, strict=True))
    size /= sum(shape * shape for shape in shapes) or 1.0
    until = max(last * 1.25, last + tau)
    return [
        (minute, level + size * math.exp(-minute / tau))
        for minute in (until * step / SMOOTH for step in range(SMOOTH + 1))
    ]

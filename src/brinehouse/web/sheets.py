"""How a page becomes a sheet: template, words, title block, navigation."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import jinja2
from starlette.requests import Request
from starlette.responses import HTMLResponse

from brinehouse import answers, findings
from brinehouse.web import catalogue, drawing, files
from brinehouse.workbench import clock, desk

NAV = (("now", "/now"), ("gas", "/gas"), ("log", "/log"))


@functools.cache
def environment() -> jinja2.Environment:
    """The templates, escaped by default, a missing name being a fault."""
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("brinehouse.web", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    shared: dict[str, Any] = {"static": files.address, "drawing": drawing, "Value": answers.Value}
    made.globals.update(shared)
    made.filters.update(number=number, ago=ago, clocktime=clocktime)
    return made


def number(value: float | None, decimals: int = 1) -> str:
    """A number as printed: a true minus sign; nothing where there is none.

    >>> number(-0.04, 1), number(12.345, 2), number(None)
    ('0.0', '12.35', '')
    """
    if value is None or value != value:
        return ""
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", "−")


def ago(then: datetime | None, now: datetime | None = None) -> str:
    """How old something is: ``12 min``, ``3 h``, ``2 days``."""
    if then is None:
        return ""
    minutes = ((now or clock.now()) - then).total_seconds() / 60.0
    if minutes < 0.0:
        return "0 min"
    if minutes < 90.0:
        return f"{minutes:.0f} min"
    if minutes < 48 * 60.0:
        return f"{minutes / 60.0:.0f} h"
    return f"{minutes / 1440.0:.0f} days"


def clocktime(then: datetime | None, zone: str = "UTC") -> str:
    """Local date and time of the hall, ``2026-03-14 06:40``."""
    return "" if then is None else then.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M")


def desk_of(request: Request) -> desk.Desk:
    """The desk of this application: the hall, if there is one."""
    return request.app.state.desk


def context(request: Request, page: str, *, as_of: datetime | None = None, by: str = "") -> dict[str, Any]:
    """What every sheet needs: words, navigation, facility, title block."""
    table = desk_of(request)
    facility = table.facility_or_none()
    words = catalogue.Words(table.language())
    zone = facility.timezone if facility else "UTC"
    now = clock.now()
    return {
        "t": words,
        "lang": words.language,
        "nav": [{"name": words(f"nav.{name}"), "href": href, "current": name == page} for name, href in NAV]
        if facility
        else [],
        "facility": {"name": facility.name if facility else "Brinehouse", "zone": zone},
        "zone": zone,
        "now": now,
        "page": page,
        "demo": table.is_demo(),
        "sheet": {
            "name": words(f"sheet.{page}"),
            "as_of": clocktime(as_of or now, zone),
            "age": words("sheet.age", age=ago(as_of, now)) if as_of else "",
            "by": by or words("sheet.by"),
            "revision": table.revision(),
        },
    }


def render(
    request: Request,
    template: str,
    page: str,
    *,
    status: int = 200,
    as_of: datetime | None = None,
    by: str = "",
    **values: Any,
) -> HTMLResponse:
    """One sheet."""
    body = (
        environment().get_template(template).render({**context(request, page, as_of=as_of, by=by), **values})
    )
    return HTMLResponse(body, status_code=status, headers={"cache-control": "no-store"})


def sentence(
    request: Request, key: str, *, status: int, findings: Iterable[findings.Finding] = ()
) -> HTMLResponse:
    """A sheet that says one thing, and shows findings where there are some."""
    return render(request, "sentence.html", "fault", status=status, key=key, found=list(findings))


def fields(question: answers.Question, given: Mapping[str, str]) -> list[dict[str, Any]]:
    """The boxes of a question, filled with what was typed."""
    return [
        {
            "name": item.name,
            "label": item.label,
            "value": given.get(item.name, ""),
            "kind": item.kind,
            "unit": item.unit,
            "example": item.example,
            "choices": item.choices,
            "required": item.required,
            "hint": item.help,
        }
        for item in question.inputs
    ]

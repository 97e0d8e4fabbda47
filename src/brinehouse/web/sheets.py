"""How a page becomes a sheet: template, words, title block, navigation."""

from __future__ import annotations

import collections
import functools
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

import jinja2
from starlette.requests import Request
from starlette.responses import HTMLResponse

from brinehouse import answers, findings, units
from brinehouse.web import catalogue, coming, drawing, files, forms, knowing
from brinehouse.workbench import asking, clock, desk, mishaps, people

NAV = (
    ("now", (("now", "/now"), ("notices", "/notices"), ("handover", "/hand-over"))),
    ("rounds", (("rounds", "/rounds"), ("phone", "/phone"))),
    ("loop", (("loop", "/loop"), ("flows", "/flows"), ("balance", "/balance"))),
    ("gas", (("gas", "/gas"), ("trials", "/gas/trials"))),
    ("time", (("time", "/time"), ("standby", "/time/standby"))),
    (
        "plant",
        (("plant", "/plant"), ("turns", "/turns"), ("work", "/work"), ("equipment", "/equipment"),
         ("labels", "/labels")),
    ),
    ("log", (("log", "/log"), ("charts", "/charts"), ("imports", "/log/imports"))),
    ("people", (("people", "/people"), ("keeping", "/keeping"), ("trust", "/trust"))),
    ("ask", (("ask", "/ask"),)),
)  # fmt: skip
"""The sheets in groups: the first of a group stands in the upper line, all of it below while one is open."""

WITHIN = {
    "rounds": ("walk",),
    "time": ("card", "drill"),
    "plant": ("plant_edit", "tank"),
    "people": ("me",),
}
"""Sheets that are reached from those of a group, and open it."""


MAIN_BOXES = ("temperature", "salinity", "barometer", "tgp", "oxygen", "depth")
"""What most people have when they ask about one gas reading; the other boxes stand behind a word."""


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
    shared: dict[str, Any] = {
        "static": files.address,
        "drawing": drawing,
        "number": number,
        "percent": percent,
    }
    made.globals.update(shared)
    made.filters.update(headline=headline)
    return made


def number(value: float | None, decimals: int = 1) -> str:
    """A number as printed: a true minus sign; nothing where there is none.

    >>> number(-0.04, 1), number(12.345, 2), number(None)
    ('0.0', '12.35', '')
    """
    return "" if value is None or value != value else drawing.digits(float(value), decimals)


def headline(sentence: str) -> str:
    """A sentence as a title: it begins with a capital and ends without its stop.

    >>> headline("mangrove loop: gas comes in."), headline("")
    ('Mangrove loop: gas comes in', '')
    """
    text = sentence.strip().removesuffix(".")
    return text[:1].upper() + text[1:]


def percent(share: float) -> str:
    """A share of one in percent; what is there but less than one in a hundred says so.

    >>> percent(0.834), percent(1e-5), percent(0.99999), percent(1.0)
    ('83 %', '< 1 %', '> 99 %', '100 %')
    """
    if 0.0 < share < 0.01:
        return "< 1 %"
    if 0.99 < share < 1.0:
        return "> 99 %"
    return f"{100.0 * share:.0f} %"


def ago(then: datetime | None, now: datetime, words: catalogue.Words) -> str:
    """How old something is: ``12 min``, ``3 h``, ``2 days``; nothing where it is not known.

    >>> from datetime import UTC, timedelta
    >>> noon = datetime(2026, 3, 14, 12, tzinfo=UTC)
    >>> [ago(noon - timedelta(hours=hours), noon, catalogue.Words()) for hours in (0.2, 5, 49, 64000, -1)]
    ['12 min', '5 h', '2 days', '7 years', '0 min']
    """
    if then is None:
        return ""
    minutes = max((now - then).total_seconds() / 60.0, 0.0)
    if minutes < 90.0:
        return words("time.minutes", count=f"{minutes:.0f}")
    if minutes < 48 * 60.0:
        return words("time.hours", count=f"{minutes / 60.0:.0f}")
    if minutes < 730 * 1440.0:
        return words("time.days", count=f"{minutes / 1440.0:.0f}")
    return words("time.years", count=f"{minutes / 525_960.0:.0f}")


def clocktime(then: datetime | None, zone: str = "UTC") -> str:
    """Local date and time of the hall, ``2026-03-14 06:40``."""
    return "" if then is None else then.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M")


def day(then: datetime | None, zone: str, words: catalogue.Words) -> str:
    """A day in words, ``14 Mar 2026``."""
    if then is None:
        return ""
    here = then.astimezone(ZoneInfo(zone))
    return f"{here.day} {words('time.months').split()[here.month - 1]} {here.year}"


def since(then: datetime, now: datetime, zone: str, words: catalogue.Words) -> str:
    """Since when, as short as it can be: the time of today, the day of this year, or the whole date.

    >>> from datetime import UTC
    >>> noon = datetime(2026, 3, 14, 12, tzinfo=UTC)
    >>> then = (datetime(2026, 3, 14, 3, 10, tzinfo=UTC), datetime(2026, 2, 9, tzinfo=UTC))
    >>> [since(one, noon, "Europe/London", catalogue.Words()) for one in then]
    ['03:10', '9 Feb']
    """
    here, today = then.astimezone(ZoneInfo(zone)), now.astimezone(ZoneInfo(zone))
    if here.date() == today.date():
        return here.strftime("%H:%M")
    if (today - here).days < 330:
        return f"{here.day} {words('time.months').split()[here.month - 1]}"
    return here.strftime("%Y-%m-%d")


def desk_of(request: Request) -> desk.Desk:
    """The desk of this application: the hall, if there is one."""
    return request.app.state.desk


def knowing_of(request: Request) -> knowing.Knowing:
    """What this application knows of the gas."""
    return request.app.state.knowing


def who(request: Request) -> people.Who:
    """Whoever makes this request; a hall without people is open to its own machine."""
    return getattr(request.state, "who", people.OPEN)


def writer(request: Request, name: str = "") -> int | None:
    """The number of the person who writes: the one signed in, or in an open hall the one named."""
    asking_now = who(request)
    if asking_now.number is not None or not name.strip():
        return asking_now.number
    return desk_of(request).hall().person(name.strip()) if asking_now.role == "open" else None


def words_of(request: Request) -> catalogue.Words:
    """The words of this hall's language."""
    return catalogue.Words(desk_of(request).language())


def context(request: Request, page: str, *, as_of: datetime | None = None, by: str = "") -> dict[str, Any]:
    """What every sheet needs: words, navigation, facility, title block."""
    table = desk_of(request)
    facility = table.facility_or_none()
    words = catalogue.Words(table.language())
    zone = facility.timezone if facility else "UTC"
    now = clock.now()
    return {
        "t": words,
        "lang": "en" if words.language == catalogue.INVENTED else words.language,
        **_navigation(page, words, shown=facility is not None and who(request).role != "nobody"),
        "facility": {"name": facility.name if facility else words("sheet.nameless"), "zone": zone},
        "page": page,
        "who": who(request),
        "when": functools.partial(clocktime, zone=zone),
        "since": functools.partial(since, now=now, zone=zone, words=words),
        "ago": functools.partial(ago, now=now, words=words),
        "day": functools.partial(day, zone=zone, words=words),
        "demo": table.is_demo(),
        "plain_from_afar": request.url.scheme != "https" and page != "trust" and not coming.nearby(request),
        "sheet": {
            "name": words(f"sheet.{page}"),
            "as_of": clocktime(as_of or now, zone),
            "age": words("sheet.age", age=ago(as_of, now, words)) if as_of else "",
            "by": by or words("sheet.by"),
            "revision": table.revision(),
        },
    }


def _navigation(page: str, words: catalogue.Words, *, shown: bool) -> dict[str, list[dict[str, Any]]]:
    """The upper line of sheets, and below it those of the group that is open."""
    upper: list[dict[str, Any]] = []
    lower: list[dict[str, Any]] = []
    for name, sheets_of in NAV if shown else ():
        names = [one for one, _ in sheets_of] + list(WITHIN.get(name, ()))
        upper.append(
            {
                "name": words(f"nav.{name}"),
                "href": sheets_of[0][1],
                "current": page == name,
                "open": page in names,
            }
        )
        if page in names and len(names) > 1:
            lower = [
                {"name": words(f"nav.{one}"), "href": href, "current": page == one} for one, href in sheets_of
            ]
    return {"nav": upper, "nav_beside": lower}


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
    """One sheet; a box that was not sent reads as empty in the templates."""
    if "given" in values:
        values["given"] = collections.defaultdict(str, values["given"])
    shown = {**context(request, page, as_of=as_of, by=by), **values}
    body = environment().get_template(template).render(shown)
    return HTMLResponse(body, status_code=status, headers={"cache-control": "no-store"})


def sentence(
    request: Request, key: str, *, status: int, findings: Iterable[findings.Finding] = ()
) -> HTMLResponse:
    """A sheet that says one thing, and shows findings where there are some."""
    return render(request, "sentence.html", "fault", status=status, key=key, found=list(findings))


def typed(request: Request) -> dict[str, str]:
    """What the address asks with: boxes left empty are left out."""
    return {
        name: cleaned
        for name, value in request.query_params.items()
        if len(value) <= forms.LONGEST and (cleaned := forms.clean(value).strip())
    }


def with_units(question: answers.Question, given: Mapping[str, str]) -> dict[str, str]:
    """A bare number is in the unit that stands beside its box; the page shows it with that unit from then on.

    >>> one = answers.Input(name="t", label="t", unit="°C")
    >>> with_units(answers.Question(name="", title="", inputs=(one,), outputs=()), {"t": "25.5"})
    {'t': '25.5 °C'}
    """
    beside = {item.name: item.unit for item in question.inputs if item.kind == "amount"}
    return {
        name: f"{text} {beside[name]}" if beside.get(name) and units.read_plain(text) is not None else text
        for name, text in given.items()
    }


def asked(
    name: str, given: Mapping[str, str]
) -> tuple[answers.Answer | None, Sequence[findings.Finding], int]:
    """An engine's answer with what stood in its way, and the status it goes out with."""
    question = asking.question(name)
    if not given:
        return None, (), 200
    try:
        answer = asking.ask(name, with_units(question, given))
    except mishaps.Refused as refusal:
        return None, refusal.findings, 422
    if any(finding.level is findings.Level.STOP for finding in answer.findings):
        return answer, (), 422
    return answer, (), 200


def questioned(
    name: str, given: Mapping[str, str], answer: answers.Answer | None, found: Sequence[findings.Finding]
) -> dict[str, Any]:
    """What a page about one question shows: its boxes, each with its fault, and its answer."""
    question = asking.question(name)
    told = [*found, *(answer.findings if answer else ())]
    shown = with_units(question, given)
    shown_by = {item.next_reading for item in answer.not_excluded} if answer else set[str]()
    return {
        "question": question,
        "fields": fields(question, shown, told),
        "given": shown,
        "answer": answer if answer is not None and answer.values else None,
        "refused": any(finding.level is findings.Level.STOP for finding in told),
        "sentence": answer.sentence if answer else "",
        "found": told,
        "told": weighty(told),
        "notes": notes(told),
        "next": [one for one in (answer.next_readings if answer else ()) if one not in shown_by],
        "query": urlencode(shown),
    }


def weighty(found: Sequence[findings.Finding]) -> list[findings.Finding]:
    """What asks for a person, heaviest first."""
    order = list(findings.Level)
    heavy = [finding for finding in found if finding.level is not findings.Level.NOTE]
    return sorted(heavy, key=lambda finding: -order.index(finding.level))


def notes(found: Sequence[findings.Finding]) -> list[findings.Finding]:
    """What was only assumed or left out."""
    return [finding for finding in found if finding.level is findings.Level.NOTE]


def fields(
    question: answers.Question, given: Mapping[str, str], found: Sequence[findings.Finding] = ()
) -> list[dict[str, Any]]:
    """The boxes of a question, filled with what was typed; what is needed stands first."""
    faults = {finding.spot.field: finding.text for finding in found if finding.level is findings.Level.STOP}
    boxes: list[dict[str, Any]] = [
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
            "fault": faults.get(item.name, ""),
        }
        for item in question.inputs
    ]
    return sorted(boxes, key=lambda box: not box["required"])

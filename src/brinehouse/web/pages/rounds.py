"""Sheet ``rounds``: which are due, how one stands, and one stop after the other; all without scripts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse import findings
from brinehouse.web import forms, round_view, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import hall as halls
from brinehouse.workbench import mishaps, recent, round_asks, round_stops, round_writing, rounds

router = make_router()


@router.get("/rounds")
def overview(request: Request) -> Response:
    """Every round: when it is due, who walked it last, what was missed."""
    place = sheets.desk_of(request).hall()
    looks = rounds.look(place)
    names = rounds.people(place)
    return sheets.render(
        request,
        "rounds.html",
        "rounds",
        title=round_view.overview_title(looks, sheets.words_of(request)),
        rows=[round_view.row(one, names) for one in looks],
        made=[one for one in looks if one.round.made],
        aside=round_view.asides(place, names),
    )


@router.get("/rounds/aside")
def aside(request: Request) -> Response:
    """What came twice under one id with two contents: side by side, for a person to decide."""
    place = sheets.desk_of(request).hall()
    pairs = round_view.asides(place, rounds.people(place))
    return sheets.render(request, "round_aside.html", "rounds", pairs=pairs)


@router.get("/rounds/{round}")
def one(request: Request, round: str) -> Response:  # noqa: A002 - the word of the address
    """One round: how it stands, and its stops."""
    place = sheets.desk_of(request).hall()
    look = rounds.look_at(place, round)
    first = _first_open(look)
    return sheets.render(
        request,
        "round.html",
        "rounds",
        title=round_view.title(look, sheets.words_of(request)),
        look=look,
        row=round_view.row(look, rounds.people(place)),
        stops=round_view.stops(look),
        people=list(rounds.people(place).values()),
        who=sheets.who(request),
        first=_way(round, first.key) if first else f"/rounds/{quote(round, safe='')}/end",
    )


@router.post("/rounds/{round}/begin")
def begin(request: Request, round: str, given: forms.Given) -> Response:  # noqa: A002
    """Begin the walk, or go on with the one that is under way."""
    place = sheets.desk_of(request).hall()
    round_stops.find(place.facility, round)
    person = sheets.writer(request, given.get("by", ""))
    round_writing.begin(place, round, person, given.get("id", ""))
    return _on(request, round, "")


@router.get("/rounds/{round}/end")
def summary(request: Request, round: str) -> Response:  # noqa: A002
    """After the last stop: what was unusual, what was skipped, what is missing."""
    place = sheets.desk_of(request).hall()
    look = rounds.look_at(place, round)
    walk = look.walk or look.last
    return sheets.render(
        request,
        "round_end.html",
        "rounds",
        title=round_view.end_title(look, walk, sheets.words_of(request)),
        look=look,
        walk=walk,
        missing=round_view.missing(look, walk),
        skipped=round_view.skipped(look, walk),
        unusual=round_view.unusual(place, look, walk),
    )


@router.post("/rounds/{round}/end")
def end(request: Request, round: str, given: forms.Given) -> Response:  # noqa: A002
    """Say that the walk has ended."""
    place = sheets.desk_of(request).hall()
    walk = rounds.current(place, round_stops.find(place.facility, round).id)
    if walk is not None:
        round_writing.end(place, walk, sheets.writer(request, given.get("by", "")) or walk.by)
    return RedirectResponse("/rounds", status_code=303)


@router.get("/rounds/{round}/{key}")
def stop(request: Request, round: str, key: str) -> Response:  # noqa: A002
    """One stop as one screen."""
    return _stop(request, round, key, {}, (), 200)


@router.post("/rounds/{round}/{key}")
def answer(request: Request, round: str, key: str, given: forms.Given) -> Response:  # noqa: A002
    """What was answered there: kept, asked about once more, skipped with a reason, or refused with why."""
    place = sheets.desk_of(request).hall()
    screen = _screen(place, round, key)
    person = sheets.writer(request, given.get("by", ""))
    walk = round_writing.begin(place, round, person)
    person = person or (walk.by if sheets.who(request).role == "open" else None)
    if given.get("do") == "zone":
        found = round_writing.enter(place, walk, screen, given, person)
        if found:
            return _stop(request, round, key, given, found, 422)
        return RedirectResponse(_way(round, key), status_code=303)
    if given.get("do") == "skip":
        made = round_writing.skip(walk, screen, given, person)
    else:
        asks = _asks(request, place, screen)
        made = round_writing.save(place, walk, screen, asks, _all(given, asks), person)
    if made.refused:
        return _stop(request, round, key, given, made.findings, 422, made)
    place.write(made.facts, person=person)
    return _on(request, round, key)


def _all(given: Mapping[str, str], asks: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """What a form says; one tap answers that all is as usual."""
    if not given.get("all"):
        return dict(given)
    return {**given, **{str(ask["sign"]): str(ask["choices"][0]) for ask in asks if "sign" in ask}}


def _screen(place: halls.Hall, name: str, key: str) -> round_stops.Screen:
    whole = round_stops.find(place.facility, name)
    for screen in round_stops.screens(place.facility, whole):
        if screen.key == key:
            return screen
    raise mishaps.Refused(
        findings.Finding(
            code="round/no-stop",
            level=findings.Level.STOP,
            text=f"{whole.name} has no stop '{key}'",
            hint=f"look at /rounds/{name} for its stops",
        )
    )


def _asks(request: Request, place: halls.Hall, screen: round_stops.Screen) -> list[dict[str, Any]]:
    known = round_view.corrections(place, sheets.words_of(request))
    return round_asks.ask(place, screen, recent.readings(place), rounds.people(place), known)


def _first_open(look: rounds.Look, after: str = "") -> round_stops.Screen | None:
    """The next stop that is not passed yet: from a stop on, then from the beginning."""
    passed = look.walk.passed if look.walk is not None else set[str]()
    keys = [screen.key for screen in look.screens]
    begin = keys.index(after) + 1 if after in keys else 0
    turned = [*look.screens[begin:], *look.screens[:begin]]
    return next((screen for screen in turned if screen.key not in passed and screen.key != after), None)


def _way(name: str, key: str) -> str:
    return f"/rounds/{quote(name, safe='')}/{quote(key, safe='')}"


def _on(request: Request, name: str, key: str) -> Response:
    """To the next stop, or to the end."""
    look = rounds.look_at(sheets.desk_of(request).hall(), name)
    following = _first_open(look, key)
    return RedirectResponse(_way(name, following.key if following else "end"), status_code=303)


def _stop(
    request: Request,
    name: str,
    key: str,
    given: Mapping[str, str],
    found: Sequence[findings.Finding],
    status: int,
    made: round_writing.Made | None = None,
) -> Response:
    place = sheets.desk_of(request).hall()
    screen = _screen(place, name, key)
    look = rounds.look_at(place, name)
    keys = [one.key for one in look.screens]
    at = keys.index(key)
    asks = _asks(request, place, screen)
    zone = screen.change if screen.change and not _entered(look, screen) else None
    following = _first_open(look, key)
    return sheets.render(
        request,
        "round_stop.html",
        "rounds",
        status=status,
        look=look,
        screen=screen,
        number=at + 1,
        asks=asks,
        ask=asks[0],
        last=round_view.last(asks[0], place.facility.timezone),
        zone=zone,
        note=screen.note,
        point=place.facility.points.get(screen.point),
        judged=made.judged if made else None,
        asking=made is not None and made.ask,
        found=found,
        given={"unit": asks[0].get("unit", ""), **given},
        id=round_writing.own_id(given.get("id", "")),
        picture=round_view.week(asks[0], made.judged if made else None, sheets.words_of(request)),
        who=sheets.who(request),
        people=list(rounds.people(place).values()),
        walker=given.get("by", ""),
        before=_way(name, keys[at - 1]) if at else f"/rounds/{quote(name, safe='')}",
        after=_way(name, following.key if following else "end"),
        way=_way(name, key),
        number_of=round_view.number_of,
        skipping=given.get("do") == "skip" or request.query_params.get("skip") == "1",
        passed=look.walk is not None and key in look.walk.passed,
    )


def _entered(look: rounds.Look, screen: round_stops.Screen) -> bool:
    return look.walk is not None and screen.change is not None and screen.change.id in look.walk.zones

"""What the sheets of the rounds say and show: sentences, rows, the last reading, the line of a week."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from urllib.parse import quote

from markupsafe import Markup

from brinehouse.web import catalogue, round_drawing, sheets
from brinehouse.workbench import asides as twice
from brinehouse.workbench import hall as halls
from brinehouse.workbench import (
    investigation,
    judging,
    recent,
    round_asks,
    round_stops,
    round_typing,
    rounds,
    told,
)

LEVELS = {"overdue": "watch"}


def row(look: rounds.Look, names: Mapping[int, str]) -> dict[str, Any]:
    """One round in one row."""
    last = look.last
    return {
        "id": look.round.id,
        "href": f"/rounds/{quote(look.round.id, safe='')}",
        "phone": f"/phone/round/{quote(look.round.id, safe='')}",
        "name": look.round.name,
        "state": look.state,
        "level": LEVELS.get(look.state, ""),
        "due": look.due,
        "until": look.until,
        "stops": len(look.screens),
        "missing": len(look.missing),
        "missed": [screen.title for screen in look.missing],
        "begun": look.walk.begun if look.walk else None,
        "done": len(look.walk.done) if look.walk else 0,
        "by": names.get(look.walk.by, "") if look.walk and look.walk.by is not None else "",
        "last": last.ended if last else None,
        "read": look.state == "walked" and last is None,
        "last_by": names.get(last.by, "") if last and last.by is not None else "",
    }


def overview_title(looks: Sequence[rounds.Look], t: catalogue.Words) -> str:
    """What the sheet of all rounds found."""
    for state in ("overdue", "under way", "due"):
        found = [one.round.name for one in looks if one.state == state]
        if found:
            return t.many(f"rounds.title_{state.replace(' ', '_')}", len(found), name=found[0])
    return t("rounds.title_quiet")


def title(look: rounds.Look, t: catalogue.Words) -> str:
    """What the sheet of one round found."""
    name, stops = look.round.name, len(look.screens)
    if look.walk is not None:
        return t("rounds.one_going", name=name, done=len(look.walk.passed), stops=stops)
    return t(f"rounds.one_{look.state.replace(' ', '_')}", name=name, stops=stops, missing=len(look.missing))


def stops(look: rounds.Look) -> list[dict[str, Any]]:
    """The stops of a round, each with how it stands in the walk under way."""
    walk = look.walk
    made: list[dict[str, Any]] = []
    for number, screen in enumerate(look.screens, 1):
        skipped = walk.skipped.get(screen.key, "") if walk else ""
        done = bool(walk and screen.key in walk.done)
        made.append(
            {
                "number": number,
                "title": screen.title,
                "href": f"/rounds/{quote(look.round.id, safe='')}/{quote(screen.key, safe='')}",
                "state": "done" if done else "skipped" if skipped else "open",
                "reason": skipped,
                "zone": screen.zone.name if screen.zone else "",
                "change": screen.change is not None,
                "at": walk.done.get(screen.key) if walk else None,
            }
        )
    return made


def end_title(look: rounds.Look, walk: rounds.Walk | None, t: catalogue.Words) -> str:
    """What the end of a walk found."""
    left = len(missing(look, walk))
    if walk is None:
        return t("rounds.end_nothing", name=look.round.name)
    if left:
        return t.many("rounds.end_left", left, name=look.round.name)
    return t("rounds.end_whole", name=look.round.name)


def missing(look: rounds.Look, walk: rounds.Walk | None) -> list[dict[str, str]]:
    """Stops that are neither done nor skipped."""
    passed = walk.passed if walk is not None else set[str]()
    return [_link(look, screen) for screen in look.screens if screen.key not in passed]


def skipped(look: rounds.Look, walk: rounds.Walk | None) -> list[dict[str, str]]:
    """Stops that were skipped, with the reason."""
    found = walk.skipped if walk is not None else {}
    return [
        {**_link(look, screen), "reason": found[screen.key]} for screen in look.screens if screen.key in found
    ]


def _link(look: rounds.Look, screen: round_stops.Screen) -> dict[str, str]:
    way = f"/rounds/{quote(look.round.id, safe='')}/{quote(screen.key, safe='')}"
    return {"title": screen.title, "href": way}


def unusual(place: halls.Hall, look: rounds.Look, walk: rounds.Walk | None) -> list[dict[str, Any]]:
    """What was kept although it is unusual, and what was seen of animals that is not as usual."""
    if walk is None:
        return []
    history = recent.readings(place)
    found: list[dict[str, Any]] = []
    for screen in look.screens:
        for one in reversed(history.get((screen.place, screen.quantity), ())[-50:]):
            if one.measured < walk.begun:
                break
            odd = one.quality == "unusual" or any(mark.startswith("round/") for mark in one.marks)
            if odd and one.point == screen.point and (walk.ended is None or one.measured <= walk.ended):
                found.append(
                    {"title": screen.title, "says": one.text, "note": one.note, "href": f"/log/{one.id}"}
                )
    facts = place.facts(("observation",), since=walk.begun, until=walk.ended)
    places = {screen.place for screen in look.screens}
    found += [
        {
            "title": place.facility.vessels[fact.place].name
            if fact.place in place.facility.vessels
            else fact.place,
            "says": told.line(fact),
            "note": str(fact.details.get("words", "")),
            "href": f"/log/{fact.id}",
        }
        for fact in facts
        if fact.place in places and fact.details.get("answer") not in (None, "", "as usual")
    ]
    return found


def last(ask: Mapping[str, Any], zone: str) -> dict[str, Any] | None:
    """The last reading as the page tells it."""
    newest = ask.get("last")
    if not newest:
        return None
    at = datetime.fromisoformat(newest["at"])
    return {**newest, "at": at, "clock": sheets.clocktime(at, zone)}


def week(ask: Mapping[str, Any], judged: judging.Judged | None, t: catalogue.Words) -> Markup | None:
    """The line of seven days, with what was typed where it may be kept."""
    if ask.get("kind") != "reading" or (not ask["trace"] and judged is None):
        return None
    value = judged.value if judged is not None and judged.answer == "unusual" else None
    low, high = ask["expected"]
    label = t.many("rounds.week", len(ask["trace"]), low=f"{low:g}", high=f"{high:g}", unit=ask["unit"])
    return round_drawing.week(ask, label=label, days=t("rounds.seven_days"), value=value, level="watch")


def typing_title(sheet: round_typing.Sheet, name: str, t: catalogue.Words) -> str:
    """What the screen for a written sheet found."""
    if sheet.findings:
        return t("rounds.type_faults")
    if sheet.wrong:
        return t.many("rounds.type_wrong", sheet.wrong)
    if sheet.unusual:
        return t.many("rounds.type_unusual", sheet.unusual)
    return t("rounds.type_title", name=name)


def number_of(value: float | None) -> str:
    """A number of a plan as a page shows it: as short as it is.

    >>> number_of(26.0), number_of(-0.5), number_of(None)
    ('26', '−0.5', '')
    """
    return "" if value is None else f"{value:g}".replace("-", "−")


def corrections(place: halls.Hall, t: catalogue.Words) -> round_asks.Corrections:
    """How far each gas meter is off, where that is known already: no stop waits for it."""
    found: dict[tuple[str, str], str] = {}
    for meter, offset in investigation.known_offsets(place).items():
        span = offset.interval()
        if offset.value is None or span is None:
            continue
        half = f"{(span[1] - span[0]) / 2.0:.1f}"
        shown = f"{-offset.value:+.1f}".replace("-", "−")
        found[meter, investigation.PRESSURE] = t("rounds.corrected", by=shown, half=half)
    return found


def asides(place: halls.Hall, names: Mapping[int, str]) -> list[dict[str, Any]]:
    """What came under one id with two contents: what stands, and what was offered."""
    return [
        {
            "id": one.id,
            "href": f"/log/{one.id}",
            "place": one.place,
            "measured": one.measured,
            "kept": one.kept,
            "kept_by": names.get(one.kept_by or -1, ""),
            "offered": one.offered,
            "offered_by": names.get(one.offered_by or -1, ""),
        }
        for one in twice.of(place)
    ]

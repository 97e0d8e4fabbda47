"""What one stop of a round writes down: judged once more, then stored with the mark that the stop is done."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from brinehouse import findings, records
from brinehouse.workbench import clock, hall, judging, round_stops, rounds, typed

ID = re.compile(r"[0-9a-f]{32}")
LONGEST = 500  # characters of words and reasons


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """Facts ready to be stored, or the findings that stand in the way; `judged` where a value was judged."""

    facts: Sequence[records.Reading | records.Fact] = ()
    findings: Sequence[findings.Finding] = ()
    judged: judging.Judged | None = None

    @property
    def refused(self) -> bool:
        """Whether nothing can be stored."""
        return not self.facts

    @property
    def ask(self) -> bool:
        """Whether one more yes would do."""
        return findings.worst(self.findings) is findings.Level.ASK


def derived(*parts: str) -> str:
    """An id made from others, so that the same thing sent twice is one thing."""
    return hashlib.sha256(" ".join(parts).encode()).hexdigest()[:32]


def own_id(text: str) -> str:
    """The id that came with a form, or a new one where it is none."""
    return text if ID.fullmatch(text) else hall.new_id()


def begin(place: hall.Hall, name: str, person: int | None, id: str = "") -> rounds.Walk:
    """The walk of a round that is under way, begun where none is."""
    whole = round_stops.find(place.facility, name)
    going = rounds.current(place, name)
    if going is not None:
        return going
    walk, now = own_id(id), clock.now()
    place.write([_walk(whole.id, walk, "begun", now, person)], person=person)
    return rounds.Walk(id=walk, round=whole.id, begun=now, by=person)


def end(place: hall.Hall, walk: rounds.Walk, person: int | None) -> None:
    """Say that a walk has ended; what was not done stays missing."""
    place.write([_walk(walk.round, walk.id, "ended", clock.now(), person)], person=person)


def enter(
    place: hall.Hall,
    walk: rounds.Walk,
    screen: round_stops.Screen,
    given: Mapping[str, str],
    person: int | None,
) -> Sequence[findings.Finding]:
    """Enter a zone: what it wants (a foot bath, its own tools) must be said to be so first."""
    zone = screen.change
    if zone is None:
        return ()
    wanted = {"foot_bath": zone.foot_bath, "tools": zone.own_tools}
    missing = [name for name, is_wanted in wanted.items() if is_wanted and not given.get(name)]
    if missing:
        words = {"foot_bath": "step through the foot bath", "tools": "take the tools of this zone"}
        said = " and ".join(words[name] for name in missing)
        return (_stop("round/zone-first", f"{zone.name} comes next: {said} first", "tick it once it is so"),)
    told = {name: True for name, is_wanted in wanted.items() if is_wanted}
    fact = _walk(walk.round, walk.id, "zone", clock.now(), person, zone=zone.id, **told)
    place.write([fact], person=person)
    return ()


def mark(walk: rounds.Walk, what: str, at: datetime, person: int | None) -> records.Fact:
    """That a walk begins or ends."""
    return _walk(walk.round, walk.id, what, at, person)


def _walk(whole: str, walk: str, what: str, at: datetime, person: int | None, **told: Any) -> records.Fact:
    more = str(told.get("zone", ""))
    return records.Fact(
        id=derived("walk", walk, what, more),
        kind="walk",
        measured=at,
        entered=at,
        details={"round": whole, "walk": walk, "what": what, **told},
        person=person,
    )


def passed(
    walk: rounds.Walk, screen: round_stops.Screen, id: str, at: datetime, person: int | None, reason: str = ""
) -> records.Fact:
    """The mark that a stop is done, or skipped with the reason."""
    what = "skipped" if reason else "done"
    told = {"round": walk.round, "walk": walk.id, "stop": screen.key, "what": what}
    return records.Fact(
        id=derived("stop", id),
        kind="stop",
        measured=at,
        entered=clock.now(),
        place=screen.place,
        details=told | ({"reason": reason} if reason else {}),
        person=person,
    )


def skip(walk: rounds.Walk, screen: round_stops.Screen, given: Mapping[str, str], person: int | None) -> Made:
    """Skip a stop, with the reason."""
    reason = given.get("reason", "").strip()[:LONGEST]
    if not reason:
        said = "A stop is skipped with a reason"
        return Made(findings=(_stop("round/no-reason", said, "write a word: meter flat, no time", "reason"),))
    return Made(facts=(passed(walk, screen, own_id(given.get("id", "")), clock.now(), person, reason),))


def save(
    place: hall.Hall,
    walk: rounds.Walk,
    screen: round_stops.Screen,
    asks: Sequence[Mapping[str, Any]],
    given: Mapping[str, str],
    person: int | None,
    at: datetime | None = None,
) -> Made:
    """What was answered at a stop, as facts; `given` holds the boxes of its form."""
    makers = {"reading": _reading, "observation": _observation, "feeding": _feeding}
    made = makers[screen.kind](place, screen, asks, given, at)
    if made.refused:
        return made
    id, when = own_id(given.get("id", "")), made.facts[0].measured
    facts = [replace(fact, person=person) for fact in made.facts]
    return replace(made, facts=(*facts, passed(walk, screen, id, when, person)))


def _reading(
    place: hall.Hall,
    screen: round_stops.Screen,
    asks: Sequence[Mapping[str, Any]],
    given: Mapping[str, str],
    at: datetime | None,
) -> Made:
    ask, text, unit = asks[0], given.get("value", ""), given.get("unit", "")
    judged = judging.judge(ask, text, unit)
    sure, reason = bool(given.get("sure")), given.get("reason", "").strip()[:LONGEST]
    if judged.answer == "impossible":
        return Made(judged=judged, findings=(_stop(judged.code, judged.sentence, judged.hint, "value"),))
    if judged.answer == "unusual" and not sure:
        found = findings.Finding(
            code=judged.code, level=findings.Level.ASK, text=judged.sentence, hint=judged.hint,
            spot=findings.Spot(field="value"),
        )  # fmt: skip
        return Made(judged=judged, findings=(found,))
    made = typed.understand(
        place.facility,
        place=screen.at,
        quantity=screen.quantity,
        text=judged.stored,
        at=at,
        instrument=given.get("instrument", "") or screen.instrument,
        basis=given.get("basis", "") or str(ask.get("basis", "")),
        sure=True,
        reason=reason,
    )
    if made.reading is None or made.refused:
        return Made(judged=judged, findings=made.findings)
    marks = tuple(dict.fromkeys((*made.reading.marks, *((judged.code,) if judged.code else ()))))
    reading = replace(made.reading, id=own_id(given.get("id", "")), marks=marks)
    return Made(judged=judged, facts=(reading,))


def _observation(
    _: hall.Hall,
    screen: round_stops.Screen,
    asks: Sequence[Mapping[str, Any]],
    given: Mapping[str, str],
    at: datetime | None,
) -> Made:
    now, id = clock.now(), own_id(given.get("id", ""))
    words = given.get("words", "").strip()[:LONGEST]
    facts: list[records.Fact] = []
    for ask in asks:
        sign, answer = str(ask["sign"]), given.get(str(ask["sign"]), "")
        if not answer:
            said = f"Nothing is answered for {sign}"
            return Made(findings=(_stop("round/not-answered", said, "tap what you saw", sign),))
        if answer not in ask["choices"]:
            said = f"'{answer[:40]}' is not one of the answers for {sign}"
            return Made(findings=(_stop("round/no-such-answer", said, " or ".join(ask["choices"]), sign),))
        told = {"animals": screen.animals, "sign": sign, "answer": answer}
        facts.append(
            records.Fact(
                id=derived("look", id, sign),
                kind="observation",
                measured=at or now,
                entered=now,
                place=screen.place,
                details=told | ({"words": words} if words else {}),
            )
        )
    return Made(facts=facts)


def _feeding(
    _: hall.Hall,
    screen: round_stops.Screen,
    asks: Sequence[Mapping[str, Any]],
    given: Mapping[str, str],
    at: datetime | None,
) -> Made:
    ask, now = asks[0], clock.now()
    eaten = given.get("eaten", "")
    if eaten not in ask["choices"]:
        said = "How much of it was eaten is not answered"
        return Made(findings=(_stop("round/not-answered", said, " or ".join(ask["choices"]), "eaten"),))
    told: dict[str, Any] = {"food": screen.food, "eaten": eaten}
    text = given.get("grams", "").strip()
    if text:
        weight = {"quantity": "food", "unit": "g", "decimals": 1, "expected": [0, 1e6], "possible": [0, 1e6]}
        judged = judging.judge(weight, text)
        if judged.answer == "impossible" or judged.value is None or judged.bound:
            return Made(
                judged=judged,
                findings=(
                    _stop(
                        "round/not-a-weight",
                        judged.sentence or "That is no weight",
                        "write grams, e.g. 40",
                        "grams",
                    ),
                ),
            )
        told["grams"] = judged.value
    fact = records.Fact(
        id=own_id(given.get("id", "")), kind="feeding", measured=at or now, entered=now, place=screen.place,
        details=told,
    )  # fmt: skip
    return Made(facts=(fact,))


def _stop(code: str, text: str, hint: str, field: str = "") -> findings.Finding:
    spot = findings.Spot(field=field)
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint, spot=spot)

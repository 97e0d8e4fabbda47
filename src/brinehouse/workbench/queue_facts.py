"""One entry of a phone's queue as a fact: only the keys that belong to it, only texts that can be kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from brinehouse import findings, records
from brinehouse.facility import model
from brinehouse.workbench import judging, mishaps, round_stops, round_writing, typed

LONG = 500
BODIES: Mapping[str, frozenset[str]] = {
    "reading": frozenset(
        {"place", "quantity", "text", "unit", "instrument", "basis", "depth", "sure", "reason", "note"}
    ),
    "observation": frozenset({"place", "animals", "sign", "answer", "words"}),
    "feeding": frozenset({"place", "food", "grams", "eaten", "words"}),
    "note": frozenset({"place", "text"}),
    "stop": frozenset({"what", "reason"}),
    "walk": frozenset({"what", "zone", "foot_bath", "tools"}),
}
"""By kind of entry, the keys of its body."""
_GONE = frozenset({"typed/unknown-place", "typed/retired"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry, its parts checked for what they are."""

    id: str
    made: datetime
    now: datetime
    person: int | None
    round: str
    walk: str
    stop: str
    kind: str
    body: Any


def fact(
    facility: model.Facility, entry: Entry
) -> tuple[records.Reading | records.Fact, findings.Finding | None]:
    """The fact of an entry; or a note in its stead, with why: its place is gone, and a person must decide.

    Raises
    ------
    mishaps.Refused
        With the finding that says why it cannot be kept.
    """
    keys = BODIES.get(entry.kind)
    if keys is None or not isinstance(entry.body, dict):
        raise no("round/bad-entry", f"'{entry.kind[:20]}' is not a kind of entry", "type it again")
    only(entry.body, keys, f"a {entry.kind}")
    return _MAKERS[entry.kind](facility, entry, entry.body)


def no(code: str, said: str, hint: str) -> mishaps.Refused:
    """A refusal with its finding."""
    return mishaps.Refused(findings.Finding(code=code, level=findings.Level.STOP, text=said, hint=hint))


def only(told: Mapping[str, Any], keys: frozenset[str], what: str) -> None:
    """Refuse keys that do not belong there."""
    strange = [name for name in told if name not in keys]
    if strange:
        near = typed.near(strange[0][:40], sorted(keys))
        said = f"'{strange[0][:40]}' does not belong to {what}"
        raise no("round/unknown-key", said, near)


def text(told: Mapping[str, Any], name: str, longest: int = LONG) -> str:
    """A text of an entry; empty where it is not there."""
    value = told.get(name)
    if value is None:
        return ""
    if not isinstance(value, str) or len(value) > longest:
        raise no("round/bad-entry", f"'{name}' is no text of at most {longest} characters", "type it again")
    return value.strip()


def _flag(told: Mapping[str, Any], name: str) -> bool:
    value = told.get(name) or False  # a phone may send null for what was not asked
    if not isinstance(value, bool):
        raise no("round/bad-entry", f"'{name}' is neither true nor false", "type it again")
    return value


_Made = tuple[records.Reading | records.Fact, findings.Finding | None]


def _reading(facility: model.Facility, entry: Entry, told: Mapping[str, Any]) -> _Made:
    written, unit = text(told, "text", 80), text(told, "unit", 30)
    wide: dict[str, Any] = {"quantity": text(told, "quantity", 60), "unit": unit, "decimals": 0}
    span = (-float("inf"), float("inf"))
    judged = judging.judge({**wide, "expected": span, "possible": span}, written, unit)
    if judged.answer == "impossible":
        raise no(judged.code, judged.sentence, judged.hint)
    made = typed.understand(
        facility,
        place=text(told, "place", 80),
        quantity=wide["quantity"],
        text=judged.stored,
        at=entry.made,
        instrument=text(told, "instrument", 80),
        depth=text(told, "depth", 20),
        note=text(told, "note"),
        basis=text(told, "basis", 20),
        sure=True,
        reason=text(told, "reason"),
        person=entry.person,
    )
    stops = [found for found in made.findings if found.level is findings.Level.STOP]
    gone = next((found for found in stops if found.code in _GONE), None)
    if gone is not None and len(stops) == 1:
        said = f"{wide['quantity']} {judged.stored} at {text(told, 'place', 80)}"
        return _note(entry, said, gone), gone
    if stops or made.reading is None:
        found = stops[0]
        raise no(found.code, found.text, found.hint)
    marks = () if _flag(told, "sure") or made.reading.quality != "unusual" else ("round/not-asked",)
    return replace(
        made.reading, id=entry.id, measured=entry.made, entered=entry.now,
        marks=(*made.reading.marks, *marks),
    ), None  # fmt: skip


def _note(entry: Entry, said: str, gone: findings.Finding) -> records.Fact:
    return records.Fact(
        id=entry.id,
        kind="note",
        measured=entry.made,
        entered=entry.now,
        details={"what": said, "aside": gone.code},
        person=entry.person,
        note=gone.text,
    )


def _at(facility: model.Facility, entry: Entry, told: Mapping[str, Any], said: str) -> _Made | str:
    """The place of an entry, or the note that is kept where it is gone."""
    name = text(told, "place", 80)
    vessel = facility.place(name)
    day = f"{entry.made:%Y-%m-%d}"
    if vessel is not None and facility.in_use(name, day):
        return vessel.id
    why = f"'{name}' is not a place of this facility" if vessel is None else f"{name} is retired"
    code = "typed/unknown-place" if vessel is None else "typed/retired"
    gone = findings.Finding(
        code=code, level=findings.Level.STOP, text=why, hint="ask a lead where it belongs"
    )
    return _note(entry, f"{said} at {name}", gone), gone


def _plain(entry: Entry, kind: records.FactKind, place: str, details: Mapping[str, Any]) -> records.Fact:
    return records.Fact(
        id=entry.id,
        kind=kind,
        measured=entry.made,
        entered=entry.now,
        place=place,
        details={name: value for name, value in details.items() if value not in ("", None)},
        person=entry.person,
    )


def _observation(facility: model.Facility, entry: Entry, told: Mapping[str, Any]) -> _Made:
    sign, answer = text(told, "sign", 30), text(told, "answer", 80)
    if sign not in round_stops.SIGNS or not answer:
        raise no("round/bad-entry", "An observation has a sign and an answer", "tap the answer again")
    at = _at(facility, entry, told, f"{sign} {answer}")
    if not isinstance(at, str):
        return at
    details = {"animals": text(told, "animals", 200), "sign": sign, "answer": answer}
    return _plain(entry, "observation", at, {**details, "words": text(told, "words")}), None


def _feeding(facility: model.Facility, entry: Entry, told: Mapping[str, Any]) -> _Made:
    food, eaten, grams = text(told, "food", 80), text(told, "eaten", 30), told.get("grams")
    if not food or (eaten and eaten not in round_stops.EATEN):
        raise no("round/bad-entry", "A feeding has a food, and how much was eaten", "tap the answer again")
    if grams is not None and (isinstance(grams, bool) or not isinstance(grams, int | float)):
        raise no("round/bad-entry", "'grams' is no number", "type it again")
    if grams is not None and not 0 <= grams <= 1e6:
        raise no("round/bad-entry", f"{grams:g} g of food cannot be", "type it again")
    at = _at(facility, entry, told, f"{food}, eaten: {eaten}")
    if not isinstance(at, str):
        return at
    details = {"food": food, "grams": grams, "eaten": eaten, "words": text(told, "words")}
    return _plain(entry, "feeding", at, details), None


def _noted(facility: model.Facility, entry: Entry, told: Mapping[str, Any]) -> _Made:
    said = text(told, "text", 4 * LONG)
    if not said:
        raise no("round/bad-entry", "The note is empty", "write it again")
    name = text(told, "place", 80)
    vessel = facility.place(name)
    return _plain(entry, "note", vessel.id if vessel else "", {"what": said}), None


def _walk_of(entry: Entry) -> dict[str, Any]:
    if not entry.round or not round_writing.ID.fullmatch(entry.walk):
        raise no(
            "round/bad-entry", "This entry does not say which walk it belongs to", "begin the round again"
        )
    return {"round": entry.round, "walk": entry.walk}


def _stop(facility: model.Facility, entry: Entry, told: Mapping[str, Any]) -> _Made:
    what, reason = text(told, "what", 20), text(told, "reason")
    if what not in ("done", "skipped") or not entry.stop or (what == "skipped" and not reason):
        raise no("round/bad-entry", "A stop is done, or skipped with a reason", "say it again")
    name = entry.stop.rpartition(".")[0]
    vessel = facility.place(name)
    details = {**_walk_of(entry), "stop": entry.stop, "what": what, "reason": reason}
    return _plain(entry, "stop", vessel.id if vessel else "", details), None


def _walk(_: model.Facility, entry: Entry, told: Mapping[str, Any]) -> _Made:
    what = text(told, "what", 20)
    if what not in ("begun", "zone", "ended"):
        raise no("round/bad-entry", "A walk is begun, comes into a zone, or ends", "begin the round again")
    details = {**_walk_of(entry), "what": what, "zone": text(told, "zone", 80)}
    ticks = {name: True for name in ("foot_bath", "tools") if _flag(told, name)}
    return _plain(entry, "walk", "", {**details, **ticks}), None


_MAKERS: Mapping[str, Callable[[model.Facility, Entry, Mapping[str, Any]], _Made]] = {
    "reading": _reading,
    "observation": _observation,
    "feeding": _feeding,
    "note": _noted,
    "stop": _stop,
    "walk": _walk,
}

"""The hand-over, written by the day itself: what is out of range, overdue, changed, promised, seen, left out.

Nobody writes a hand-over from memory: all of it is in the logbook since the last one. A person adds words and
signs it over; somebody of the next shift signs it as read. Both are facts, the first with its text and with
the head of the chain, so that the printed page can be held against the logbook (``verify --against``).
Names of people do not go into the text: rows hold numbers, and a name can be taken out of the hall for good.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from brinehouse import findings, records
from brinehouse.workbench import clock, day_lines, hall, logging_book, mishaps, notices, now, recent
from brinehouse.workbench import notice_states as states

FIRST = timedelta(hours=24)
"""How far the first hand-over of a hall looks back."""
LONGEST = timedelta(days=7)
NOTES_BACK = timedelta(days=120)
MOST = 14  # lines of one part
PARTS = ("out", "overdue", "aside", "promised", "animals", "skipped", "changed", "pumps")
WORDS = 1200
LONGEST_LINE = 150
PAGE, _HEAD = 250.0, 8.0
"""Height that the lines, and a heading, may take in two columns of an A4 page. [mm]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of a hand-over: its lines, and how many more there were."""

    name: str
    lines: tuple[str, ...]
    more: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A hand-over as the day has written it so far."""

    since: datetime
    until: datetime
    parts: Sequence[Part]
    head: str
    shift: str = ""

    def count(self, name: str) -> int:
        """How many lines a part has in all."""
        return sum(len(one.lines) + one.more for one in self.parts if one.name == name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A hand-over that was signed over, and who has read it."""

    id: str
    since: datetime
    until: datetime
    at: datetime
    head: str
    parts: Sequence[Part]
    words: str
    person: int | None
    by: str
    read: Sequence[tuple[str, datetime]] = ()
    shift: str = ""


# -- what the day says ------------------------------------------------------------------------------------


def draft(place: hall.Hall, sheet: now.Now) -> Draft:
    """The hand-over of the time since the last one.

    Parameters
    ----------
    place : Hall
    sheet : Now
        What is not as it should be.
    """
    until = clock.now()
    since = _since(place, until)
    facts = _facts(place, since)
    zone = place.facility.timezone
    lines: Mapping[str, Iterable[str]] = {
        "out": day_lines.out(sheet, zone),
        "overdue": day_lines.overdue(sheet, zone),
        "aside": day_lines.aside(sheet.book, zone),
        "promised": day_lines.promised(place.facility, _notes(place, until), until, zone),
        "animals": day_lines.animals(place.facility, facts, zone),
        "skipped": day_lines.skipped(place.facility, facts, zone),
        "changed": [
            *day_lines.plant(place.book.facility_texts_since(since) if _has(place) else (), zone),
            *day_lines.corrected(place.facility, recent.readings(place), since, zone),
            *day_lines.changed(place.facility, facts, zone),
        ],
        "pumps": day_lines.pumps(facts, zone),
    }
    parts = fitted({name: [line for line in lines[name] if line] for name in PARTS})
    seq, digest = place.book.head() if _has(place) else (0, "0" * 64)
    return Draft(
        since=since, until=until, parts=parts, head=f"{seq}:{digest}",
        shift=day_lines.shift(place.facility, until),
    )  # fmt: skip


def _has(place: hall.Hall) -> bool:
    return hall.Hall.has_book(place.folder)


def _since(place: hall.Hall, until: datetime) -> datetime:
    last = max((one.until for one in kept(place)), default=until - FIRST)
    return max(last, until - LONGEST)


def fitted(lines: Mapping[str, Sequence[str]]) -> list[Part]:
    """Parts that fit on one printed page together: each gets its first line before any gets its second.

    What is left out is counted, and stands in the log.
    """
    taken = dict.fromkeys(lines, 0)
    room = PAGE - sum(_HEAD for rows in lines.values() if rows)
    for at in range(MOST):
        for name, rows in lines.items():
            if at < len(rows) and taken[name] == at and (cost := _cost(rows[at])) <= room:
                taken[name], room = at + 1, room - cost
    return [
        Part(
            name=name, lines=tuple(_short(row) for row in rows[: taken[name]]), more=len(rows) - taken[name]
        )
        for name, rows in lines.items()
        if rows
    ]  # fmt: skip


def _short(line: str) -> str:
    plain = " ".join(line.split())
    return plain if len(plain) <= LONGEST_LINE else plain[: LONGEST_LINE - 2].rpartition(" ")[0] + " …"


def _cost(line: str) -> float:
    """How many millimetres of paper a line takes, where it may run over several."""
    return 1.2 + 3.6 * math.ceil(min(len(line), LONGEST_LINE) / 46)


def _facts(place: hall.Hall, since: datetime) -> Sequence[records.Fact]:
    return place.facts(kinds=day_lines.KINDS, since=since) if _has(place) else ()


def _notes(place: hall.Hall, until: datetime) -> Sequence[records.Fact]:
    return place.facts(kinds=["note"], since=until - NOTES_BACK) if _has(place) else ()


# -- signing ----------------------------------------------------------------------------------------------


def sign_over(place: hall.Hall, made: Draft, words: str, person: int | None) -> str:
    """Keep a hand-over with its text and the chain's head; its id."""
    if len(words) > WORDS:
        raise _refused("hand-over/too-long", f"The words are longer than {WORDS} signs.", "say it shorter")
    at = clock.now()
    details = {
        "what": "written", "head": made.head,
        "since": made.since.isoformat(), "until": made.until.isoformat(),
        "text": as_text(made.parts, words.strip()), "shift": made.shift,
    }  # fmt: skip
    fact = records.Fact(
        id=hall.new_id(), kind="hand-over", measured=at, entered=at, person=person,
        details={name: value for name, value in details.items() if value},
    )  # fmt: skip
    place.write([fact], person=person)
    return fact.id


def sign_read(place: hall.Hall, id: str, person: int | None) -> None:
    """Somebody of the next shift has read it and takes over.

    Raises
    ------
    mishaps.Refused
        Where there is none of that id, or whoever wrote it would sign it as read.
    """
    one = of(place, id)
    if person is not None and person == one.person:
        said = "Whoever signed it over does not sign it as read."
        raise _refused("hand-over/own", said, "the next shift signs it")
    at = clock.now()
    fact = records.Fact(
        id=hall.new_id(), kind="hand-over", measured=at, entered=at, person=person,
        details={"what": "read", "of": one.id},
    )  # fmt: skip
    place.write([fact], person=person)


def pin(place: hall.Hall, text: str, *, about: str, until: str, promised: bool, person: int | None) -> None:
    """A note pinned to a place, with an end; or a promise, due on that day.

    Raises
    ------
    mishaps.Refused
    """
    at = clock.now()
    said = " ".join(text.split())
    if not said or len(said) > 500:
        raise _refused(
            "hand-over/no-note", "The note is empty, or longer than 500 signs.", "say it in a line"
        )
    vessel = place.facility.place(about) if about else None
    if about and vessel is None:
        raise _refused(
            "workbench/unknown-place", f"'{about[:60]}' is not a place of this facility", "choose one"
        )
    try:
        end = datetime.fromisoformat(until.strip()).date()
    except ValueError:
        raise _refused("hand-over/no-day", "A pinned note has an end.", "give the day it ends") from None
    if end < at.astimezone(ZoneInfo(place.facility.timezone)).date():
        raise _refused("hand-over/no-day", "That day is past.", "give the day it ends")
    fact = records.Fact(
        id=hall.new_id(), kind="note", measured=at, entered=at, place=vessel.id if vessel else "",
        person=person, note=said, details={"pinned": True, "until": end.isoformat(), "promised": promised},
    )  # fmt: skip
    place.write([fact], person=person)


def _refused(code: str, text: str, hint: str) -> mishaps.Refused:
    return mishaps.Refused(findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint))


# -- earlier ones -----------------------------------------------------------------------------------------


def kept(place: hall.Hall) -> list[Kept]:
    """Every hand-over, newest first, each with who has read it."""
    facts = recent.facts(place, "hand-over")
    names = logging_book.people(place) if facts else {}
    read: dict[str, list[tuple[str, datetime]]] = {}
    for fact in facts:
        if fact.details.get("what") == "read":
            by = names.get(fact.person, "") if fact.person is not None else ""
            read.setdefault(str(fact.details.get("of", "")), []).append((by, fact.measured))
    found = [
        made for fact in facts
        if fact.details.get("what") == "written" and (made := _kept(fact, names, read)) is not None
    ]  # fmt: skip
    return sorted(found, key=lambda one: one.at, reverse=True)


def _kept(
    fact: records.Fact, names: Mapping[int, str], read: Mapping[str, Sequence[tuple[str, datetime]]]
) -> Kept | None:
    since, until = (notices.moment(fact.details.get(word)) for word in ("since", "until"))
    if since is None or until is None:
        return None
    parts, words = from_text(str(fact.details.get("text", "")))
    return Kept(
        id=fact.id, since=since, until=until, at=fact.measured, head=str(fact.details.get("head", "")),
        parts=parts, words=words, person=fact.person,
        by=names.get(fact.person, "") if fact.person is not None else "", read=read.get(fact.id, ()),
        shift=str(fact.details.get("shift", "")),
    )  # fmt: skip


def of(place: hall.Hall, id: str) -> Kept:
    """One hand-over by its id; refused where there is none."""
    found = [one for one in kept(place) if one.id == id]
    if not found:
        raise _refused("hand-over/unknown", "There is no hand-over of that id.", "look at the list")
    return found[0]


_HEADS = {name: name.capitalize() for name in PARTS}


def as_text(parts: Sequence[Part], words: str) -> str:
    r"""A hand-over as it is kept: a line ``Part (and n more):`` and its lines behind a dash; then the words.

    >>> as_text([Part(name="out", lines=("reef: 27 °C",), more=2)], "all well")
    'Out (and 2 more):\n- reef: 27 °C\n\nall well'
    """
    blocks = [
        "\n".join([
            f"{_HEADS[part.name]}{f' (and {part.more} more)' if part.more else ''}:",
            *(f"- {' '.join(line.split())}" for line in part.lines),
        ])
        for part in parts
    ]  # fmt: skip
    return "\n".join(blocks) + (f"\n\n{words}" if words else "")


def from_text(text: str) -> tuple[list[Part], str]:
    r"""The parts and the words of a kept text.

    >>> from_text('Out (and 2 more):\n- reef: 27 °C\n\nall well')[0][0].more
    2
    """
    body, _, words = text.partition("\n\n")
    parts: list[Part] = []
    for line in body.split("\n"):
        if line.startswith("- ") and parts:
            last = parts[-1]
            parts[-1] = Part(name=last.name, lines=(*last.lines, line[2:]), more=last.more)
            continue
        word, _, more = line.rstrip(":").partition(" (and ")
        if word.lower() in PARTS:
            parts.append(Part(name=word.lower(), lines=(), more=int(more.split()[0]) if more else 0))
    return (parts, words) if parts else ([], text.strip())


def concerns_of(place: hall.Hall) -> list[now.Concern]:
    """A hand-over that nobody of the next shift has read for hours."""
    last = next(iter(kept(place)), None)
    if last is None or last.read or clock.now() - last.at < states.NEAR * 2:
        return []
    return [
        now.Concern(
            level=findings.Level.WATCH, since=last.at, what="the hand-over is not read", key=last.id,
            why="nobody of the next shift has signed it", next="read it and sign it", code="hand-over/unread",
            href=f"/hand-over/{last.id}",
        )
    ]  # fmt: skip

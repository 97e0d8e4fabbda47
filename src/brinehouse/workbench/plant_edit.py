"""The plant edited by its people: a form's change checked, shown as a difference, dated, and written back.

A form carries what each of its boxes held when it was made. So a change that somebody else made meanwhile, by
a form or in a text editor, is seen: where it touches other values both stand, where it touches the same value
both are shown and a person decides. Nothing is written over unseen, and nothing is written into a file that
does not pass its own check.
"""

from __future__ import annotations

import dataclasses
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from brinehouse import findings, records
from brinehouse.facility import boxes, differing, editing, hidden, positions, reading, words
from brinehouse.logbook import kept
from brinehouse.workbench import clock, filing, hall, mishaps, plant_things, times, typed

BOX, WAS = "w.", "was."


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a form asks for: one thing of one table, with the boxes as sent and as they were.

    Attributes
    ----------
    key : str
        Its id; of a list its number, counted from nought; empty for the facility itself.
    what : str
        ``change``, ``add`` or ``remove``.
    since : str
        From when it holds, as typed; empty is from now on.
    made_from : str
        Digest of the file from which the difference was made that a person said yes to.
    """

    table: str
    key: str = ""
    what: str = "change"
    boxes: Mapping[str, str] = dataclasses.field(default_factory=dict[str, str])
    was: Mapping[str, str] = dataclasses.field(default_factory=dict[str, str])
    reason: str = ""
    since: str = ""
    made_from: str = ""

    @classmethod
    def read(cls, table: str, key: str, given: Mapping[str, str], what: str = "change") -> Asked:
        """From the boxes of a form."""
        return cls(
            table=table,
            key=key,
            what=what,
            boxes={name[len(BOX) :]: text.strip() for name, text in given.items() if name.startswith(BOX)},
            was={name[len(WAS) :]: text.strip() for name, text in given.items() if name.startswith(WAS)},
            reason=given.get("reason", "").strip(),
            since=given.get("since", "").strip(),
            made_from=given.get("made_from", ""),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """One value that two changed: what stands in the file now, and what was typed."""

    word: str
    was: str
    theirs: str
    mine: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What a change would do.

    Attributes
    ----------
    name : str
        The thing as a keeper knows it.
    lines, said : sequence
        The difference: line by line, and in words.
    findings : sequence of Finding
        What the checks say of the changed file and did not say before; `faults` are those of one box each.
    clashes : sequence of Clash
        Values that somebody else changed since the form was made.
    moved : bool
        Whether the file is another one than that from which the form, or the difference, was made.
    was : mapping
        What each box holds in the file now.
    since : datetime or None
        From when it would hold; None is from now on.
    written : str
        The id of the logbook's entry, once it is done.
    """

    asked: Asked
    name: str = ""
    lines: Sequence[differing.Line] = ()
    said: Sequence[str] = ()
    findings: Sequence[findings.Finding] = ()
    faults: Mapping[str, str] = dataclasses.field(default_factory=dict[str, str])
    clashes: Sequence[Clash] = ()
    moved: bool = False
    was: Mapping[str, str] = dataclasses.field(default_factory=dict[str, str])
    since: datetime | None = None
    digest: str = ""
    text: str = ""
    written: str = ""

    @property
    def stopped(self) -> bool:
        """Whether it cannot be written as it is."""
        return bool(self.clashes) or findings.worst(self.findings) is findings.Level.STOP

    @property
    def again(self) -> Asked:
        """The same change, as if its form had been made from the file as it is now."""
        if self.asked.what == "add":
            return self.asked
        table, asked = plant_things.table_of(self.asked.table), self.asked
        typed_anew = {
            word: text
            for word, text in asked.boxes.items()
            if word in table.words and not _same(table.words[word], text, asked.was.get(word, ""))
        }
        return dataclasses.replace(asked, was=self.was, boxes={**self.was, **typed_anew})

    @property
    def nothing(self) -> bool:
        """Whether nothing would change."""
        return not self.said and not self.lines


# -- looking ----------------------------------------------------------------------------------------------


def look(place: hall.Hall, asked: Asked) -> Looked:
    """What a change would do to the file as it is now: the difference, or what stands in its way."""
    return _look(place, asked, filing.read(place.file))


def _look(place: hall.Hall, asked: Asked, filed: filing.Filed) -> Looked:
    table = plant_things.table_of(asked.table)
    base = reading.read(filed.text, hall.FACILITY_FILE)
    if base.facility is None:
        return Looked(asked=asked, was=asked.was, findings=(_broken(), *base.findings))
    since, found = _since(asked, base.facility.timezone)
    raw = tomllib.loads(filed.text)
    if asked.what == "add":
        looked = _added(place, table, asked, filed, raw)
    else:
        looked = _changed(place, table, asked, filed, raw)
    if looked.text:
        fresh = _new_findings(base, looked)
        faults = _faults(fresh, table, looked, asked, raw)
        looked = dataclasses.replace(
            looked,
            findings=(*looked.findings, *fresh),
            faults=faults,
            lines=differing.lines(filed.text, looked.text),
            said=differing.said(filed.text, looked.text),
        )
    return dataclasses.replace(looked, findings=(*found, *looked.findings), since=since, digest=filed.digest)


def _changed(
    place: hall.Hall, table: words.Table, asked: Asked, filed: filing.Filed, raw: Mapping[str, Any]
) -> Looked:
    """A thing that is in the file, changed or taken out."""
    path = locate(table, raw, asked)
    if path is None:
        return Looked(asked=asked, was=asked.was, moved=True, findings=(plant_things.gone(table, asked.key),))
    entry = editing.at(raw, path)
    now = plant_things.shown(table, entry)
    name = plant_things.name_of(table, path, entry)
    moved = any(now.get(word, "") != asked.was.get(word, "") for word in (*now, *asked.was))
    if asked.what == "remove":
        found = _in_the_log(place, table, asked.key)
        text = "" if found else _tried(editing.remove, filed.text, path)
        return Looked(asked=asked, name=name, was=now, moved=moved, text=text, findings=found)
    wanted, clashes = merge(table, asked, now)
    text = _tried(editing.change, filed.text, path, wanted) if wanted else ""
    return Looked(asked=asked, name=name, was=now, moved=moved, clashes=clashes, text=text)


def _tried(work: Callable[..., str], *told: Any) -> str:
    try:
        return work(*told)
    except ValueError as fault:
        said = f"This cannot be written by a form: {fault}"
        hint = "change it in a text editor; the file is yours"
        raise mishaps.Refused(plant_things.stop("plant/not-written", said, hint)) from fault


def merge(table: words.Table, asked: Asked, now: Mapping[str, str]) -> tuple[dict[str, Any], list[Clash]]:
    """Values to be set, and those that somebody else set otherwise since the form was made."""
    wanted: dict[str, Any] = {}
    clashes: list[Clash] = []
    for word, mine in asked.boxes.items():
        known = table.words.get(word)
        was, theirs = asked.was.get(word, ""), now.get(word, "")
        if known is None or known.kind == "inner" or mine in (was, theirs):
            continue
        if _same(known, mine, was) or _same(known, mine, theirs):
            continue
        if theirs != was:
            clashes.append(Clash(word=word, was=was, theirs=theirs, mine=mine))
        else:
            wanted[word] = boxes.read(known, mine)
    return wanted, clashes


def _same(word: words.Word, one: str, other: str) -> bool:
    """Whether two texts of a box say the same, however their lines are ended."""
    return boxes.read(word, one) == boxes.read(word, other)


def _added(
    place: hall.Hall, table: words.Table, asked: Asked, filed: filing.Filed, raw: Mapping[str, Any]
) -> Looked:
    """A thing that is not in the file yet."""
    told = {
        word: value
        for word, text in asked.boxes.items()
        if word in table.words and (value := boxes.read(table.words[word], text)) is not None
    }
    if table.form == "list":
        path: positions.Path = (table.name, len(raw.get(table.name, ())))
    else:
        path = (table.name, asked.key)
    name = plant_things.name_of(table, path, told)
    found = _new_id(place, table, asked.key, raw) if table.form == "named" else ()
    text = "" if found else _tried(editing.add, filed.text, path, told)
    return Looked(
        asked=asked, name=name, text=text, findings=found, faults={"": found[0].text} if found else {}
    )


def _new_id(
    place: hall.Hall, table: words.Table, key: str, raw: Mapping[str, Any]
) -> tuple[findings.Finding, ...]:
    """Why an id cannot be that of a new thing; likeness to others is left to the checks."""
    if not key:
        said = f"the new {table.name} has no id"
        return (plant_things.stop("plant/no-id", said, "write the id that stands on its label", field="id"),)
    if key in raw.get(table.name, {}):
        said = f"{table.name} {hidden.visible(key)} is there already"
        return (
            plant_things.stop("plant/id-taken", said, "choose another id, or change that one", field="id"),
        )
    if _spoken_of(place, key):
        said = f"the log speaks of an earlier '{hidden.visible(key)}', which is no longer in the file"
        hint = "choose another id, so that old readings do not become those of a new thing"
        return (plant_things.stop("plant/id-used", said, hint, field="id"),)
    return ()


def locate(table: words.Table, raw: Mapping[str, Any], asked: Asked) -> positions.Path | None:
    """Where the thing of a form stands now; a thing of a list is known by what it said, not by its number."""
    if table.form != "list":
        path = plant_things.path_of(table, asked.key)
        found = plant_things.found_at(raw, path)
        return path if isinstance(found, Mapping) else None
    texts = [plant_things.shown(table, entry) for _, entry in plant_things.entries(table, raw)]
    was = {word: text for word, text in asked.was.items() if text}
    number = plant_things.number_of(asked.key)
    exact = [index for index, one in enumerate(texts) if one == was]
    if exact:
        return table.name, number if number in exact else exact[0]
    names = differing.key_words(table.name)
    alike = [
        index
        for index, one in enumerate(texts)
        if all(one.get(word, "") == was.get(word, "") for word in names)
    ]
    if len(alike) == 1 or number in alike:
        return table.name, number if number in alike else alike[0]
    return None


# -- writing ----------------------------------------------------------------------------------------------


def write(place: hall.Hall, asked: Asked, person: int | None = None) -> Looked:
    """Write a change into file and logbook, if the file is still the one its difference was made from.

    Returns
    -------
    Looked
        With `written` where it was done; else to be looked at again, or with what stands in its way.
    """
    with filing.held(place.folder):
        filed = filing.read(place.file)
        looked = _look(place, asked, filed)
        if looked.stopped or looked.nothing:
            return looked
        if asked.made_from != filed.digest:
            return dataclasses.replace(looked, moved=True)
        if not asked.reason:
            return dataclasses.replace(looked, findings=(*looked.findings, _no_reason()))
        dated, found = _dated(place, asked, filed, looked)
        if found:
            return dataclasses.replace(looked, findings=(*looked.findings, *found))
        return _put(place, looked, filed, dated, person)


def _put(
    place: hall.Hall,
    looked: Looked,
    filed: filing.Filed,
    dated: Sequence[tuple[datetime, str]],
    person: int | None,
) -> Looked:
    try:
        digest = filing.replace(place.file, filed.bytes_of(looked.text), filed.digest)
    except filing.Moved:  # in this very moment
        return dataclasses.replace(_look(place, looked.asked, filing.read(place.file)), moved=True)
    event = _event(place, looked, dated, person)
    try:
        for since, text in dated:
            place.keep_text(text, since=since, person=person)
        place.write([event], person=person)
    except (kept.Refused, mishaps.Refused, OSError):
        filing.replace(place.file, filed.bytes_of(filed.text), digest)  # what is not in the log is not so
        raise
    return dataclasses.replace(looked, written=event.id)


def _event(
    place: hall.Hall, looked: Looked, dated: Sequence[tuple[datetime, str]], person: int | None
) -> records.Fact:
    now, asked = clock.now(), looked.asked
    where = asked.key if asked.key in place.facility.vessels else ""
    return records.Fact(
        id=hall.new_id(),
        kind="event",
        measured=min(dated[0][0], now),
        entered=now,
        place=where,
        person=person,
        note=asked.reason,
        details={
            "what": f"plant: {'; '.join(looked.said)}",
            "plant": asked.table,
            "of": asked.key,
            "facility": kept_digest(dated[-1][1]),
        },
    )


def kept_digest(text: str) -> str:
    """By what the logbook knows a facility file."""
    import hashlib

    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _dated(
    place: hall.Hall, asked: Asked, filed: filing.Filed, looked: Looked
) -> tuple[list[tuple[datetime, str]], list[findings.Finding]]:
    """The file as it shall hold from each time on; a past change is made in every version since then."""
    now = clock.now()
    if place.book.facility_at(now) != filed.kept:
        place.keep_text(filed.kept, since=now)  # as a text editor left it
    mark = filed.kept[: len(filed.kept) - len(filed.text)]
    if looked.since is None:
        return [(now, mark + looked.text)], []
    before = place.book.facility_at(looked.since)
    if before is None:
        first = place.book.facility_texts()[0].since
        return [], [_too_early("the log knows no plant before then", first, place)]
    later = {one.since: one.text for one in place.book.facility_texts() if one.since > looked.since}
    dated: list[tuple[datetime, str]] = []
    for since, text in [(looked.since, before), *later.items()]:
        changed = _in_version(text, asked)
        if changed is None:
            bound = min((other for other in later if other > since), default=since)
            return [], [_too_early("the plant was otherwise before then", bound, place)]
        dated.append((since, changed))
    return dated, []


def _in_version(text: str, asked: Asked) -> str | None:
    """The same change in an earlier file; None where that file says otherwise of the very same value."""
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    bare, table = text.removeprefix("\ufeff"), plant_things.table_of(asked.table)
    raw = tomllib.loads(bare)
    try:
        if asked.what == "add":
            told = {word: boxes.read(table.words[word], one) for word, one in asked.boxes.items() if one}
            last = len(raw.get(table.name, ())) if table.form == "list" else asked.key
            changed = editing.add(bare, (table.name, last), told)
        else:
            path = locate(table, raw, asked)
            if path is None:
                return None
            if asked.what == "remove":
                changed = editing.remove(bare, path)
            else:
                wanted, clashes = merge(table, asked, plant_things.shown(table, editing.at(raw, path)))
                if clashes:
                    return None
                changed = editing.change(bare, path, wanted) if wanted else bare
    except (ValueError, KeyError):
        return None
    return mark + changed if reading.read(changed).facility is not None else None


# -- what stands in the way ------------------------------------------------------------------------------


def _new_findings(base: reading.Checked, looked: Looked) -> list[findings.Finding]:
    """What the checks say of the changed file and did not say of it as it is."""
    known = {(one.code, one.spot.field, one.text) for one in base.findings}
    checked = reading.read(looked.text, hall.FACILITY_FILE)
    return [one for one in checked.findings if (one.code, one.spot.field, one.text) not in known]


def _faults(
    found: Sequence[findings.Finding],
    table: words.Table,
    looked: Looked,
    asked: Asked,
    raw: Mapping[str, Any],
) -> dict[str, str]:
    """The findings that belong to one box: by the path of the thing."""
    path = (
        (table.name, len(raw.get(table.name, ()))) if asked.what == "add" and table.form == "list" else None
    )
    path = path or (
        locate(table, raw, asked) if asked.what != "add" else plant_things.path_of(table, asked.key)
    )
    start = positions.written(path or ())
    faults = dict(looked.faults)
    for one in found:
        inside = one.spot.field.removeprefix(f"{start}.") if one.spot.field.startswith(f"{start}.") else ""
        word = next((word for word in table.words if inside == word or inside.startswith(f"{word}[")), "")
        if one.level is findings.Level.STOP and word:
            faults.setdefault(word, one.text)
    return faults


def _since(asked: Asked, zone: str) -> tuple[datetime | None, tuple[findings.Finding, ...]]:
    """From when it holds; None is from now on."""
    if not asked.since:
        return None, ()
    try:
        at = times.local(asked.since, zone)
    except mishaps.Refused as refusal:
        return None, refusal.findings
    ahead = typed.future(at, findings.Spot(field="since"))
    return (None, ahead) if ahead else (min(at, clock.now()), ())


def _spoken_of(place: hall.Hall, key: str) -> bool:
    """Whether the log holds anything of a thing: readings there or with it, facts that name it."""
    if not hall.Hall.has_book(place.folder):
        return False
    if place.history(places=[key], limit=1, superseded=True):
        return True
    if place.history(instruments=[key], limit=1, superseded=True):
        return True
    point = place.facility.points.get(key)
    at = [typed.standing(place.facility, key)] if point else None
    if point and key in place.readings(places=at, superseded=True)["point_names"]:
        return True
    return any(
        fact.place == key or key in [one for one in fact.details.values() if isinstance(one, str)]
        for fact in place.facts(superseded=True)
        if not (fact.kind == "event" and fact.details.get("plant"))
    )


def _in_the_log(place: hall.Hall, table: words.Table, key: str) -> tuple[findings.Finding, ...]:
    """Why a thing is not taken out: what was written of it would hang in the air."""
    if table.form == "single":
        return (plant_things.stop("plant/not-removed", "the facility itself cannot be taken out", ""),)
    if table.form != "named" or not _spoken_of(place, key):
        return ()
    said = (
        f"{table.name} {hidden.visible(key)} has entries in the log, which would hang in the air without it"
    )
    able = plant_things.RETIRE in table.words
    hint = "retire it: it stays readable and is offered for nothing new" if able else "leave it in the file"
    return (plant_things.stop("plant/in-the-log", said, hint),)


def _broken() -> findings.Finding:
    said = "The facility file on disk does not pass its check, so nothing is written into it"
    return plant_things.stop(
        "plant/file-broken", said, "mend it in the text editor where it is open; this form stays as typed"
    )


def _no_reason() -> findings.Finding:
    said = "A change of the plant is kept with its reason, and none is written"
    return plant_things.stop("plant/no-reason", said, "write in a few words why", field="reason")


def _too_early(why: str, bound: datetime, place: hall.Hall) -> findings.Finding:
    from zoneinfo import ZoneInfo

    here = bound.astimezone(ZoneInfo(place.facility.timezone))
    said = f"This cannot hold from that time on: {why}"
    return plant_things.stop(
        "plant/too-early", said, f"it can hold from {here:%Y-%m-%d %H:%M} on", field="since"
    )

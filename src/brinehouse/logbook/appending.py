"""Adding facts: what may be added, what is known already, what is kept aside."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import islice
from typing import Any

import sqlalchemy as sa

from brinehouse import findings, records
from brinehouse.logbook import canon, chain, kept, queries, tables

CHUNK = 2_000
LOOKUP = 500

_entry = tables.entry
_known = sa.select(_entry.c.id, _entry.c.digest, _entry.c.seq).where(
    _entry.c.id.in_(sa.bindparam("ids", expanding=True))
)
_known_one = sa.select(_entry.c.id, _entry.c.digest, _entry.c.seq).where(_entry.c.id == sa.bindparam("id"))
_measured = sa.select(_entry.c.measured).where(_entry.c.id == sa.bindparam("id"))
_people = sa.select(tables.person.c.number)
_content = sa.select(*(_entry.c[name] for name in canon.CONTENT)).where(_entry.c.id == sa.bindparam("target"))
_replaced = sa.select(_entry.c.id).where(_entry.c.supersedes == sa.bindparam("target")).limit(1)
_taken_back = sa.select(_entry.c.id).where(_entry.c.target == sa.bindparam("target"))
_import = sa.select(tables.import_file.c.id).where(tables.import_file.c.id == sa.bindparam("target"))


@dataclass(frozen=True, slots=True)
class Ready:
    """A fact in its written form."""

    fact: records.Reading | records.Fact
    content: canon.Content
    header: canon.Header
    text: str
    digest: str

    def row(self) -> chain.Row:
        """What `chain.Chain.add` takes."""
        return (self.content, self.header, self.text, self.digest)


def append(
    end: chain.Chain,
    facts: Iterable[records.Reading | records.Fact],
    person: int | None = None,
    *,
    steady: timedelta = timedelta(0),
) -> list[kept.Outcome]:
    """Add facts to the chain; all or, by an exception, none.

    One whose id is stored already, at a time no further off than `steady`, keeps the stored time.
    """
    outcomes: list[kept.Outcome] = []
    if steady:
        facts = _as_at_first(end.connection, list(facts), steady)
    _append_all(end, facts, person, outcomes)
    return outcomes


def tally(
    end: chain.Chain, facts: Iterable[records.Reading | records.Fact], person: int | None = None
) -> kept.Tally:
    """As `append`, with the outcomes only counted: memory stays flat for a million facts."""
    outcomes = kept.Tally()
    _append_all(end, facts, person, outcomes)
    return outcomes


def _append_all(
    end: chain.Chain,
    facts: Iterable[records.Reading | records.Fact],
    person: int | None,
    outcomes: list[kept.Outcome] | kept.Tally,
) -> None:
    if end.people is None:
        end.people = {row[0] for row in end.connection.execute(_people)}
    people = end.people
    todo = iter(facts)
    while chunk := list(islice(todo, CHUNK)):
        ready = [_prepare(fact, person, people, len(outcomes) + i + 1) for i, fact in enumerate(chunk)]
        _append_chunk(end, ready, outcomes)


def _append_chunk(
    end: chain.Chain, ready: Sequence[Ready], outcomes: list[kept.Outcome] | kept.Tally
) -> None:
    known = _look_up(end.connection, [item.fact.id for item in ready])
    rows: list[chain.Row] = []
    for item in ready:
        there = known.get(item.fact.id)
        if there is not None and there[0] == item.digest:
            outcomes.append(kept.Outcome(item.fact.id, "same", there[1]))
            continue
        if there is not None or item.fact.supersedes or item.fact.reason or _withdraws(item.fact):
            end.add(rows)  # what these look at must be in the store
            rows = []
        if there is not None:
            _put_aside(end, item)
            outcomes.append(kept.Outcome(item.fact.id, "conflict", there[1]))
            continue
        _check_links(end.connection, item, len(outcomes) + 1)
        rows.append(item.row())
        known[item.fact.id] = (item.digest, end.seq + len(rows))
        outcomes.append(kept.Outcome(item.fact.id, "new", end.seq + len(rows)))
    end.add(rows)


def _look_up(connection: sa.Connection, ids: Sequence[str]) -> dict[str, tuple[str, int]]:
    found: dict[str, tuple[str, int]] = {}
    if len(ids) == 1:
        row = connection.execute(_known_one, {"id": ids[0]}).first()
        return {} if row is None else {row[0]: (row[1], row[2])}
    for start in range(0, len(ids), LOOKUP):
        for row in connection.execute(_known, {"ids": ids[start : start + LOOKUP]}):
            found[row[0]] = (row[1], row[2])
    return found


def _as_at_first(
    connection: sa.Connection, facts: list[records.Reading | records.Fact], steady: timedelta
) -> list[records.Reading | records.Fact]:
    """The facts, each that is known already at the time that it got at first."""
    for number, fact in enumerate(facts):
        before = connection.execute(_measured, {"id": fact.id}).scalar() if fact.id else None
        if before is not None and abs(canon.moment(before) - fact.measured) <= steady:
            facts[number] = dataclasses.replace(fact, measured=canon.moment(before))
    return facts


def _withdraws(fact: records.Reading | records.Fact) -> bool:
    return isinstance(fact, records.Fact) and fact.kind == "withdrawal"


def _prepare(fact: records.Reading | records.Fact, person: int | None, people: set[int], item: int) -> Ready:
    """The written form of a fact, or a refusal that names it."""
    try:
        if not fact.id:
            raise kept.refused("logbook/no-id", "a fact has no id", "make its id where it was typed")
        if isinstance(fact, records.Fact) and fact.kind not in queries.FACTS:
            raise kept.refused(
                "logbook/unknown-kind",
                f"'{fact.kind}' is not a kind of fact that can be added",
                kind=fact.kind,
            )
        content = canon.content_of(fact, person)
        header = canon.header_of(fact, person)
        for who in (content[3], header[1]):
            if who is not None and who not in people:
                raise unknown_person(who)
        text = canon.written(content)
        return Ready(fact, content, header, text, canon.digest_of(text))
    except kept.Refused as refusal:
        raise _at(refusal, item, fact.id) from None


def _at(refusal: kept.Refused, item: int, thing: str) -> kept.Refused:
    """The refusal, with the place in the batch."""
    said = refusal.finding
    return kept.Refused(
        findings.Finding(
            code=said.code,
            level=said.level,
            text=said.text,
            hint=said.hint,
            spot=findings.Spot(item=item, thing=thing),
            data=said.data,
        )
    )


def _check_links(connection: sa.Connection, item: Ready, place: int) -> None:
    """A correction must name what it replaces and why; a withdrawal what it takes back and why."""
    fact = item.fact
    try:
        if fact.supersedes:
            _check_supersedes(connection, fact)
        if _withdraws(fact):
            target = item.content[canon.CONTENT.index("target")]
            check_withdrawal(connection, target or "", fact.reason)
    except kept.Refused as refusal:
        raise _at(refusal, place, fact.id) from None


def _no_reason(what: str) -> kept.Refused:
    return kept.refused("logbook/no-reason", f"{what} without a reason", "say why in a few words")


def _check_supersedes(connection: sa.Connection, fact: records.Reading | records.Fact) -> None:
    if not fact.reason.strip():
        raise _no_reason("a correction")
    old = connection.execute(_content, {"target": fact.supersedes}).mappings().first()
    if old is None or old["kind"] in tables.INTERNAL:
        raise unknown(fact.supersedes)
    kind = "reading" if isinstance(fact, records.Reading) else fact.kind
    if old["kind"] != kind or kind == "withdrawal":
        raise kept.refused(
            "logbook/other-kind",
            f"a {kind} cannot replace a {old['kind']}",
            "withdraw the old one and write the new one",
            old=old["kind"],
            new=kind,
        )
    newer = connection.execute(_replaced, {"target": fact.supersedes}).scalar()
    if newer is not None:
        raise already_superseded(fact.supersedes, newer)
    if is_withdrawn(connection, fact.supersedes, old["import_id"]):
        raise kept.refused(
            "logbook/already-withdrawn",
            f"{fact.supersedes} was taken back, so there is nothing to correct",
            "write it as a new fact",
            id=fact.supersedes,
        )


def unknown_person(number: int) -> kept.Refused:
    """Refusal of a person's number that nobody has."""
    return kept.refused(
        "logbook/unknown-person", f"there is no person number {number}", "add the person first", person=number
    )


def unknown(id: str) -> kept.Refused:
    """Refusal of an id that is not in the logbook."""
    return kept.refused(
        "logbook/unknown-entry", f"there is no entry '{id}'", "give the id of an entry of this logbook", id=id
    )


def already_superseded(id: str, by: str) -> kept.Refused:
    """Refusal to replace what was replaced already."""
    return kept.refused(
        "logbook/already-superseded",
        f"{id} was replaced already, by {by}",
        f"look at {by} and correct that one",
        id=id,
        by=by,
    )


def is_withdrawn(connection: sa.Connection, *targets: str | None) -> bool:
    """Whether any of these (an entry's id, its import's id) is taken back, and not brought back since."""
    for target in targets:
        if target:
            for (withdrawal,) in connection.execute(_taken_back, {"target": target}).all():
                if connection.execute(_taken_back, {"target": withdrawal}).first() is None:
                    return True
    return False


def check_withdrawal(connection: sa.Connection, target: str, reason: str) -> None:
    """Whether this may be taken back: a fact, an import, or a withdrawal (which brings its target back)."""
    if not reason.strip():
        raise _no_reason("a withdrawal")
    old: Any = connection.execute(_content, {"target": target}).mappings().first()
    if old is None or old["kind"] in tables.INTERNAL:
        if connection.execute(_import, {"target": target}).first() is None:
            raise unknown(target)
    else:
        newer = connection.execute(_replaced, {"target": target}).scalar()
        if newer is not None:
            raise already_superseded(target, newer)
        if old["kind"] == "withdrawal":
            _check_second(connection, target, old["target"])
            return
    if is_withdrawn(connection, target):
        raise kept.refused("logbook/already-withdrawn", f"{target} was taken back already", id=target)


def _check_second(connection: sa.Connection, withdrawal: str, target: str) -> None:
    """A withdrawal may be taken back once, and not the taking back of one."""
    first = connection.execute(_content, {"target": target}).mappings().first()
    if (first is not None and first["kind"] == "withdrawal") or is_withdrawn(connection, withdrawal):
        raise kept.refused(
            "logbook/already-withdrawn",
            f"{withdrawal} was taken back already, or itself brought something back",
            "withdraw the fact or the import again",
            id=withdrawal,
        )


def _put_aside(end: chain.Chain, item: Ready) -> None:
    """Keep what was offered under an id that holds something else; once, however often it is sent."""
    name = "aside-" + canon.digest_of(f"{item.fact.id} {item.digest}")[:32]
    if _look_up(end.connection, [name]):
        return
    stays = end.connection.execute(_content, {"target": item.fact.id}).one()
    keep_beside(
        end,
        "aside",
        name,
        item.header[0],
        item.header[1],
        {"id": item.fact.id, "kept": canon.written(tuple(stays)), "offered": item.text},
    )


def keep_beside(
    end: chain.Chain,
    kind: str,
    id: str,
    at: int,
    person: int | None,
    columns: dict[str, Any],
    content: bytes | None = None,
) -> int:
    """Keep a row of a side table, and an entry in the chain that holds the row's digest."""
    table = tables.SIDE[kind]
    digest = canon.side_digest([columns[c.name] for c in table.columns if c.name in columns])
    seq = end.add_internal(canon.internal(kind, id, at, person, {"digest": digest}), at)
    stored = {**columns, "seq": seq} | ({} if content is None else {"content": content})
    end.connection.execute(sa.insert(table), stored)
    return seq


def corrected(
    old: records.Reading | records.Fact, reason: str, entered: datetime, changes: Mapping[str, Any]
) -> records.Reading | records.Fact:
    """The next version of a fact, under an id made from its content, so that sent twice it is the same."""
    wanted = dict(changes)
    if "taken_by" in wanted:
        wanted["person"] = wanted.pop("taken_by")
    names = {field.name for field in dataclasses.fields(old)} - {
        "id",
        "kind",
        "entered",
        "supersedes",
        "reason",
    }
    strange = sorted(set(wanted) - names)
    if strange:
        raise kept.refused(
            "logbook/unknown-field",
            f"'{strange[0]}' is not something that can be corrected",
            f"one of {sorted(names)}",
        )
    if all(getattr(old, name) == value for name, value in wanted.items()):
        raise kept.refused(
            "logbook/nothing-changed", "the correction changes nothing", "say what is different"
        )
    if isinstance(old, records.Reading) and "value" in wanted:
        unit = wanted.get("unit", old.unit)
        wanted.setdefault("text", "" if wanted["value"] is None else f"{wanted['value']} {unit}".strip())
        wanted.setdefault("missing", "" if wanted["value"] is not None else old.missing)
    new = dataclasses.replace(old, **wanted, supersedes=old.id, reason=reason, entered=entered)
    name = canon.digest_of(canon.written(canon.content_of(new)))[:32]
    return dataclasses.replace(new, id=name)

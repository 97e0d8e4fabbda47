"""What is kept beside the entries: people, imported files, facility files, answers about a source."""

from __future__ import annotations

import zlib
from collections.abc import Iterable
from datetime import datetime

import sqlalchemy as sa

from brinehouse import records
from brinehouse.logbook import appending, canon, chain, house, kept, queries, tables

_entry = tables.entry
_person = tables.person
_import = tables.import_file
_facility = tables.facility_text
_answer = tables.answer_kept
_aside = tables.aside


# People --------------------------------------------------------------------------------------------------


def people(connection: sa.Connection) -> list[kept.Person]:
    """Everyone, by number."""
    query = sa.select(_person.c.number, _person.c.name, _person.c.blanked).order_by(_person.c.number)
    return [kept.Person(row[0], row[1], bool(row[2])) for row in connection.execute(query)]


def add_person(end: chain.Chain, name: str) -> int:
    """The next free number for a name; a name that stands already keeps its number."""
    name = name.strip()
    if not name:
        raise kept.refused(
            "logbook/no-name", "a person has no name", "give the name as the rounds sheet shows it"
        )
    connection = end.connection
    there = connection.execute(
        sa.select(_person.c.number).where(_person.c.name == name, _person.c.blanked.is_(False))
    ).scalar()
    if there is not None:
        return there
    number = (connection.execute(sa.select(sa.func.max(_person.c.number))).scalar() or 0) + 1
    connection.execute(sa.insert(_person), {"number": number, "name": name})
    end.people = None
    return number


def blank_person(end: chain.Chain, number: int, reason: str, person: int | None, at: datetime) -> None:
    """Take a person's name out; the number stays on every row, and the chain notes that it was done."""
    connection = end.connection
    if connection.execute(sa.select(_person.c.number).where(_person.c.number == number)).first() is None:
        raise appending.unknown_person(number)
    if not reason.strip():
        raise kept.refused(
            "logbook/no-reason", "a name is blanked without a reason", "say why in a few words"
        )
    house.forget(connection, number)
    connection.execute(sa.update(_person).where(_person.c.number == number).values(name="", blanked=True))
    ticks = canon.microseconds(at)
    name = f"person-{number}-blanked-{end.seq + 1}"
    end.add_internal(canon.internal("person-blanked", name, ticks, person, {"number": number}, reason), ticks)


# Imports -------------------------------------------------------------------------------------------------


def keep_import(
    end: chain.Chain,
    id: str,
    name: str,
    content: bytes,
    facts: Iterable[records.Reading | records.Fact],
    person: int | None,
    at: datetime,
) -> list[kept.Outcome]:
    """A file and its rows in one go; the same file under the same id adds nothing."""
    there = _import_there(end, id, content)
    outcomes = appending.append(end, facts, person)
    if not there:
        rows = sum(outcome.state == "new" for outcome in outcomes)
        _keep_file(end, id, name, content, rows, person, at)
    return outcomes


def take_import(
    end: chain.Chain,
    id: str,
    name: str,
    content: bytes,
    facts: Iterable[records.Reading | records.Fact],
    person: int | None,
    at: datetime,
) -> kept.Tally:
    """As `keep_import`, with the outcomes only counted."""
    there = _import_there(end, id, content)
    outcomes = appending.tally(end, facts, person)
    if not there:
        _keep_file(end, id, name, content, outcomes.counts["new"], person, at)
    return outcomes


def _import_there(end: chain.Chain, id: str, content: bytes) -> bool:
    """Whether this file was taken in under this id; refused where another was."""
    if not id or ":" in id:
        raise kept.refused("logbook/no-id", f"'{id}' cannot name an import", "a name without ':'")
    sha256 = canon.digest_of_bytes(content)
    there = end.connection.execute(sa.select(_import.c.sha256).where(_import.c.id == id)).scalar()
    if there is not None and there != sha256:
        raise kept.refused(
            "logbook/other-file",
            f"another file was taken in as '{id}'",
            "take it in under an id of its own",
            id=id,
        )
    return there is not None


def _keep_file(
    end: chain.Chain, id: str, name: str, content: bytes, rows: int, person: int | None, at: datetime
) -> None:
    ticks = canon.microseconds(at)
    columns = {
        "id": id, "name": name, "sha256": canon.digest_of_bytes(content), "size": len(content),
        "rows": rows, "person": person, "at": ticks,
    }  # fmt: skip
    appending.keep_beside(
        end, "import-file", f"import-{id}", ticks, person, columns, zlib.compress(content, 1)
    )


def imports(connection: sa.Connection) -> list[kept.ImportFile]:
    """Every file taken in, oldest first."""
    c = _import.c
    query = sa.select(c.id, c.name, c.sha256, c.size, c.rows, c.person, c.at).order_by(c.seq)
    return [
        kept.ImportFile(
            id=row[0], name=row[1], sha256=row[2], size=row[3], rows=row[4], person=row[5],
            at=canon.moment(row[6]), withdrawn=appending.is_withdrawn(connection, row[0]),
        )
        for row in connection.execute(query).all()
    ]  # fmt: skip


def import_content(connection: sa.Connection, id: str) -> bytes:
    """The file as it came."""
    content = connection.execute(sa.select(_import.c.content).where(_import.c.id == id)).scalar()
    if content is None:
        raise appending.unknown(id)
    return zlib.decompress(content)


# The facility file ---------------------------------------------------------------------------------------


def keep_facility(end: chain.Chain, text: str, since: datetime, person: int | None, at: datetime) -> bool:
    """Keep an accepted facility file and from when it holds; False where it is the one that holds."""
    digest = canon.digest_of(text)
    start = canon.microseconds(since)
    holds = end.connection.execute(
        sa.select(_facility.c.digest)
        .where(_facility.c.since <= start)
        .order_by(_facility.c.since.desc(), _facility.c.seq.desc())
        .limit(1)
    ).scalar()
    if holds == digest:
        return False
    ticks = canon.microseconds(at)
    columns = {"since": start, "digest": digest, "text": text, "person": person, "at": ticks}
    appending.keep_beside(end, "facility-text", f"facility-{end.seq + 1}", ticks, person, columns)
    return True


def facility_texts(connection: sa.Connection, since: datetime | None = None) -> list[kept.FacilityText]:
    """Every facility file kept, or those from a time on, by the time from which each holds."""
    c = _facility.c
    query = sa.select(c.since, c.digest, c.text, c.person, c.at).order_by(c.since, c.seq)
    if since is not None:
        query = query.where(c.since >= canon.microseconds(since))
    return [
        kept.FacilityText(
            since=canon.moment(row[0]), digest=row[1], text=row[2], person=row[3], at=canon.moment(row[4])
        )
        for row in connection.execute(query)
    ]


def facility_at(connection: sa.Connection, time: datetime | None) -> str | None:
    """The facility file that held at a time (the newest for None), or None before the first."""
    c = _facility.c
    query = sa.select(c.text).order_by(c.since.desc(), c.seq.desc()).limit(1)
    if time is not None:
        query = query.where(c.since <= canon.microseconds(time))
    return connection.execute(query).scalar()


# Answers about a source ----------------------------------------------------------------------------------


def remember(
    end: chain.Chain, source: str, question: str, answer: str, person: int | None, at: datetime | None
) -> None:
    """Keep the answer to a question about a source of files; the newest answer counts."""
    if remembered(end.connection, source).get(question) == answer:
        return
    ticks = None if at is None else canon.microseconds(at)
    columns = {"source": source, "question": question, "answer": answer, "person": person, "at": ticks}
    # without a time of its own the entry takes that of the one before: it is not older than that
    when = ticks if ticks is not None else _last_entered(end.connection)
    appending.keep_beside(end, "answer", f"answer-{end.seq + 1}", when, person, columns)


def _last_entered(connection: sa.Connection) -> int:
    query = sa.select(_entry.c.entered).order_by(_entry.c.seq.desc()).limit(1)
    return connection.execute(query).scalar() or 0


def remembered(connection: sa.Connection, source: str) -> dict[str, str]:
    """The newest answer to each question about a source."""
    c = _answer.c
    query = sa.select(c.question, c.answer).where(c.source == source).order_by(c.seq)
    return {row[0]: row[1] for row in connection.execute(query)}


# Conflicts -----------------------------------------------------------------------------------------------


def asides(connection: sa.Connection) -> list[kept.Aside]:
    """What was offered under an id that holds something else, oldest first."""
    query = sa.select(_aside.c.seq, _aside.c.id, _aside.c.offered).order_by(_aside.c.seq)
    found: list[kept.Aside] = []
    for seq, name, offered in connection.execute(query).all():
        row = queries.by_id(connection, name)
        found.append(
            kept.Aside(
                seq=seq,
                id=name,
                kept=None if row is None else canon.record(row),
                offered=canon.read_content(offered),
            )
        )
    return found

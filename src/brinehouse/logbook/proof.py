"""Walking the chain: whether every entry is as it was written, in its place, up to the end."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa
from sqlalchemy import exc

from brinehouse import findings
from brinehouse.logbook import canon, chain, database, kept, remote, tables

CHUNK = 5_000
ENOUGH = 20
PREFIX = 12

_entry = tables.entry
_FIRST_CONTENT = canon.COLUMNS.index("id")
_DETAILS = canon.COLUMNS.index("details")
_HEAD = re.compile(r"(\d+)\s*[:\s]\s*([0-9a-f]{12,64})")


def verify(engine: sa.Engine, against: chain.Head | str | None = None) -> list[findings.Finding]:
    """What is not as it was written, first break first; empty when all is well."""
    printed = _printed(against)
    found: list[findings.Finding] = []
    try:
        walk = Walk(printed)
        for row in _rows(engine):
            found += walk.see(row)
            if len(found) >= ENOUGH:
                break
        else:
            found += walk.end()
            with engine.connect() as connection, connection.begin():
                found += _beside(connection)
        with engine.connect() as connection, connection.begin():
            found += integrity(connection)
    except (exc.DatabaseError, zlib.error) as error:
        away = engine.dialect.name != "sqlite" and isinstance(error, exc.OperationalError)
        found.append(remote.away(error, "of the logbook") if away else database.unreadable(error))
    return found[:ENOUGH]


def _printed(against: chain.Head | str | None) -> chain.Head | None:
    if against is None:
        return None
    if isinstance(against, str):
        match = _HEAD.fullmatch(against.strip().lower())
        if match is None:
            raise kept.refused(
                "logbook/not-a-head",
                f"'{against}' is not a head: it has a number and at least {PREFIX} digits 0-9, a-f",
                "type it as printed on the hand-over, e.g. 1204:9f2c51d0a7be",
            )
        return int(match[1]), match[2]
    return against


def _rows(engine: sa.Engine) -> Iterator[Any]:
    """Every entry there is by now, looked up a chunk at a time.

    No transaction is open in between: SQLite's log grows for as long as somebody looks at one moment, and
    what was written never changes, so the chunks are of one moment up to the head all the same.
    """
    query = (
        sa.select(*(_entry.c[name] for name in canon.COLUMNS))
        .where(_entry.c.seq > sa.bindparam("last"), _entry.c.seq <= sa.bindparam("most"))
        .order_by(_entry.c.seq)
        .limit(CHUNK)
    )
    ends = sa.select(sa.func.min(_entry.c.seq), sa.func.max(_entry.c.seq))
    with engine.connect() as connection, connection.begin():
        lowest, most = connection.execute(ends).one()
    last = min(0, lowest - 1) if lowest is not None else 0
    while most is not None and last < most:
        with engine.connect() as connection, connection.begin():
            block = connection.execute(query, {"last": last, "most": most}).all()
        if not block:
            return
        yield from block
        last = block[-1][0]


class Walk:
    """The state of a walk along the chain."""

    def __init__(self, printed: chain.Head | None = None) -> None:
        self.seq = 0
        self.hash = canon.ZERO
        self.printed = printed
        self.met = printed is None or printed[0] == 0

    def see(self, row: Any) -> list[findings.Finding]:
        """Check one entry against the one before."""
        found: list[findings.Finding] = []
        seq, entered, by, marks, digest = row[:5]
        prev, own = row[-2:]
        gap = seq != self.seq + 1
        if gap:
            found.append(_missing(self.seq + 1, seq - 1))
        try:
            text = canon.written(row[_FIRST_CONTENT:-2])
            same = canon.digest_of(text) == digest
            tied = canon.link(prev, seq, (entered, by, marks), digest, text) == own
        except (kept.Refused, ValueError):
            same = tied = False
        if not same or not tied:
            found.append(_changed(seq))
        elif prev != self.hash and not gap:
            found.append(_broken(seq))
        if self.printed is not None and seq == self.printed[0]:
            self.met = True
            if not own.startswith(self.printed[1]):
                found.append(_other_head(seq))
        self.seq, self.hash = seq, own
        return found

    def end(self) -> list[findings.Finding]:
        """Check that the chain still reaches the printed head."""
        if self.met or self.printed is None or self.seq >= self.printed[0]:
            return []
        return [_cut_off(self.seq, self.printed[0])]


def _say(code: str, text: str, hint: str, **data: Any) -> findings.Finding:
    return kept.stop(code, text, hint, **data)


_KEEP = "keep this folder as it is, and compare with the last backup and the heads printed on hand-overs"


def _missing(first: int, last: int) -> findings.Finding:
    what = f"entry {first} is" if first == last else f"entries {first} to {last} are"
    return _say("logbook/entry-missing", f"{what} missing from the chain", _KEEP, seq=first, last=last)


def _changed(seq: int) -> findings.Finding:
    return _say("logbook/entry-changed", f"entry {seq} is not as it was written", _KEEP, seq=seq)


def _broken(seq: int) -> findings.Finding:
    return _say(
        "logbook/chain-broken",
        f"entry {seq} does not follow from entry {seq - 1}: one of them was written anew",
        _KEEP,
        seq=seq,
    )


def _other_head(seq: int) -> findings.Finding:
    return _say(
        "logbook/head-differs",
        f"entry {seq} has another hash than the printed head: what comes before it was written anew",
        _KEEP,
        seq=seq,
    )


def _cut_off(seq: int, printed: int) -> findings.Finding:
    return _say(
        "logbook/cut-off",
        f"the chain ends at entry {seq}, but the printed head was entry {printed}: the end was cut off",
        _KEEP,
        seq=seq,
        printed=printed,
    )


def integrity(connection: sa.Connection, pragma: str = "integrity_check") -> list[findings.Finding]:
    """What SQLite itself finds wrong with its file; empty on other databases."""
    if connection.dialect.name != "sqlite":
        return []
    said = [row[0] for row in connection.exec_driver_sql(f"PRAGMA {pragma}(5)")]
    return [] if said == ["ok"] else [database.unreadable(ValueError("; ".join(map(str, said))))]


def _beside(connection: sa.Connection) -> list[findings.Finding]:
    """Rows of side tables against the digests the chain holds."""
    found: list[findings.Finding] = []
    for kind, table in tables.SIDE.items():
        rows = {row.seq: row for row in connection.execute(sa.select(table).order_by(table.c.seq))}
        query = sa.select(_entry.c.seq, _entry.c.details).where(_entry.c.kind == kind).order_by(_entry.c.seq)
        for seq, details in connection.execute(query):
            row = rows.pop(seq, None)
            if row is None or not _side_holds(row, details):
                found.append(
                    _say(
                        "logbook/kept-text-changed",
                        f"what entry {seq} keeps ({kind.replace('-', ' ')}) is missing or not as it was",
                        _KEEP,
                        seq=seq,
                        kind=kind,
                    )
                )
        found += [_missing(seq, seq) for seq in rows]
    return found


def _side_holds(row: Any, details: str) -> bool:
    at = row._mapping
    digest = canon.side_digest([at[name] for name in at if name not in ("seq", "content")])
    if details != canon.details_text({"digest": digest}):
        return False
    if "content" in at:
        return canon.digest_of_bytes(zlib.decompress(at["content"])) == at["sha256"]
    return "digest" not in at or canon.digest_of(at["text"]) == at["digest"]

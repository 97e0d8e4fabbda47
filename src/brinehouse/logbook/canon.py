"""The one written form of an entry, its digest and its place in the chain.

The form, for anyone who checks a logbook without this program:

* ``content`` is the JSON list of the entry's columns in the order of `CONTENT`, UTF-8, no spaces, no
  characters escaped that JSON does not ask to be, numbers in their shortest form that reads back the same,
  absent values ``null``;
* ``digest`` is the SHA-256 of ``content``. It leaves out when and by whom the fact was entered and what was
  remarked then, so that a fact sent twice is the same fact;
* ``row`` is the JSON list ``[seq, entered, writer, marks, digest, ...content]`` in the same form;
* ``hash`` is the SHA-256 of the previous entry's ``hash`` (64 zeros before the first) followed by ``row``.

Digests and hashes are 64 lower-case hex digits; times are whole microseconds since 1970-01-01 UTC.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from brinehouse import records
from brinehouse.logbook import kept

ZERO = "0" * 64
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
TICK = timedelta(microseconds=1)

CONTENT = (
    "id", "kind", "measured", "person", "place", "point", "depth", "quantity", "value", "unit", "text",
    "bound", "missing", "basis", "instrument", "method", "sitting", "quality", "source", "supersedes",
    "reason", "origin", "import_id", "target", "note", "details",
)  # fmt: skip
COLUMNS = ("seq", "entered", "writer", "marks", "digest", *CONTENT, "prev", "hash")

_encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode
_encode_sorted = json.JSONEncoder(
    ensure_ascii=False, separators=(",", ":"), allow_nan=False, sort_keys=True
).encode

Content = tuple[Any, ...]
Header = tuple[int, int | None, str]
"""When it was entered, by whom, and what was remarked."""


def microseconds(time: datetime) -> int:
    """Whole microseconds since 1970 UTC.

    >>> microseconds(datetime(1970, 1, 1, 0, 0, 1, tzinfo=UTC))
    1000000
    """
    if time.tzinfo is None:
        raise kept.refused(
            "logbook/time-without-zone",
            f"the time {time.isoformat(' ')} does not say its zone",
            "give the time with its offset from UTC",
        )
    return (time - EPOCH) // TICK


def moment(ticks: int) -> datetime:
    """The time of a count of microseconds, UTC."""
    return EPOCH + timedelta(microseconds=ticks)


def number(value: float | None, what: str) -> float | None:
    """A plain float (no minus zero, which SQLite does not keep), or None."""
    if value is None:
        return None
    value = float(value) + 0.0
    if not math.isfinite(value):
        raise kept.refused(
            "logbook/not-a-number",
            f"{what} is {value}, which is not a number that can be kept",
            "leave the value out and say why it was not measured",
        )
    return value


def details_text(details: Any) -> str:
    """Details as JSON text with sorted keys."""
    try:
        return _encode_sorted(details)
    except (TypeError, ValueError) as error:
        raise kept.refused(
            "logbook/not-plain",
            f"details hold something that is not plain data: {error}",
            "use text, finite numbers, true, false, lists and mappings with text keys",
        ) from error


def content_of(fact: records.Reading | records.Fact, person: int | None = None) -> Content:
    """The content columns of a reading or fact, in the order of `CONTENT`."""
    who = fact.person if fact.person is not None else person
    origin = fact.origin or None
    import_id = origin.partition(":")[0] if origin else None
    if isinstance(fact, records.Reading):
        return (
            fact.id, "reading", microseconds(fact.measured), who, fact.place, fact.point,
            number(fact.depth, "the depth"), fact.quantity, number(fact.value, fact.quantity), fact.unit,
            fact.text, fact.bound, fact.missing, fact.basis, fact.instrument, fact.method, fact.sitting,
            fact.quality, fact.source, fact.supersedes or None, fact.reason, origin, import_id,
            None, fact.note, "",
        )  # fmt: skip
    target = str(fact.details.get("target", "")) or None if fact.kind == "withdrawal" else None
    return (
        fact.id, fact.kind, microseconds(fact.measured), who, fact.place, "", None, "", None, "", "", "", "",
        "", "", "", "", "", "", fact.supersedes or None, fact.reason, origin, import_id, target, fact.note,
        details_text(dict(fact.details)),
    )  # fmt: skip


def internal(kind: str, id: str, at: int, person: int | None, details: Any, reason: str = "") -> Content:
    """The content columns of an entry the logbook writes by itself."""
    return (
        id, kind, at, person, "", "", None, "", None, "", "", "", "", "", "", "", "", "", "", None, reason,
        None, None, None, "", details_text(details),
    )  # fmt: skip


def written(content: Sequence[Any]) -> str:
    """The JSON list of the content columns."""
    text = _encode(content)
    if "\\u0000" in text and any("\0" in item for item in content if isinstance(item, str)):
        raise kept.refused(
            "logbook/not-text",
            "a text holds a zero character, which no database keeps",
            "remove the character",
        )
    return text


def digest_of(text: str) -> str:
    """SHA-256 of a written form."""
    try:
        return hashlib.sha256(text.encode()).hexdigest()
    except UnicodeEncodeError as error:
        raise kept.refused(
            "logbook/not-text",
            "a text holds half of a two-part character, which cannot be written as UTF-8",
            "type the text again",
        ) from error


def digest_of_bytes(content: bytes) -> str:
    """SHA-256 of bytes."""
    return hashlib.sha256(content).hexdigest()


def link(prev: str, seq: int, header: Header, digest: str, text: str) -> str:
    """The hash that ties an entry to the one before; `text` is its written content.

    >>> link(ZERO, 1, (0, None, ""), "d", '["a"]') == digest_of(ZERO + '[1,0,null,"","d","a"]')
    True
    """
    entered, by, marks = header
    who = "null" if by is None else by
    remarked = _encode(marks) if marks else '""'
    row = f'{prev}[{seq},{entered},{who},{remarked},"{digest}",{text[1:]}'
    return hashlib.sha256(row.encode()).hexdigest()


def header_of(fact: records.Reading | records.Fact, person: int | None) -> Header:
    """When a fact was entered, by whom, and what was remarked."""
    marks = " ".join(fact.marks) if isinstance(fact, records.Reading) and fact.marks else ""
    return (microseconds(fact.entered), person if person is not None else fact.person, marks)


def side_digest(row: Sequence[Any]) -> str:
    """SHA-256 of a side table's row, written as a JSON list."""
    return digest_of(_encode(list(row)))


def reading(row: Any) -> records.Reading:
    """A reading from a row in the order of `COLUMNS`."""
    (_, entered, _, marks, _, id_, _, measured, who, place, point, depth, quantity, value, unit, text, bound,
     missing, basis, instrument, method, sitting, quality, source, supersedes, reason,
     origin, _, _, note, _, _, _) = row  # fmt: skip
    return records.Reading(
        id=id_, measured=EPOCH + TICK * measured, entered=EPOCH + TICK * entered, place=place,
        quantity=quantity, value=value, unit=unit, text=text, point=point, depth=depth, bound=bound,
        missing=missing, basis=basis, instrument=instrument, method=method, sitting=sitting, person=who,
        quality=quality, marks=tuple(marks.split(" ")) if marks else (), source=source, note=note,
        supersedes=supersedes or "", reason=reason, origin=origin or "",
    )  # fmt: skip


def fact(row: Any) -> records.Fact:
    """A fact from a row in the order of `COLUMNS`."""
    at = dict(zip(COLUMNS, row, strict=True))
    return records.Fact(
        id=at["id"], kind=at["kind"], measured=moment(at["measured"]), entered=moment(at["entered"]),
        place=at["place"], details=json.loads(at["details"] or "{}"), person=at["person"], note=at["note"],
        supersedes=at["supersedes"] or "", reason=at["reason"], origin=at["origin"] or "",
    )  # fmt: skip


def record(row: Any) -> records.Reading | records.Fact:
    """A reading or a fact, whichever the row is."""
    return reading(row) if row[6] == "reading" else fact(row)


def read_content(text: str) -> dict[str, Any]:
    """The content columns by name, from their written form."""
    return dict(zip(CONTENT, json.loads(text), strict=True))

"""A file of readings examined: what would be stored, what is in doubt, what is refused. No clock, no disk."""

from __future__ import annotations

import dataclasses
import functools
import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from brinehouse import findings, records
from brinehouse.facility import model
from brinehouse.logbook.intake import (
    answering,
    decoding,
    documents,
    headings,
    passes,
    rows,
    saying,
    subjects,
    survey,
    tables,
    workbooks,
)

Verdict = Literal["accept", "accept-with-note", "ask", "reject-rows", "reject-file"]
JUST_AFTER = timedelta(microseconds=1)
_UNIT_ASKS = frozenset({"units/ambiguous-unit"})  # a row's question that holds back only that row


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question to a person about a file.

    Attributes
    ----------
    key : str
        What an answer names.
    text : str
        The first of the findings that ask it.
    choices : tuple of str
        Empty where any text may answer.
    count : int
        How many rows wait for it.
    """

    key: str
    text: str
    choices: tuple[str, ...]
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """What came of looking at a file.

    Attributes
    ----------
    verdict : str
        ``accept``, ``accept-with-note``, ``ask``, ``reject-rows`` or ``reject-file``.
    name, sha256, import_id : str
    rows : int
        Rows found.
    rows_ok : int
        Rows that may be stored without asking.
    count : int
        Readings in them: more than rows for a wide table.
    findings : tuple of Finding
    counts : mapping
        How many findings of each code there were, kept or not.
    questions : tuple of Question
    answers : mapping
        The answers that were used.
    source : str
        What files of this source have in common.
    understood : tuple
        (quantity, unit as spelt, unit as kept, rows).
    span : tuple of datetime or None
        First and last time.
    """

    verdict: Verdict
    name: str
    sha256: str
    rows: int = 0
    rows_ok: int = 0
    count: int = 0
    findings: tuple[findings.Finding, ...] = ()
    counts: Mapping[str, int] = dataclasses.field(default_factory=dict[str, int])
    answers: Mapping[str, str] = dataclasses.field(default_factory=dict[str, str])
    source: str = ""
    understood: tuple[tuple[str, str, str, int], ...] = ()
    span: tuple[datetime, datetime] | None = None
    content: bytes = dataclasses.field(default=b"", repr=False)
    _again: Callable[[datetime], Iterator[records.Reading]] | None = dataclasses.field(
        default=None, repr=False
    )

    @property
    def import_id(self) -> str:
        """The id of the import: this file read with these answers; read otherwise, it is another."""
        return answering.import_id(self.sha256, self.answers)

    @property
    def may_store(self) -> bool:
        """Whether its good rows may be stored without a person's yes."""
        return self.verdict in ("accept", "accept-with-note")

    @property
    def questions(self) -> tuple[Question, ...]:
        """Each question once."""
        found: dict[str, Question] = {}
        for finding in self.findings:
            key = finding.data.get("answer")
            if not key:
                continue
            told = found.get(key)
            choices = tuple(finding.data.get("choices", ()))
            found[key] = Question(
                key=key,
                text=told.text if told else finding.text,
                choices=told.choices if told else choices,
                count=told.count + 1 if told else 1,
            )
        return tuple(found.values())

    def readings(self, entered: datetime) -> Iterator[records.Reading]:
        """The readings of the good rows, made as they are asked for."""
        return self._again(entered) if self._again is not None else iter(())


def examine(
    data: bytes,
    name: str,
    *,
    facility: model.Facility,
    people: Mapping[str, int],
    now: datetime,
    answers: Mapping[str, str] | None = None,
    saved: Callable[[str], Mapping[str, str]] | None = None,
    methods: Sequence[str] = subjects.METHODS,
    automatic: frozenset[str] = subjects.AUTOMATIC,
) -> Examined:
    """Look at a whole file and store nothing.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        What messages call it.
    facility : Facility
    people : mapping
        Name to number.
    now : datetime
        Aware; what is later is refused.
    answers : mapping, optional
        Question to answer: see `answering`; ``map:COLUMN`` says what a column is.
    saved : callable, optional
        From a source, the answers that were given about it before.
    methods : sequence of str
    automatic : frozenset of str
        Names in the ``by`` column that are no person.

    Returns
    -------
    Examined
    """
    told, faults = answering.clean(answers or {})
    label = name.replace("\\", "/").rpartition("/")[2][:120] or "file"
    said = saying.Said(file=label)
    sha256 = hashlib.sha256(data).hexdigest()
    known = headings.Known()
    decoded, sheet = _open(data, told, known)
    source = answering.source(label, sheet.header)
    if saved is not None:
        before = {key: text for key, text in saved(source).items() if key not in told}
        told |= before
        if before:
            decoded, sheet = _open(data, told, known)
        for key, text in sorted(before.items()):
            said.add(
                saying.note("intake/remembered", f"answered before: {key}={text}", "answer anew to change it")
            )
    said.by_item = sheet.by_item
    if told.get("zone") and passes.zone_of(told["zone"], "", "") is None:
        fault = f"{saying.shown(told['zone'])} is not a zone known here"
        faults.append(saying.stop("intake/unknown-zone", fault, "write it like 'Europe/Berlin' or 'UTC'"))
    for fault in (*faults, *decoded.faults, *sheet.faults):
        said.add(fault)
    made = functools.partial(Examined, name=label, sha256=sha256, answers=told, source=source, content=data)
    if findings.Level.STOP in said.levels or not sheet.header:
        verdict: Verdict = "reject-file" if findings.Level.STOP in said.levels else "ask"
        return made(verdict=verdict, findings=said.ordered(), counts=said.counts)
    layout = headings.lay_out(sheet.header, known, facility, told)
    house = subjects.House(
        facility=facility, people=people, answers=told, methods=methods, automatic=automatic,
        default_place=told.get("at", ""), default_by=told.get("by", ""), loose=sheet.loose,
        default_method=told.get("method", ""), default_instrument=told.get("with", ""),
    )  # fmt: skip
    case = passes.Case(data, label, sha256, house, now, told, sheet, decoded, layout, said)
    return _examine(case, made)


def _open(data: bytes, told: Mapping[str, str], known: headings.Known) -> tuple[decoding.Decoded, rows.Sheet]:
    decoded = decoding.decode(data, told.get("encoding", ""))
    if decoded.kind == "xlsx":
        return decoded, workbooks.open_workbook(
            data, known, wanted=told.get("sheet", ""), hidden=told.get("hidden", "")
        )
    openers = {"csv": tables.open_table, "json": documents.open_list, "ndjson": documents.open_lines}
    opener = openers.get(decoded.kind)
    return decoded, rows.refused() if opener is None else opener(data, decoded.encoding, known)


def _examine(case: passes.Case, made: Callable[..., Examined]) -> Examined:
    """Headings, then the whole columns, then each row, then each series."""
    said, sheet, layout = case.said, case.sheet, case.layout
    at = sheet.header_line or None
    for fault in (*layout.faults, *layout.questions):
        said.add(fault, at)
    if layout.faults:
        count = sum(1 for _ in sheet.rows())
        return made(verdict="reject-file", rows=count, findings=said.ordered(), counts=said.counts)
    case.seen = seen = survey.look(sheet, layout, case.decoded, case.answers)
    for fault, line in seen.faults:
        said.add(fault, line)
    for code, count in seen.more.items():
        said.counts[code] = said.counts.get(code, 0) + count
    found = seen.rows + sheet.unread
    if not found:
        said.add(
            saying.stop("intake/no-rows", "the file has a header and no rows", "send the file with its rows")
        )
        return made(verdict="reject-file", findings=said.ordered(), counts=said.counts)
    if seen.whole or layout.questions:
        return made(verdict="ask", rows=found, findings=said.ordered(), counts=said.counts)
    case.house = dataclasses.replace(case.house, decimal=seen.decimal)
    passed = passes.first(case)
    return made(
        verdict=_verdict(said),
        rows=found,
        rows_ok=passed.rows_ok,
        count=passed.count,
        findings=said.ordered(),
        counts=said.counts,
        understood=passed.understood,
        span=passed.span,
        _again=functools.partial(passes.again, case, passed.marks),
    )


def _verdict(said: saying.Said) -> Verdict:
    levels = said.levels
    asks = {one.code for one in said.found if one.level is findings.Level.ASK} - _UNIT_ASKS
    if asks:
        return "ask"
    if findings.Level.STOP in levels:
        return "reject-rows"
    return "accept-with-note" if levels else "accept"

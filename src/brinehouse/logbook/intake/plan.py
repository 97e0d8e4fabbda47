"""A file of readings examined: what would be stored, what is in doubt, what is refused. No clock, no disk."""

from __future__ import annotations

import dataclasses
import functools
import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from brinehouse import findings, records, units
from brinehouse.facility import model
from brinehouse.logbook.intake import (
    answering,
    decoding,
    documents,
    headings,
    judging,
    rows,
    runs,
    saying,
    subjects,
    survey,
    tables,
    times,
    workbooks,
)

Verdict = Literal["accept", "accept-with-note", "ask", "reject-rows", "reject-file"]
_FLAT, _SPIKE = 1, 2
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
        """The id of the import: the first half of the file's digest."""
        return self.sha256[:32]

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


@dataclass(slots=True)
class _Case:
    """A file in hand."""

    data: bytes
    name: str
    sha256: str
    house: subjects.House
    now: datetime
    answers: dict[str, str]
    sheet: rows.Sheet
    decoded: decoding.Decoded
    layout: headings.Layout
    said: saying.Said
    seen: survey.Survey = dataclasses.field(default_factory=survey.Survey)

    def judge(self) -> judging.Judge:
        """A judge for one pass."""
        zone = _zone(self.answers.get("zone", ""), self.layout.zone, self.house.facility.timezone)
        clock = times.Reader(
            zone=zone or times.zone_of(self.house.facility.timezone),
            now=self.now,
            kind=self.answers.get("time", ""),
            first=self.seen.first,
            fold=self.answers.get("fold", ""),
            gap=self.answers.get("gap", ""),
            hour=self.answers.get("hour", ""),
        )
        judge = judging.Judge(self.house, clock, self.layout, len(self.sheet.header))
        judge.damaged = bool(self.decoded.bad)
        judge.days_only = 0 < self.seen.rows == self.seen.days
        return judge


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
    if told.get("zone") and _zone(told["zone"], "", "") is None:
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
    case = _Case(data, label, sha256, house, now, told, sheet, decoded, layout, said)
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


def _zone(answer: str, heading: str, facility: str) -> times.tzinfo | None:
    """The zone of times without an offset: as answered, as the heading says, or the facility's."""
    if answer:
        return times.named_zone(answer)
    return (times.named_zone(heading) if heading else None) or times.zone_of(facility)


def _examine(case: _Case, made: Callable[..., Examined]) -> Examined:
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
    passed = _first_pass(case)
    return made(
        verdict=_verdict(said),
        rows=found,
        rows_ok=passed.rows_ok,
        count=passed.count,
        findings=said.ordered(),
        counts=said.counts,
        understood=passed.understood,
        span=passed.span,
        _again=functools.partial(_second_pass, case, passed.marks),
    )


def _verdict(said: saying.Said) -> Verdict:
    levels = said.levels
    asks = {one.code for one in said.found if one.level is findings.Level.ASK} - _UNIT_ASKS
    if asks:
        return "ask"
    if findings.Level.STOP in levels:
        return "reject-rows"
    return "accept-with-note" if levels else "accept"


@dataclass(frozen=True, slots=True)
class _Passed:
    rows_ok: int
    count: int
    marks: bytearray
    understood: tuple[tuple[str, str, str, int], ...]
    span: tuple[datetime, datetime] | None


def _first_pass(case: _Case) -> _Passed:
    """Judge every row, keep what series need to be looked at, and say everything."""
    judge, said = case.judge(), case.said
    tracked: dict[int, runs.Run] = {}
    marks = bytearray()
    rows_ok, count = 0, 0
    low, high = 2**62, -(2**62)

    def tell(fault: saying.Fault, line: int) -> None:
        said.add(fault, line)

    columns = case.layout.wide or (None,)
    blanks = 0
    for line, cells, faults in case.sheet.rows():
        good = cells is not None
        for fault in faults:
            said.add(_placed(fault, case.sheet), line)
            good = good and fault.level not in (findings.Level.ASK, findings.Level.STOP)
        if not good or cells is None:
            continue
        for column in columns:
            if column is not None and not cells[column.index].strip():
                blanks += 1
                continue
            weighed = judge.weigh(line, cells, tell, column)
            if weighed is None:
                good = False
                continue
            if weighed.series.automatic and weighed.value is not None and not weighed.bound:
                _track(tracked, weighed, line, count)
            low, high = min(low, weighed.ticks), max(high, weighed.ticks)
            count += 1
        rows_ok += good
    marks = bytearray(count)
    _look_at_runs(tracked, said, marks)
    _say_what_was_assumed(case, judge, blanks)
    span = (_moment(low), _moment(high)) if count else None
    return _Passed(rows_ok, count, marks, _understood(judge), span)


def _placed(fault: saying.Fault, sheet: rows.Sheet) -> saying.Fault:
    """A fault whose field is a column's number, by the column's name."""
    if not fault.field.startswith("\0"):
        return fault
    at = int(fault.field[1:])
    return fault._replace(field=sheet.header[at].strip() if at < len(sheet.header) else "")


def _track(tracked: dict[int, runs.Run], weighed: judging.Weighed, line: int, ordinal: int) -> None:
    run = tracked.get(weighed.series.number)
    if run is None:
        run = tracked[weighed.series.number] = runs.Run(weighed.series)
    run.ticks.append(weighed.ticks)
    run.values.append(weighed.value or 0.0)
    run.lines.append(line)
    run.ordinals.append(ordinal)
    if weighed.quality == "fault":
        run.faults.add(ordinal)


def _look_at_runs(tracked: dict[int, runs.Run], said: saying.Said, marks: bytearray) -> None:
    for run in tracked.values():
        found = runs.look(run)
        for fault, line in found.faults:
            said.add(fault, line)
        for ordinal in found.flat.tolist():
            marks[ordinal] |= _FLAT
        for ordinal in found.spikes.tolist():
            marks[ordinal] |= _SPIKE


def _say_what_was_assumed(case: _Case, judge: judging.Judge, blanks: int) -> None:
    said, clock = case.said, judge.clock
    if clock.local:
        text = f"{clock.local} times without an offset were read in {clock.zone}"
        said.add(
            saying.note(
                "intake/local-times", text, "write times with their offset, or answer 'zone=...'", "time"
            )
        )
    if clock.folds:
        rule = ", ".join(f"{key}={case.answers[key]}" for key in ("fold", "gap") if key in case.answers)
        said.add(
            saying.note(
                "intake/placed-times", f"{clock.folds} times around a clock change were placed by {rule}"
            )
        )
    if blanks:
        said.add(saying.note("intake/blank-cells", f"{blanks} blank cells were left out"))
    untold = {
        series.quantity.word: series for series in judge.series.values() if series.marks and series.quantity
    }
    for word, series in untold.items():
        assert series.quantity is not None
        choices = " or ".join(f"'basis:{word}={one}'" for one in series.quantity.basis)
        either = " or ".join(series.quantity.basis)
        text = f"{word} does not say what it is counted as ({either}); kept as not told"
        said.add(saying.note(subjects.BASIS_UNTOLD, text, f"answer {choices} before it is stored", "unit"))
    became: dict[str, list[str]] = {}
    for typed in dict.fromkeys(typed for _, typed, _ in judge.spellings()):
        told = case.answers.get(f"unit:{typed}", typed)
        symbols = {meaning.symbol for meaning in units.meanings(told)} if typed else set[str]()
        if symbols:
            became.setdefault(min(symbols), []).append(typed)
    several = [
        f"{', '.join(map(saying.shown, spelt))} as {kept}" for kept, spelt in became.items() if len(spelt) > 1
    ]
    if several:
        said.add(
            saying.note("intake/spellings", f"units were understood so: {'; '.join(several)}", "", "unit")
        )


def _understood(judge: judging.Judge) -> tuple[tuple[str, str, str, int], ...]:
    return tuple(
        (word, saying.shown(typed)[1:-1], kept, count)
        for (word, typed, kept), count in judge.spellings().items()
    )


def _moment(ticks: int) -> datetime:
    return times.EPOCH + timedelta(microseconds=ticks)


def _second_pass(case: _Case, marks: bytearray, entered: datetime) -> Iterator[records.Reading]:
    """The good rows once more, now as readings."""
    judge = case.judge()
    columns = case.layout.wide or (None,)
    ordinal = 0
    import_id = case.sha256[:32]
    for line, cells, faults in case.sheet.rows():
        if cells is None or any(fault.level in (findings.Level.ASK, findings.Level.STOP) for fault in faults):
            continue
        for column in columns:
            if column is not None and not cells[column.index].strip():
                continue
            weighed = judge.weigh(line, cells, _silent, column)
            if weighed is None:
                continue
            tail = f":{column.index + 1}" if column is not None else ""
            yield _reading(weighed, f"{import_id}:{line}{tail}", case.sha256, marks[ordinal], entered)
            ordinal += 1


def _silent(fault: saying.Fault, line: int) -> None:
    """Everything was said in the first pass."""
    del fault, line


def _reading(
    weighed: judging.Weighed, origin: str, sha256: str, mark: int, entered: datetime
) -> records.Reading:
    series = weighed.series
    quality, marks = weighed.quality, weighed.marks
    if mark:
        quality = "fault" if quality == "fault" else "doubtful"
        marks += (runs.SPIKE,) * bool(mark & _SPIKE) + (runs.FLAT,) * bool(mark & _FLAT)
    text = weighed.text.strip()
    where = origin.partition(":")[2]
    return records.Reading(
        id=hashlib.sha256(f"{sha256}:{where}".encode()).hexdigest()[:32],
        measured=_moment(weighed.ticks),
        entered=entered,
        place=series.place,
        point=series.point,
        depth=series.depth,
        quantity=series.word,
        value=weighed.value,
        unit=series.unit,
        text=f"{text} {series.typed_unit}" if series.typed_unit and not weighed.missing else str(text),
        bound=weighed.bound,  # pyright: ignore[reportArgumentType] - one of its three
        missing=weighed.missing,
        basis=series.basis,
        instrument=series.instrument,
        method=series.method,
        person=series.person,
        quality=quality,  # pyright: ignore[reportArgumentType] - one of its four
        marks=marks,
        source="sensor" if series.automatic else "import",
        note=weighed.note,
        origin=origin,
    )

"""The two passes over the rows: the first judges and says everything, the second makes the readings."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from brinehouse import findings, records, units
from brinehouse.logbook.intake import (
    answering,
    decoding,
    headings,
    judging,
    rows,
    runs,
    saying,
    subjects,
    survey,
    times,
)

_FLAT, _SPIKE = 1, 2


@dataclass(slots=True)
class Case:
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
        zone = zone_of(self.answers.get("zone", ""), self.layout.zone, self.house.facility.timezone)
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


def zone_of(answer: str, heading: str, facility: str) -> times.tzinfo | None:
    """The zone of times without an offset: as answered, as the heading says, or the facility's."""
    if answer:
        return times.named_zone(answer)
    return (times.named_zone(heading) if heading else None) or times.zone_of(facility)


@dataclass(frozen=True, slots=True)
class Passed:
    """What the first pass found: good rows, readings, marks by reading, spellings, first and last time."""

    rows_ok: int
    count: int
    marks: bytearray
    understood: tuple[tuple[str, str, str, int], ...]
    span: tuple[datetime, datetime] | None


def first(case: Case) -> Passed:
    """Judge every row, keep what series need to be looked at, and say everything."""
    judge, said = case.judge(), case.said
    tracked: dict[int, runs.Run] = {}
    marks = bytearray()
    rows_ok, count = 0, 0
    low, high = 2**62, -(2**62)

    columns = case.layout.wide or (None,)
    once = saying.Once(said, alone=len(columns) == 1)
    blanks = 0
    for line, cells, faults in case.sheet.rows():
        good = cells is not None
        for fault in faults:
            said.add(_placed(fault, case.sheet), line)
            good = good and fault.level not in (findings.Level.ASK, findings.Level.STOP)
        if not good or cells is None:
            continue
        once.begin()
        for column in columns:
            if column is not None and not cells[column.index].strip():
                blanks += 1
                continue
            weighed = judge.weigh(line, cells, once.tell, column)
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
    return Passed(rows_ok, count, marks, _understood(judge), span)


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


def _say_what_was_assumed(case: Case, judge: judging.Judge, blanks: int) -> None:
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


def again(case: Case, marks: bytearray, entered: datetime) -> Iterator[records.Reading]:
    """The good rows once more, now as readings."""
    judge = case.judge()
    columns = case.layout.wide or (None,)
    ordinal = 0
    import_id = answering.import_id(case.sha256, case.answers)
    for line, cells, faults in case.sheet.rows():
        if cells is None or any(fault.level in (findings.Level.ASK, findings.Level.STOP) for fault in faults):
            continue
        for column in columns:
            if column is not None and not cells[column.index].strip():
                continue
            weighed = judge.weigh(line, cells, _silent, column)
            if weighed is None:
                continue
            where = f"{line}" if column is None else f"{line}:{column.index + 1}"
            at = 0 if column is None else column.index + 1
            name = f"{import_id[:16]}{line:011x}{at:05x}"  # 32 hex digits, as every id has
            yield _reading(weighed, name, f"{import_id}:{where}", marks[ordinal], entered)
            ordinal += 1


def _silent(fault: saying.Fault, line: int) -> None:
    """Everything was said in the first pass."""
    del fault, line


def _reading(
    weighed: judging.Weighed, name: str, origin: str, mark: int, entered: datetime
) -> records.Reading:
    series = weighed.series
    quality, marks = weighed.quality, weighed.marks
    if mark:
        quality = "fault" if quality == "fault" else "doubtful"
        marks += (runs.SPIKE,) * bool(mark & _SPIKE) + (runs.FLAT,) * bool(mark & _FLAT)
    text = weighed.text.strip()
    return records.Reading(
        id=name,
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

"""One row: what it is about is looked up once for all rows alike, then its time and value are weighed."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from operator import itemgetter
from typing import NamedTuple

from brinehouse import findings, glossary, units
from brinehouse.logbook.intake import decoding, headings, rows, saying, subjects, times
from brinehouse.logbook.intake.saying import Fault

LONGEST_NOTE = 2_000
FAULT_CODES = {"temperature": {85.0: "at power-up", -127.0: "when unplugged"}}
"""What digital thermometers send instead of a temperature. Common practice, no source."""

_CACHED = 5_000  # refused series that are remembered; a file of nonsense has a new one in each row

SENSOR_FAULT, SENSOR_IMPOSSIBLE = "intake/sensor-fault", "intake/sensor-impossible"


class Weighed(NamedTuple):
    """A row that may be stored."""

    series: subjects.Series
    ticks: int
    value: float | None
    text: str
    bound: str
    missing: str
    quality: str
    marks: tuple[str, ...]
    note: str


Tell = Callable[[Fault, int], None]
_KEY = (headings.PLACE, headings.QUANTITY, headings.UNIT, headings.METHOD, headings.BY, headings.INSTRUMENT,
        headings.DEPTH, headings.BASIS)  # fmt: skip


class Judge:
    """Judges the rows of one file in one pass."""

    def __init__(
        self, house: subjects.House, clock: times.Reader, layout: headings.Layout, width: int
    ) -> None:
        self.house = house
        self.clock = clock
        self._plain = units.read_plain if house.decimal == "." else _with_comma
        self.layout = layout
        self.series: dict[tuple[object, ...], subjects.Series] = {}
        self.damaged = False
        self.days_only = False  # a sheet whose times are all date cells gives days, not midnights
        self._maker = subjects.Maker(house, layout)
        self._width = width
        self._index = tuple(width if at < 0 or at >= width else at for at in layout.index)
        self._key = itemgetter(*(self._index[at] for at in _KEY))
        self._has = tuple(at >= 0 for at in layout.index)
        self._told_units = _told_units(house.answers)
        self._told_values = {
            int(key[6:]): text for key, text in house.answers.items() if key.startswith("value@")
        }

    def weigh(
        self, line: int, cells: list[str], tell: Tell, column: headings.Column | None = None
    ) -> Weighed | None:
        """What a row gives, or None where it is refused or held; `tell` hears why."""
        cells.append("")
        for first, last, unit in self._told_units:
            if first <= line <= last and self._has[headings.UNIT]:
                cells[self._index[headings.UNIT]] = unit
        key = self._key(cells)
        found = self.series.get((column, key))
        if found is None:
            found = self._maker.make(key, column)
            if not found.faults or len(self.series) < _CACHED:
                self.series[(column, key)] = found
        at = self._index
        faults: list[Fault] = []
        ticks = self.clock.read(self._time(cells), found.number)
        if not isinstance(ticks, int):
            faults.append(ticks)
        if found.faults:
            faults += found.faults
        text = cells[column.index if column else at[headings.VALUE]]
        note = cells[at[headings.NOTE]]
        if line in self._told_values and column is None:
            note = f"{note} (value as answered; the file has {saying.shown(text)})".strip()
            text = self._told_values[line]
        if note:
            faults += _note_faults(note)
        weighed = self._value(found, text, faults, "value" if column is None else column.heading[:40])
        cells.pop()
        if weighed is not None and weighed.missing:  # what was not measured needs no unit
            faults = [fault for fault in faults if fault.code != "units/no-unit"]
        return self._end(line, cells, faults, tell, found, ticks, weighed, text, note)

    def _time(self, cells: list[str]) -> str:
        """The text of a row's time, from its one column or its two."""
        time = cells[self._index[headings.TIME]]
        if self._has[headings.DATE]:
            return _joined(cells[self._index[headings.DATE]], time)
        return time[:10] if self.days_only and isinstance(time, rows.Odd) else time

    def spellings(self) -> dict[tuple[str, str, str], int]:
        """Quantity, unit as spelt and unit as kept, with the rows of each."""
        found: dict[tuple[str, str, str], int] = {}
        for one in self.series.values():
            if one.rows:
                spelt = (one.word, one.typed_unit, one.unit)
                found[spelt] = found.get(spelt, 0) + one.rows
        return found

    def _end(self, line: int, cells: list[str], faults: list[Fault], tell: Tell, found: subjects.Series,
             ticks: int | Fault, weighed: _Value | None, text: str, note: str) -> Weighed | None:  # fmt: skip
        if faults:
            if self.damaged and any(decoding.foreign(cell) for cell in cells):
                return None  # said already, cell by cell
            faults = _units_row(cells, self._index) or faults
            for fault in faults:
                tell(fault, line)
            if any(fault.level in (findings.Level.ASK, findings.Level.STOP) for fault in faults):
                return None
        if weighed is None or not isinstance(ticks, int):
            return None
        found.rows += 1
        marks = found.marks + weighed.marks if weighed.marks else found.marks
        return Weighed(
            found, ticks, weighed.value, text, weighed.bound, weighed.missing, weighed.quality, marks, note
        )

    # -- the value ----------------------------------------------------------------------------------

    def _value(self, one: subjects.Series, text: str, faults: list[Fault], field: str) -> _Value | None:
        number = self._plain(text)
        bound = ""
        if number is None:
            read = self._slow_value(text, faults, field)
            if isinstance(read, _Value) or read is None:
                return read
            number, bound = read.value, read.bound
        if one.scale is None or one.faults:
            return None
        value = number * one.factor + one.offset if one.factor != 1.0 or one.offset else number
        if one.usual_low <= value <= one.usual_high:
            return _Value(value, bound)
        return self._beyond(one, number, value, bound, text, faults, field)

    def _slow_value(self, text: str, faults: list[Fault], field: str) -> _Value | units.Number | None:
        if isinstance(text, rows.Odd) and text.kind != "number":
            faults.append(_odd(text, field))
            return None
        missing = units.read_missing(text)
        if missing is not None and text.strip():
            faults += _note_faults(missing.why, field)
            return _Value(None, "", missing.why)
        if missing is not None:
            hint = "write 'not measured' and why, if that is meant"
            faults.append(saying.stop("intake/blank", "the value is blank, which is not nought", hint, field))
            return None
        try:
            read = units.read_number(text, decimal=self.house.decimal)
        except units.NotUnderstood as fault:
            if fault.code == "units/decimal-sign" and self.house.loose:
                hint = "mend the cell, or answer 'value@LINE=...'"
                said = f"{field} {saying.shown(text)} {fault.why}; other rows of the sheet use it"
                faults.append(
                    saying.ask("intake/decimal-mixed", said, "value@LINE", fault.choices, field, hint)
                )
                return None
            faults.append(saying.refusal(fault, field))
            return None
        if read.bound:
            said = f"{saying.shown(text.strip())} is kept as a bound, not as a value"
            faults.append(saying.note("intake/bound", said, "", field))
        faults += (
            saying.note("intake/read-as", f"{saying.shown(text)}: {said}", "", field) for said in read.notes
        )
        return read

    def _beyond(
        self,
        one: subjects.Series,
        number: float,
        value: float,
        bound: str,
        text: str,
        faults: list[Fault],
        field: str,
    ) -> _Value | None:
        """A value outside what is usual: unusual, impossible, or what a broken sensor sends."""
        assert one.quantity is not None
        shown = f"{one.quantity.word} {text.strip()} {one.typed_unit}".strip()
        if one.automatic and one.quantity.word in FAULT_CODES:
            meaning = FAULT_CODES[one.quantity.word].get(value)
            if meaning:
                said = f"{shown} is what digital thermometers send {meaning}; kept and marked as a fault"
                faults.append(saying.note(SENSOR_FAULT, said, "look at the sensor", field))
                return _Value(value, bound, "", "fault", (SENSOR_FAULT,))
        if (value < one.low and bound != ">") or (value > one.high and bound != "<"):
            return self._impossible(one, number, value, bound, shown, faults, field)
        if (value < one.usual_low and bound != ">") or (value > one.usual_high and bound != "<"):
            usual = f"{one.usual_low:g} to {one.usual_high:g} {one.unit}"
            said = f"{shown} is unusual ({usual} is expected); kept and marked"
            faults.append(saying.note(glossary.UNUSUAL, said, "look once more", field))
            return _Value(value, bound, "", "unusual", (glossary.UNUSUAL,))
        return _Value(value, bound)

    def _impossible(self, one: subjects.Series, number: float, value: float, bound: str, shown: str,
                    faults: list[Fault], field: str) -> _Value | None:  # fmt: skip
        limits = f"{one.low:g} to {one.high:g} {one.unit}"
        if one.unit == "°C" and one.offset == 0.0:
            celsius = (number - 32.0) / 1.8
            if one.usual_low <= celsius <= one.usual_high:
                said = (
                    f"{shown} is outside what it can be here ({limits}) and looks like {celsius:.1f} °C in °F"
                )
                hint = "was the logger switched? say so by its lines: answer 'unit@6-8=°F'"
                faults.append(saying.stop("intake/unit-switched", said, hint, field))
                return None
        if one.automatic:
            said = f"{shown} is outside what it can be ({limits}); kept as sent and marked as a fault"
            faults.append(saying.note(SENSOR_IMPOSSIBLE, said, "look at the sensor", field))
            return _Value(value, bound, "", "fault", (SENSOR_IMPOSSIBLE,))
        said = f"{shown} is outside what it can be ({limits})"
        hint = "look again at the value and its unit; if the meter shows it, write 'not measured' and why"
        faults.append(saying.stop("glossary/impossible", said, hint, field))
        return None


class _Value(NamedTuple):
    value: float | None
    bound: str
    missing: str = ""
    quality: str = "good"
    marks: tuple[str, ...] = ()


_LINES = re.compile(r"unit@(\d+)(?:-(\d+))?", re.ASCII)


def _told_units(answers: Mapping[str, str]) -> list[tuple[int, int, str]]:
    """Answers like ``unit@6-8=°F``: first line, last line, unit."""
    found: list[tuple[int, int, str]] = []
    for key, unit in answers.items():
        match = _LINES.fullmatch(key)
        if match is not None:
            found.append((int(match[1]), int(match[2] or match[1]), unit))
    return found


def _with_comma(text: str) -> float | None:
    return units.read_plain(text.replace(",", ".")) if "." not in text else None


def _joined(date: str, time: str) -> str:
    """The time of a file with a column for the day and one for the hour."""
    return f"{date[:10]} {time}".strip() if isinstance(date, rows.Odd) else f"{date.strip()} {time.strip()}"


def _note_faults(note: str, field: str = "note") -> list[Fault]:
    found: list[Fault] = []
    if len(note) > LONGEST_NOTE:
        said = f"the {field} has {len(note)} characters; {LONGEST_NOTE} are kept"
        found.append(saying.stop("intake/long-note", said, "shorten it", field))
    elif not note.isprintable():
        if any(sign == "\0" or "\ud800" <= sign <= "\udfff" for sign in note):
            said = f"the {field} {saying.shown(note)} has a character that cannot be stored"
            found.append(saying.stop("intake/unstorable", said, "take the character out", field))
        elif any(not saying.visible(sign) and sign not in "\n\t \u00a0\u2009\u202f" for sign in note):
            said = (
                f"the {field} {saying.shown(note)} has control characters; they are kept and shown like this"
            )
            found.append(saying.note("intake/control-characters", said, "", field))
    return found


def _odd(cell: rows.Odd, field: str) -> Fault:
    """A cell of a workbook or an item that is no number and no text."""
    if cell.kind in ("date", "day"):
        _, month, day = cell[:10].split("-")
        meant = f"{int(day)}.{int(month)} or {int(month)}.{int(day)}"
        said = f"value: the cell is a date, {cell[:10]}; was it {meant} before a spreadsheet made it one?"
        hint = "write the number into the sheet as text, and send it again"
        return saying.ask(
            "intake/date-value", said, "value@LINE", (), field, f"{hint}, or answer 'value@LINE=...'"
        )
    if cell.kind == "boolean":
        hint = "write the number"
        return saying.stop(
            "intake/not-a-value", f"value: the cell is true/false ({cell}), not a number", hint, field
        )
    return saying.stop(
        "intake/not-a-value", f"value: the cell is {cell}, not a number", "write the number", field
    )


def _units_row(cells: Sequence[str], index: Sequence[int]) -> list[Fault]:
    """One finding in place of five, for a line of units below the header."""
    needed = (headings.TIME, headings.PLACE, headings.QUANTITY, headings.VALUE)
    width = len(cells)
    if any(index[at] < width and cells[index[at]].strip() for at in needed):
        return []
    said = "the line has no time, place or value: likely a line of units"
    return [
        saying.stop("intake/units-line", said, "take it out; a unit belongs in each row or in the heading")
    ]

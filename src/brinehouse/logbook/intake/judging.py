"""One row: what it is about is looked up once for all rows alike, then its time and value are weighed."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from operator import itemgetter
from typing import NamedTuple

from brinehouse import findings, glossary, units
from brinehouse.facility import model
from brinehouse.logbook.intake import decoding, headings, rows, saying, times
from brinehouse.logbook.intake.saying import Fault

METHODS = (
    "probe", "meter", "refractometer", "photometer", "titration", "test kit", "gauge", "optode", "hydrometer",
)  # fmt: skip
AUTOMATIC = frozenset({"logger", "sensor"})
"""Names in the ``by`` column that are no person."""

LONGEST_NOTE = 2_000
FAULT_CODES = {"temperature": {85.0: "at power-up", -127.0: "when unplugged"}}
"""What digital thermometers send instead of a temperature. Common practice, no source."""

_CACHED = 5_000  # refused series that are remembered; a file of nonsense has a new one in each row

SENSOR_FAULT, SENSOR_IMPOSSIBLE, BASIS_UNTOLD = (
    "intake/sensor-fault", "intake/sensor-impossible", "intake/basis-not-told",
)  # fmt: skip
Number = int | float


@dataclass(slots=True)
class Series:
    """What rows alike have in common; `faults` where something in it refuses them all."""

    number: int
    place: str = ""
    point: str = ""
    depth: float | None = None
    quantity: glossary.Quantity | None = None
    scale: glossary.Scale | None = None
    factor: float = 1.0
    offset: float = 0.0
    low: float = 0.0
    high: float = 0.0
    usual_low: float = 0.0
    usual_high: float = 0.0
    unit: str = ""
    typed_unit: str = ""
    basis: str = ""
    method: str = ""
    instrument: str = ""
    person: int | None = None
    automatic: bool = False
    marks: tuple[str, ...] = ()
    rows: int = 0  # that were accepted
    faults: list[Fault] = field(default_factory=list[Fault])

    @property
    def word(self) -> str:
        """The quantity's word."""
        return self.quantity.word if self.quantity else ""


class Weighed(NamedTuple):
    """A row that may be stored."""

    series: Series
    ticks: int
    value: float | None
    text: str
    bound: str
    missing: str
    quality: str
    marks: tuple[str, ...]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """What rows are judged against.

    Attributes
    ----------
    facility : Facility
    people : mapping
        Name to number.
    methods : sequence of str
    answers : mapping
    decimal : str
    default_place, default_by, default_method, default_instrument : str
        For files without such a column.
    """

    facility: model.Facility
    people: Mapping[str, int]
    answers: Mapping[str, str]
    decimal: str = "."
    methods: Sequence[str] = METHODS
    automatic: frozenset[str] = AUTOMATIC
    default_place: str = ""
    default_by: str = ""
    default_method: str = ""
    default_instrument: str = ""
    loose: bool = False


Tell = Callable[[Fault, int], None]
_KEY = (headings.PLACE, headings.QUANTITY, headings.UNIT, headings.METHOD, headings.BY, headings.INSTRUMENT,
        headings.DEPTH, headings.BASIS)  # fmt: skip


class Judge:
    """Judges the rows of one file in one pass."""

    def __init__(self, house: House, clock: times.Reader, layout: headings.Layout, width: int) -> None:
        self.house = house
        self.clock = clock
        self._plain = units.read_plain if house.decimal == "." else _with_comma
        self.layout = layout
        self.series: dict[tuple[object, ...], Series] = {}
        self.damaged = False
        self.days_only = False  # a sheet whose times are all date cells gives days, not midnights
        self._made = 0
        self._width = width
        self._index = tuple(width if at < 0 or at >= width else at for at in layout.index)
        self._key = itemgetter(*(self._index[at] for at in _KEY))
        self._places = {fold(name): name for name in _places(house.facility)}
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
            found = self._make(key, column)
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

    def _end(self, line: int, cells: list[str], faults: list[Fault], tell: Tell, found: Series,
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

    def _value(self, series: Series, text: str, faults: list[Fault], field: str) -> _Value | None:
        number = self._plain(text)
        bound = ""
        if number is None:
            read = self._slow_value(text, faults, field)
            if isinstance(read, _Value) or read is None:
                return read
            number, bound = read.value, read.bound
        if series.scale is None or series.faults:
            return None
        value = number * series.factor + series.offset if series.factor != 1.0 or series.offset else number
        if series.usual_low <= value <= series.usual_high:
            return _Value(value, bound)
        return self._beyond(series, number, value, bound, text, faults, field)

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

    def _beyond(self, series: Series, number: float, value: float, bound: str, text: str, faults: list[Fault],
                field: str) -> _Value | None:  # fmt: skip
        """A value outside what is usual: unusual, impossible, or what a broken sensor sends."""
        assert series.quantity is not None
        shown = f"{series.quantity.word} {text.strip()} {series.typed_unit}".strip()
        if series.automatic and series.quantity.word in FAULT_CODES:
            meaning = FAULT_CODES[series.quantity.word].get(value)
            if meaning:
                said = f"{shown} is what digital thermometers send {meaning}; kept and marked as a fault"
                faults.append(saying.note(SENSOR_FAULT, said, "look at the sensor", field))
                return _Value(value, bound, "", "fault", (SENSOR_FAULT,))
        if (value < series.low and bound != ">") or (value > series.high and bound != "<"):
            return self._impossible(series, number, value, bound, shown, faults, field)
        if (value < series.usual_low and bound != ">") or (value > series.usual_high and bound != "<"):
            usual = f"{series.usual_low:g} to {series.usual_high:g} {series.unit}"
            said = f"{shown} is unusual ({usual} is expected); kept and marked"
            faults.append(saying.note(glossary.UNUSUAL, said, "look once more", field))
            return _Value(value, bound, "", "unusual", (glossary.UNUSUAL,))
        return _Value(value, bound)

    def _impossible(self, series: Series, number: float, value: float, bound: str, shown: str,
                    faults: list[Fault], field: str) -> _Value | None:  # fmt: skip
        limits = f"{series.low:g} to {series.high:g} {series.unit}"
        if series.unit == "°C" and series.offset == 0.0:
            celsius = (number - 32.0) / 1.8
            if series.usual_low <= celsius <= series.usual_high:
                said = (
                    f"{shown} is outside what it can be here ({limits}) and looks like {celsius:.1f} °C in °F"
                )
                hint = "was the logger switched? say so by its lines: answer 'unit@6-8=°F'"
                faults.append(saying.stop("intake/unit-switched", said, hint, field))
                return None
        if series.automatic:
            said = f"{shown} is outside what it can be ({limits}); kept as sent and marked as a fault"
            faults.append(saying.note(SENSOR_IMPOSSIBLE, said, "look at the sensor", field))
            return _Value(value, bound, "", "fault", (SENSOR_IMPOSSIBLE,))
        said = f"{shown} is outside what it can be ({limits})"
        hint = "look again at the value and its unit; if the meter shows it, write 'not measured' and why"
        faults.append(saying.stop("glossary/impossible", said, hint, field))
        return None

    # -- what rows alike have in common -------------------------------------------------------------

    def _make(self, key: tuple[str, ...], column: headings.Column | None) -> Series:
        place, word, unit, method, by, instrument, depth, basis = key
        self._made += 1
        made = Series(self._made)
        if column is not None:
            word, unit = column.quantity, unit.strip() or column.unit
            place = column.place or place
            instrument, basis = column.instrument or instrument, column.basis or basis
        house = self.house
        if not self._has[headings.PLACE] or (column is not None and not place):
            place = place or house.default_place
        if not self._has[headings.BY]:
            by = house.default_by
        if not self._has[headings.METHOD]:
            method = house.default_method
        if not self._has[headings.INSTRUMENT] and not instrument:
            instrument = house.default_instrument
        self._place(made, place)
        self._person(made, by)
        self._method(made, method, instrument)
        self._depth(made, depth)
        self._quantity(made, word, unit, basis, column)
        return made

    def _place(self, made: Series, text: str) -> None:
        facility = self.house.facility
        name = self._places.get(fold(text))
        if name is None:
            near = glossary.nearest(text[:80], list(_places(facility)))
            hint = _meant(near) or f"places are {', '.join(list(facility.vessels)[:12])}"
            said = f"place {saying.shown(text)} is not known here" if text.strip() else "the place is missing"
            made.faults.append(saying.stop("intake/unknown-place", said, hint, "place"))
            return
        point = facility.points.get(name)
        vessel = facility.place(name)
        made.place = vessel.id if vessel else point.at if point else name
        if point is not None:
            made.point, made.depth = name, point.depth

    def _person(self, made: Series, text: str) -> None:
        name = text.strip()
        if name in self.house.automatic:
            made.automatic, made.person = True, self.house.people.get(name)
            return
        if not name:
            hint = "write who took it; 'logger' is an automatic source"
            made.faults.append(saying.stop("intake/no-person", "who took it is missing", hint, "by"))
            return
        number = self.house.people.get(name)
        if number is None and self.house.answers.get(f"person:{name}") == "new":
            return
        if number is None:
            near = glossary.nearest(name[:80], list(self.house.people))
            hint = _meant(near) or f"answer 'person:{name[:40]}=new' if this is somebody new"
            said = f"person {saying.shown(name)} is not known here"
            made.faults.append(saying.stop("intake/unknown-person", said, hint, "by"))
        made.person = number

    def _method(self, made: Series, method: str, instrument: str) -> None:
        name = fold(method)
        if name and name not in self.house.methods:
            near = glossary.nearest(name[:80], list(self.house.methods))
            hint = _meant(near) or f"methods are {', '.join(self.house.methods)}"
            said = f"method {saying.shown(method)} is not known here"
            made.faults.append(saying.stop("intake/unknown-method", said, hint, "method"))
        made.method = name
        meter = instrument.strip()
        if meter and meter not in self.house.facility.instruments:
            near = glossary.nearest(meter[:80], list(self.house.facility.instruments))
            hint = _meant(near) or "add it to the facility file as an instrument"
            said = f"instrument {saying.shown(meter)} is not known here"
            made.faults.append(saying.stop("intake/unknown-instrument", said, hint, "instrument"))
        made.instrument = meter

    def _depth(self, made: Series, text: str) -> None:
        if not text.strip():
            return
        try:
            written = f"{text.strip()} {self.layout.depth_unit}" if self.layout.depth_unit else text
            made.depth = units.read_amount(written, "length").to("m")
        except units.NotUnderstood as fault:
            made.faults.append(saying.refusal(fault, "depth"))

    def _quantity(
        self, made: Series, word: str, unit: str, basis: str, column: headings.Column | None
    ) -> None:
        found = glossary.quantity(word) if len(word) <= 80 else None
        if found is None:
            near = glossary.nearest(word[:80])
            said = (
                f"quantity {saying.shown(word)} is not known here"
                if word.strip()
                else "the quantity is missing"
            )
            hint = _meant(near) or "write one of the words of the glossary, e.g. 'temperature'"
            made.faults.append(saying.stop("glossary/unknown-quantity", said, hint, "quantity"))
            if unit.strip() and not units.meanings(unit[:80]):
                said = f"unit {saying.shown(unit)} is not known here"
                made.faults.append(
                    saying.stop("units/unknown-unit", said, "write it like 'mg/L' or '°C'", "unit")
                )
            return
        where = "unit" if column is None else column.heading[:40]
        made.typed_unit = unit.strip()
        unit = self.house.answers.get(f"unit:{made.typed_unit}", made.typed_unit)
        try:
            scale = found.scale(unit)
        except units.NotUnderstood as fault:
            made.faults.append(_unit_fault(fault, made.typed_unit, where))
            return
        form = scale.form
        made.quantity, made.scale, made.unit = found, scale, form.unit
        made.factor, made.offset = scale.factor, scale.offset
        (made.low, made.high), (made.usual_low, made.usual_high) = form.possible, form.plausible
        self._ranges_of_point(made)
        self._basis(made, word, basis)

    def _ranges_of_point(self, made: Series) -> None:
        """A test point's own ranges rule for readings that name it."""
        point = self.house.facility.points.get(made.point)
        if point is None or made.quantity is None or made.unit != made.quantity.unit:
            return
        if glossary.quantity(point.quantity) is not made.quantity:
            return
        if point.possible is not None:
            made.low, made.high = point.possible.low, point.possible.high
        if point.expected is not None:
            made.usual_low, made.usual_high = point.expected.low, point.expected.high

    def _basis(self, made: Series, word: str, told: str) -> None:
        """As N or as the ion: kept as not told where nothing says it, and never guessed."""
        found, scale = made.quantity, made.scale
        if found is None or scale is None:
            return
        said = "" if scale.basis in found.own else scale.basis
        told = (
            told.strip() or glossary.implied_basis(word) or self.house.answers.get(f"basis:{found.word}", "")
        )
        made.basis = said or told
        if made.basis and made.basis not in found.basis:
            hint = "say " + " or ".join(f"'{one}'" for one in found.basis) if found.basis else "leave it out"
            text = f"{found.word} is not counted as {saying.shown(made.basis)}"
            made.faults.append(saying.stop("glossary/basis", text, hint, "basis"))
        elif not made.basis and found.asks and scale.form.kind != "amount concentration":
            made.marks = (BASIS_UNTOLD,)


class _Value(NamedTuple):
    value: float | None
    bound: str
    missing: str = ""
    quality: str = "good"
    marks: tuple[str, ...] = ()


def fold(name: str) -> str:
    """A name without the differences that mean nothing, among them two ways to write 'é'."""
    return glossary.fold(name if name.isascii() else unicodedata.normalize("NFC", name))


_LINES = re.compile(r"unit@(\d+)(?:-(\d+))?", re.ASCII)


def _told_units(answers: Mapping[str, str]) -> list[tuple[int, int, str]]:
    """Answers like ``unit@6-8=°F``: first line, last line, unit."""
    found: list[tuple[int, int, str]] = []
    for key, unit in answers.items():
        match = _LINES.fullmatch(key)
        if match is not None:
            found.append((int(match[1]), int(match[2] or match[1]), unit))
    return found


def _places(facility: model.Facility) -> tuple[str, ...]:
    return (*facility.vessels, *facility.points, *facility.equipment, *facility.runs)


def _meant(near: Sequence[str]) -> str:
    return f"did you mean {' or '.join(repr(name) for name in near)}?" if near else ""


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


def _unit_fault(fault: units.NotUnderstood, typed: str, where: str) -> Fault:
    if fault.code != "units/ambiguous-unit":
        return saying.refusal(fault, where)
    key = f"unit:{typed}"
    choices = fault.choices or ()
    said = f"unit {saying.shown(typed)} {fault.why}"
    hint = f"write {choices[0]!r}, or answer '{key}={choices[0]}'" if choices else fault.hint
    return saying.ask(fault.code, said, key, choices, where, hint)


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

"""Column headings: what each column of a file is, in long tables and in wide ones, and what must be asked."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from brinehouse import glossary, units
from brinehouse.facility import model
from brinehouse.logbook.intake import saying

FIELDS = (
    "time",
    "place",
    "quantity",
    "value",
    "unit",
    "method",
    "by",
    "note",
    "instrument",
    "depth",
    "basis",
    "date",
)
"""The columns of a long table. ``date`` is joined to ``time`` where a file has both."""

TIME, PLACE, QUANTITY, VALUE, UNIT, METHOD, BY, NOTE, INSTRUMENT, DEPTH, BASIS, DATE = range(12)

_OTHER_NAMES = {
    "time": ("timestamp", "date time", "datetime", "date/time", "date and time", "measured", "taken at"),
    "place": ("tank", "location", "where", "test point", "point"),
    "quantity": ("parameter", "what", "measurement"),
    "value": ("reading", "result"),
    "unit": ("units",),
    "method": ("how",),
    "by": ("who", "person", "taken by", "measured by", "initials"),
    "note": ("notes", "remark", "remarks", "comment", "comments"),
    "instrument": ("meter", "with"),
    "depth": ("depth below surface",),
    "basis": ("as", "counted as"),
    "date": ("day",),
}
_IN_BRACKETS = re.compile(r"(?P<name>.*?)\s*[(\[](?P<unit>[^()\[\]]*)[)\]]\s*")


def fold(name: str) -> str:
    """A heading without the differences that mean nothing."""
    return glossary.fold(name.replace("\ufeff", "").strip())


class Known:
    """The headings that are known."""

    fields = FIELDS

    def __init__(self) -> None:
        self._names = {other: name for name, others in _OTHER_NAMES.items() for other in (name, *others)}

    def field(self, name: str) -> str | None:
        """The field of a heading, or None."""
        return self._names.get(fold(name))

    def nearest(self, name: str) -> str | None:
        """The field that a heading nearly is."""
        near = glossary.nearest(name, FIELDS, 1)
        return near[0] if near else None

    def count(self, cells: Sequence[str]) -> int:
        """How many of some cells are headings."""
        return sum(self.is_heading(cell) for cell in cells)

    def is_heading(self, cell: str) -> bool:
        """Whether a cell is a field or a quantity, with its unit in brackets or without."""
        if not cell or len(cell) > 80 or cell[0].isdigit():
            return False
        name, _ = split(cell)
        return self.field(name) is not None or glossary.quantity(name) is not None


def split(heading: str) -> tuple[str, str]:
    """A heading's name and the unit in its brackets.

    >>> split("oxygen saturation (%)"), split("note")
    (('oxygen saturation', '%'), ('note', ''))
    """
    found = _IN_BRACKETS.fullmatch(heading)
    return (found["name"], found["unit"].strip()) if found else (heading.strip(), "")


@dataclass(frozen=True, slots=True)
class Column:
    """One column of values in a wide table."""

    index: int
    heading: str
    quantity: str
    unit: str
    place: str = ""
    instrument: str = ""
    basis: str = ""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where each field stands in a row; -1 where the file has no such column."""

    index: tuple[int, ...]
    wide: tuple[Column, ...] = ()
    zone: str = ""  # of the time column, where its heading names one: time (UTC)
    depth_unit: str = ""
    faults: tuple[saying.Fault, ...] = ()
    questions: tuple[saying.Fault, ...] = ()


@dataclass(slots=True)
class _Work:
    index: list[int] = field(default_factory=lambda: [-1] * len(FIELDS))
    wide: list[Column] = field(default_factory=list[Column])
    faults: list[saying.Fault] = field(default_factory=list[saying.Fault])
    questions: list[saying.Fault] = field(default_factory=list[saying.Fault])
    zone: str = ""
    depth_unit: str = ""


def lay_out(
    header: Sequence[str], known: Known, facility: model.Facility, answers: Mapping[str, str]
) -> Layout:
    """What each column is.

    Parameters
    ----------
    header : sequence of str
    known : Known
    facility : Facility
        Whose places and instruments a map may name.
    answers : mapping
        ``map:HEADING`` to what a person said it is; ``at``, ``by``, ``with`` for the whole file.
    """
    work = _Work()
    maps = {fold(key[4:]): text for key, text in answers.items() if key.startswith("map:")}
    unknown: list[tuple[int, str]] = []
    for index, heading in enumerate(header):
        told = maps.pop(fold(heading), "")
        if told:
            _mapped(work, index, heading, told, known, facility)
        elif heading.strip() and not _by_name(work, index, heading, known):
            unknown.append((index, heading))
    for left in maps:
        said = f"the file has no column {saying.shown(left)}"
        work.faults.append(saying.stop("intake/no-column", said, f"columns are {_listed(header)}"))
    long = work.index[VALUE] >= 0 or work.index[QUANTITY] >= 0 or not work.wide
    if long:
        unknown += [(column.index, column.heading) for column in work.wide]
    else:
        _units_of(work, answers)
    _sort_out_unknown(work, unknown, known, facility, long=long)
    _required(work, answers, header, long=long)
    return Layout(
        tuple(work.index), () if long else tuple(work.wide), work.zone, work.depth_unit,
        tuple(work.faults), tuple(work.questions),
    )  # fmt: skip


def _by_name(work: _Work, index: int, heading: str, known: Known) -> bool:
    name, unit = split(heading)
    what = known.field(name) or known.field(heading)
    if what is not None:
        at = FIELDS.index(what)
        if work.index[at] >= 0:
            said = f"two columns are called '{what}'"
            work.faults.append(saying.stop("intake/doubled-column", said, "give each its own name", what))
        work.index[at] = index
        if what == "time" and unit:
            work.zone = unit
        if what == "depth":
            work.depth_unit = unit
        return True
    found = glossary.quantity(name)
    if found is None:
        return False
    if any(column.heading == heading for column in work.wide):
        said = f"two columns are called {saying.shown(heading)}"
        work.faults.append(saying.stop("intake/doubled-column", said, "give each its own name", heading[:40]))
    work.wide.append(Column(index, heading, name, unit))
    return True


def _mapped(work: _Work, index: int, heading: str, told: str, known: Known, facility: model.Facility) -> None:
    """A column as a person said what it is: ``QUANTITY[, at PLACE][, with METER][, in UNIT][, as BASIS]``."""
    first, *rest = [part.strip() for part in told.split(",")]
    if fold(first) in {"leave out", "nothing"}:
        return
    parts: dict[str, str] = {}
    for part in rest:
        word, _, what = part.partition(" ")
        if word not in {"at", "with", "in", "as"} or not what.strip():
            said = f"the map of {saying.shown(heading)} has {saying.shown(part)}"
            hint = "write it like 'temperature, at T-1, with gauge-2, in °C'"
            work.faults.append(saying.stop("intake/bad-map", said, hint, heading[:40]))
            return
        parts[word] = what.strip()
    name = known.field(first)
    if name is not None:
        work.index[FIELDS.index(name)] = index
        return
    if glossary.quantity(first) is None:
        near = glossary.nearest(first)
        hint = f"did you mean '{near[0]}'?" if near else "write a quantity, or 'leave out'"
        said = f"{saying.shown(first)} is not a quantity known here"
        work.faults.append(saying.stop("glossary/unknown-quantity", said, hint, heading[:40]))
        return
    if "with" in parts and parts["with"] not in facility.instruments:
        work.faults.append(_no_instrument(parts["with"], facility, heading))
        return
    unit = parts.get("in", "") or split(heading)[1]
    work.wide.append(
        Column(index, heading, first, unit, parts.get("at", ""), parts.get("with", ""), parts.get("as", ""))
    )


def _no_instrument(name: str, facility: model.Facility, heading: str) -> saying.Fault:
    near = glossary.nearest(name, list(facility.instruments))
    hint = f"did you mean '{near[0]}'?" if near else "add it to the facility file as an instrument"
    said = f"{saying.shown(name)} is not an instrument of this facility"
    return saying.stop("intake/unknown-instrument", said, hint, heading[:40])


def _units_of(work: _Work, answers: Mapping[str, str]) -> None:
    """Ask once for the unit of a column in which no row could be read without it."""
    for column in work.wide:
        found = glossary.find(column.quantity)
        try:
            found.scale(answers.get(f"unit:{column.unit}", column.unit))
        except units.NotUnderstood as fault:
            head = saying.shown(column.heading)
            said = (
                f"column {head}: {fault.why}"
                if not column.unit
                else f"column {head}: {column.unit} {fault.why}"
            )
            choices = tuple(f"{column.quantity}, in {one}" for one in fault.choices)
            hint = f"say it with --map '{column.heading[:80]}={choices[0] if choices else '...'}'"
            key = f"map:{column.heading[:80]}"
            work.questions.append(saying.ask(fault.code, said, key, choices, column.heading[:40], hint))


def _likely(heading: str, facility: model.Facility) -> str:
    """What a heading like ``T-1 temperature (°C)`` seems to say, as a map; a person confirms it."""
    name, unit = split(heading)
    rest = f" {fold(name)} "
    place = next((one for one in (*facility.points, *facility.vessels) if f" {fold(one)} " in rest), "")
    rest = rest.replace(f" {fold(place)} ", " ") if place else rest
    found = glossary.quantity(rest.strip(" -:/"))
    near = [found.word] if found else glossary.nearest(rest)
    if not near:
        return ""
    return near[0] + (f", at {place}" if place else "") + (f", in {unit}" if unit else "")


def _sort_out_unknown(
    work: _Work, unknown: list[tuple[int, str]], known: Known, facility: model.Facility, *, long: bool
) -> None:
    for _, heading in unknown:
        near = known.nearest(heading) if long else None
        if near is not None and work.index[FIELDS.index(near)] < 0:
            said = f"{saying.shown(heading)} is not a column known here"
            work.faults.append(saying.stop("intake/unknown-column", said, f"did you mean '{near}'?", near))
            work.index[FIELDS.index(near)] = len(FIELDS) * 1000
            continue
        likely = _likely(heading, facility)
        choice = (likely, "leave out") if likely else ("leave out",)
        said = f"what the column {saying.shown(heading)} holds is not known"
        key = f"map:{heading[:80]}"
        work.questions.append(saying.ask("intake/unknown-column", said, key, choice, heading[:40],
            f"say what it is with --map '{heading[:80]}={choice[0]}'"))  # fmt: skip


def _required(work: _Work, answers: Mapping[str, str], header: Sequence[str], *, long: bool) -> None:
    """What no reading can be without."""
    if work.index[TIME] < 0 and work.index[DATE] >= 0:
        work.index[TIME], work.index[DATE] = work.index[DATE], -1
    needed = (TIME, QUANTITY, VALUE) if long else (TIME,)
    for at in needed:
        if work.index[at] < 0 and not work.faults:
            said = f"the file has no column '{FIELDS[at]}'"
            hint = f"its columns are {_listed(header)}; name one with --map 'COLUMN={FIELDS[at]}'"
            work.faults.append(saying.stop("intake/no-column", said, hint, FIELDS[at]))
    if work.faults:
        return
    placed = (
        work.index[PLACE] >= 0 or answers.get("at") or (work.wide and all(one.place for one in work.wide))
    )
    if not placed:
        said = "the file does not say where its readings were taken"
        work.questions.append(
            saying.ask("intake/no-place", said, "at", (), "place", "say it with --at PLACE")
        )
    if work.index[BY] < 0 and not answers.get("by"):
        said = "the file does not say who took its readings"
        hint = "say it with --by NAME; 'logger' is an automatic source"
        work.questions.append(saying.ask("intake/no-person", said, "by", (), "by", hint))


def _listed(header: Sequence[str]) -> str:
    return ", ".join(saying.shown(name) for name in header[:12] if name.strip())

"""What rows alike have in common: place, quantity, unit, person, method, looked up once for all of them."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from brinehouse import glossary, units
from brinehouse.facility import model
from brinehouse.logbook.intake import headings, saying
from brinehouse.logbook.intake.saying import Fault

METHODS = (
    "probe", "meter", "refractometer", "photometer", "titration", "test kit", "gauge", "optode", "hydrometer",
)  # fmt: skip
AUTOMATIC = frozenset({"logger", "sensor"})
"""Names in the ``by`` column that are no person."""

BASIS_UNTOLD = "intake/basis-not-told"


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


class Maker:
    """Makes the series of one file."""

    def __init__(self, house: House, layout: headings.Layout) -> None:
        self.house = house
        self.layout = layout
        self._made = 0
        self._places = {fold(name): name for name in _places(house.facility)}
        self._has = tuple(at >= 0 for at in layout.index)

    def make(self, key: tuple[str, ...], column: headings.Column | None) -> Series:
        """The series of a row, from its place, quantity, unit and the rest that `judging` looks at."""
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
        made.quantity, made.unit = found, found.unit
        unit = self.house.answers.get(f"unit:{made.typed_unit}", made.typed_unit)
        try:
            scale = found.scale(unit)
        except units.NotUnderstood as fault:
            made.faults.append(_unit_fault(fault, made.typed_unit, where))
            return
        form = scale.form
        made.scale, made.unit = scale, form.unit
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


def fold(name: str) -> str:
    """A name without the differences that mean nothing, among them two ways to write 'é'."""
    return glossary.fold(name if name.isascii() else unicodedata.normalize("NFC", name))


def _places(facility: model.Facility) -> tuple[str, ...]:
    return (*facility.vessels, *facility.points, *facility.equipment, *facility.runs)


def _meant(near: Sequence[str]) -> str:
    return f"did you mean {' or '.join(repr(name) for name in near)}?" if near else ""


def _unit_fault(fault: units.NotUnderstood, typed: str, where: str) -> Fault:
    if fault.code != "units/ambiguous-unit":
        return saying.refusal(fault, where)
    key = f"unit:{typed}"
    choices = fault.choices or ()
    said = f"unit {saying.shown(typed)} {fault.why}"
    hint = f"write {choices[0]!r}, or answer '{key}={choices[0]}'" if choices else fault.hint
    return saying.ask(fault.code, said, key, choices, where, hint)

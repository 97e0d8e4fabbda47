"""Every quantity once: its word, symbol, unit, meaning, and what it can and usually will be."""

from __future__ import annotations

import difflib
import functools
import importlib.resources
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from brinehouse import units

State = Literal["good", "unusual", "impossible"]

UNUSUAL = "glossary/unusual"
"""The mark of a reading that is kept although its value is unusual."""


@dataclass(frozen=True, slots=True)
class Form:
    """One kind of unit that a quantity is kept in, with its ranges in that unit."""

    unit: str
    kind: str
    possible: tuple[float, float]
    plausible: tuple[float, float]
    decimals: int

    def judge(self, value: float, bound: str = "") -> State:
        """What a value in this form's unit is: good, unusual or impossible; a bound only by its safe side."""
        low, high = self.possible
        if (value < low and bound != ">") or (value > high and bound != "<"):
            return "impossible"
        low, high = self.plausible
        if (value < low and bound != ">") or (value > high and bound != "<"):
            return "unusual"
        return "good"


@dataclass(frozen=True, slots=True)
class Scale:
    """How values in a typed unit become those of a form: ``value * factor + offset``."""

    form: Form
    factor: float
    offset: float
    basis: str
    notes: tuple[str, ...]

    def __call__(self, value: float) -> float:
        """The value in the form's unit; unchanged where it was typed in it."""
        if self.factor == 1.0 and self.offset == 0.0:
            return value
        return value * self.factor + self.offset


@dataclass(frozen=True, slots=True)
class Understood:
    """A reading as understood.

    Attributes
    ----------
    value : float
        In `unit`.
    unit : str
        The unit it is kept in.
    basis : str
        What it is counted as.
    bound : str
        ``<`` or ``>`` where the value is only a bound.
    decimals : int
        As typed.
    state : State
        ``good`` or ``unusual``.
    notes : tuple of str
        What was assumed.
    """

    value: float
    unit: str
    basis: str
    bound: str
    decimals: int
    state: State
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity.

    Attributes
    ----------
    word : str
        The one word for it, everywhere.
    symbol : str
        As the field writes it.
    meaning : str
        One line.
    forms : tuple of Form
        The unit it is kept in, and further kinds of unit where it has them; the first rules.
    aliases : tuple of str
        Other names people use.
    basis : tuple of str
        What the amount may be counted as.
    asks : bool
        Whether the basis must be told.
    named : mapping
        Aliases that say the basis.
    needs : mapping
        Kinds of unit that could be converted, and what that takes.
    own : tuple of str
        What a unit may say besides and is plain anyway: ``mg/L O2`` of oxygen.
    """

    word: str
    symbol: str
    meaning: str
    forms: tuple[Form, ...]
    aliases: tuple[str, ...] = ()
    basis: tuple[str, ...] = ()
    asks: bool = False
    named: Mapping[str, str] = field(default_factory=dict[str, str])
    needs: Mapping[str, str] = field(default_factory=dict[str, str])
    own: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """The unit it is kept in."""
        return self.forms[0].unit

    @property
    def kind(self) -> str:
        """The kind of that unit."""
        return self.forms[0].kind

    @property
    def kinds(self) -> tuple[str, ...]:
        """Every kind of unit it accepts."""
        return tuple(form.kind for form in self.forms)

    @property
    def possible(self) -> tuple[float, float]:
        """The lowest and highest value there can be, in its unit."""
        return self.forms[0].possible

    @property
    def plausible(self) -> tuple[float, float]:
        """The lowest and highest usual value, in its unit."""
        return self.forms[0].plausible

    @property
    def decimals(self) -> int:
        """Decimal places it is shown with."""
        return self.forms[0].decimals

    def form(self, unit: str) -> Form:
        """The form whose unit or kind of unit this is; the first where it is neither."""
        for form in self.forms:
            if form.unit == unit:
                return form
        kinds = {found.kind for found in units.meanings(unit)}
        return next((form for form in self.forms if form.kind in kinds), self.forms[0])

    def scale(self, unit: str) -> Scale:
        """How values typed in a unit are kept; cached, so a file asks once for each spelling.

        Raises
        ------
        NotUnderstood
            For a unit that is missing, unknown, ambiguous or of another kind.
        """
        return _scale(self.word, unit)

    def judge(self, value: float, unit: str = "") -> State:
        """Whether a value can be (``impossible``), is ``unusual`` or ``good``.

        >>> quantity("temperature").judge(31.5), quantity("temperature").judge(-400, "°C")
        ('unusual', 'impossible')
        """
        scale = self.scale(unit or self.unit)
        return scale.form.judge(scale(value))

    def understand(self, text: str, unit: str = "", basis: str = "", *, decimal: str = ".") -> Understood:
        """A reading as typed, number and unit together or apart, as it is kept.

        Parameters
        ----------
        text : str
            ``24.6``, ``<0.05``, or with its unit ``24.6 °C`` where `unit` is empty.
        unit : str, optional
            The unit as its own column or box gives it.
        basis : str, optional
            What the amount is counted as, where the unit does not say so.
        decimal : str
            ``.`` or ``,``.

        Returns
        -------
        Understood
            Value and unit as kept, with state ``good`` or ``unusual``.

        Raises
        ------
        NotUnderstood
            With the code that says what is missing or wrong.

        Examples
        --------
        >>> quantity("temperature").understand("76.3", "degF").value
        24.6
        >>> quantity("nitrate").understand("12 mg/L as N").basis
        'N'
        """
        if unit:
            number, written = units.read_number(text, decimal=decimal), unit
        else:
            number, written = units.split_amount(text, decimal=decimal)
        scale = self.scale(written)
        value = scale(number.value)
        state = scale.form.judge(value, number.bound)
        if state == "impossible":
            raise _impossible(self, scale.form, scale, number.value, text)
        counted = self._counted_as(scale, basis, text)
        return Understood(
            value, scale.form.unit, counted, number.bound, number.decimals, state, number.notes + scale.notes
        )

    def _counted_as(self, scale: Scale, basis: str, text: str) -> str:
        said = ("" if scale.basis in self.own else scale.basis) or basis
        if said and said not in self.basis:
            why = f"is counted as {said}, which {self.word} is not"
            hint = "say " + _either(self.basis) if self.basis else f"write '{scale.form.unit}' alone"
            raise units.NotUnderstood("glossary/basis", text, why, hint, self.basis)
        if said or not self.asks or scale.form.kind == "amount concentration":
            return said
        why = f"does not say what the {self.word} is counted as"
        raise units.NotUnderstood("glossary/basis", text, why, "say " + _either(self.basis), self.basis)


@dataclass(frozen=True, slots=True)
class Argument:
    """An argument of the science floor: its name, unit (``-`` for none) and meaning."""

    name: str
    unit: str
    meaning: str


def quantity(word: str) -> Quantity | None:
    """The quantity of a word or one of its aliases; None where there is none.

    >>> quantity("TGP").word, quantity("dissolved oxygen").unit
    ('total gas pressure', 'mg/L')
    """
    return _by_name().get(fold(word))


def find(word: str) -> Quantity:
    """The quantity of a word or one of its aliases.

    Raises
    ------
    NotUnderstood
        Where there is none, with the nearest words.

    Examples
    --------
    >>> find("DO").word
    'oxygen'
    """
    found = quantity(word)
    if found is not None:
        return found
    near = tuple(nearest(word))
    hint = (
        "did you mean " + _either(near) + "?"
        if near
        else "write one of the words of the glossary, e.g. 'temperature'"
    )
    raise units.NotUnderstood("glossary/unknown-quantity", word, "is not a quantity known here", hint, near)


def quantities() -> tuple[Quantity, ...]:
    """Every quantity, in the order of the file."""
    return _load()[0]


def arguments() -> tuple[Argument, ...]:
    """Every argument of the science floor."""
    return _load()[1]


def implied_basis(word: str) -> str:
    """What a name itself says the amount is counted as.

    >>> implied_basis("nitrate N"), implied_basis("nitrate")
    ('N', '')
    """
    found = quantity(word)
    return "" if found is None else found.named.get(fold(word), "")


def words() -> tuple[str, ...]:
    """The word of each quantity."""
    return tuple(found.word for found in quantities())


def nearest(word: str, candidates: Iterable[str] | None = None, count: int = 3) -> list[str]:
    """The candidates most like a word, nearest first; without candidates, quantities by any of their names.

    >>> nearest("temprature")
    ['temperature', 'air temperature']
    >>> nearest("flwo", ["flow", "from", "to"])
    ['flow']
    """
    if candidates is None:
        close = difflib.get_close_matches(fold(word), list(_by_name()), n=count * 3, cutoff=0.7)
        return list(dict.fromkeys(_by_name()[name].word for name in close))[:count]
    names: dict[str, str] = {}
    for name in candidates:
        names.setdefault(fold(name), name)
    return [names[name] for name in difflib.get_close_matches(fold(word), list(names), n=count, cutoff=0.6)]


def fold(word: str) -> str:
    """A name without the differences that mean nothing: case, underscores, blanks in a row."""
    return " ".join(word.replace("_", " ").casefold().split())


def _either(choices: tuple[str, ...]) -> str:
    return " or ".join(f"'{choice}'" for choice in choices)


def _impossible(found: Quantity, form: Form, scale: Scale, number: float, text: str) -> units.NotUnderstood:
    """Refused with the physical limits, and with the other unit it may have been typed in."""
    low, high = (units.format_amount(end, form.unit) for end in form.possible)
    hint = "look again at the value and its unit; if the meter shows it, write 'not measured' and why"
    choices: tuple[str, ...] = ()
    if form.unit == "°C" and scale.offset == 0.0:
        celsius = float(units.convert(number, "°F", "°C"))
        if form.judge(celsius) == "good":
            hint = f"{number:g} °F would be {celsius:.1f} °C: say which unit is meant; else {hint}"
            choices = ("°F",)
    return units.NotUnderstood(
        "glossary/impossible", text, f"is outside what {found.word} can be ({low} to {high})", hint, choices
    )


@functools.lru_cache(maxsize=4096)
def _scale(word: str, unit: str) -> Scale:
    found = _by_name()[fold(word)]
    for form in found.forms:
        met = [meaning for meaning in units.meanings(unit) if meaning.kind == form.kind]
        if met:
            end = units.unit(form.unit, form.kind)
            factor = met[0].factor / end.factor
            offset = (met[0].offset - end.offset) / end.factor
            notes = (met[0].note,) if met[0].note else ()
            return Scale(form, factor, offset, met[0].basis, notes)
    for meaning in units.meanings(unit):
        if unit.strip() and meaning.kind in found.needs:
            why = f"is a unit of {meaning.kind}; to read it as {found.word} takes {found.needs[meaning.kind]}"
            known = tuple(form.unit for form in found.forms)
            hint = "write " + " or ".join(f"'{symbol}'" for symbol in known)
            raise units.NotUnderstood("units/wrong-kind", unit, why, hint, known)
    units.unit(unit, found.kind)
    raise AssertionError(unit)


@functools.cache
def _by_name() -> dict[str, Quantity]:
    found: dict[str, Quantity] = {}
    for entry in quantities():
        for name in (entry.word, *entry.aliases, *entry.named):
            found.setdefault(fold(name), entry)
    return found


@functools.cache
def _load() -> tuple[tuple[Quantity, ...], tuple[Argument, ...]]:
    page = importlib.resources.files("brinehouse").joinpath("glossary.toml").read_text("utf-8")
    data = tomllib.loads(page)
    return (
        tuple(_quantity(word, entry) for word, entry in data["quantity"].items()),
        tuple(Argument(name, entry["unit"], entry["meaning"]) for name, entry in data["argument"].items()),
    )


def _quantity(word: str, entry: Mapping[str, Any]) -> Quantity:
    return Quantity(
        word=word,
        symbol=entry["symbol"],
        meaning=entry["meaning"],
        forms=tuple(_form(form) for form in (entry, *entry.get("also", ()))),
        aliases=tuple(entry.get("aliases", ())),
        basis=tuple(entry.get("basis", ())),
        asks=bool(entry.get("asks", False)),
        named={fold(name): basis for name, basis in entry.get("named", {}).items()},
        needs=dict(entry.get("needs", {})),
        own=tuple(entry.get("own", ())),
    )


def _form(entry: Mapping[str, Any]) -> Form:
    unit = entry["unit"]
    kind = entry.get("kind") or units.unit(unit).kind
    low, high = entry["possible"]
    usual_low, usual_high = entry["plausible"]
    return Form(
        unit, kind, (float(low), float(high)), (float(usual_low), float(usual_high)), entry["decimals"]
    )

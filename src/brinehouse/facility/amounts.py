"""Written amounts, bands and quantities of the facility file: a value, or a `Fault` that says why not."""

from __future__ import annotations

import re
import typing
from dataclasses import dataclass

from brinehouse import glossary, units
from brinehouse.facility import alike, hidden, model


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a value is not taken: what is wrong with it, and what would be right."""

    code: str
    why: str
    hint: str


_ABOVE = re.compile(r"\s*(?:above|over|>)\s*(?P<high>.+?)\s*", re.IGNORECASE | re.DOTALL)
_BELOW = re.compile(r"\s*(?:below|under|<)\s*(?P<low>.+?)\s*", re.IGNORECASE | re.DOTALL)
_BOTH = re.compile(
    r"\s*(?:below|under|<)\s*(?P<low>.+?)\s*(?:,\s*|\s)or\s+(?:above|over|>)\s*(?P<high>.+?)\s*",
    re.IGNORECASE | re.DOTALL,
)
_SPAN = re.compile(r"\s*(?:outside\s+)?(?P<low>.+?)\s+to\s+(?P<high>.+?)\s*", re.IGNORECASE | re.DOTALL)
_BARE = re.compile(r"[+\-\u2212]?\d+(?:[.,]\d+)?")
BAND_HINT = "write 'above 101 %', 'below 7.8', 'below 7.8 or above 8.4' or '24 °C to 26 °C'"


def read(text: str, kind: str) -> float | Fault:
    """An amount of a kind, in the base unit of that kind.

    >>> read("48 m3/h", "flow")
    0.0133
    >>> read("2100 gal", "volume").code
    'facility/amount'
    """
    found = amount(text, kind)
    return found if isinstance(found, Fault) else found.si()


def amount(text: str, kind: str) -> units.Amount | Fault:
    """An amount of a kind, in the unit it was written in; a bound is none."""
    try:
        found = units.read_amount(text, kind)
    except units.NotUnderstood as refused:
        return _fault(text, refused)
    if found.bound:
        return Fault("facility/amount", f"'{hidden.visible(text)}' is a bound", "write the amount itself")
    return found


def _fault(text: str, refused: units.NotUnderstood) -> Fault:
    shown = hidden.visible(text.strip())
    if _BARE.fullmatch(text.strip()) and "unit" in refused.code:
        return Fault("facility/no-unit", "has no unit", refused.hint)
    if not shown:
        return Fault("facility/amount", "is empty", refused.hint)
    found = refused.found.strip()
    why = refused.why if not found or found == text.strip() else f"'{found}' {refused.why}"
    return Fault(
        "facility/amount", f"is '{shown}': {hidden.visible(why, 200)}", hidden.visible(refused.hint, 200)
    )


def fraction(text: str) -> float | Fault:
    """A percentage as a fraction.

    >>> fraction("2 %")
    0.02
    """
    found = amount(text, "percent")
    if isinstance(found, Fault):
        return found
    if not 0 <= found.value <= 100:
        return Fault("facility/amount", f"'{hidden.visible(text)}' is not between 0 and 100 %", 'write "2 %"')
    return found.value / 100


def quantity(text: str) -> str | Fault:
    """A quantity as the glossary writes it.

    >>> quantity("TGP")
    'total gas pressure'
    """
    found = glossary.quantity(text)
    if found is not None:
        return found.word
    hint = alike.offer(glossary.nearest(text)) or "write a word of the glossary, as 'temperature' or 'oxygen'"
    return Fault("facility/unknown-quantity", f"'{hidden.visible(text)}' is not a quantity we know", hint)


def unit(text: str, word: str) -> str | Fault:
    """A unit that fits a quantity, as its symbol.

    >>> unit("degC", "temperature")
    '°C'
    >>> unit("degrees", "temperature").why
    "'degrees' is not a unit of temperature"
    """
    entry = glossary.quantity(word) if word else None
    refusals: list[units.NotUnderstood] = []
    for kind in entry.kinds if entry is not None else (None,):
        try:
            return units.unit(text, kind).symbol
        except units.NotUnderstood as refused:
            refusals.append(refused)
    why = f"'{hidden.visible(text)}' is not a unit" + (f" of {entry.word}" if entry is not None else "")
    return Fault("facility/unit", why, hidden.visible(refusals[0].hint, 200))


def value(text: str, word: str) -> float | Fault:
    """An amount of a quantity, in the glossary's unit.

    >>> value("77 °F", "temperature")
    25.0
    >>> value("80 µmol/kg", "oxygen").hint
    "write it in 'mg/L'"
    """
    entry = glossary.quantity(word)
    if entry is None:
        return Fault("facility/unknown-quantity", f"'{hidden.visible(word)}' is not a quantity we know", "")
    try:
        number, written = units.split_amount(text)
        scale = entry.scale(written)
    except units.NotUnderstood as refused:
        return _fault(text, refused)
    if number.bound:
        return Fault("facility/amount", f"'{hidden.visible(text)}' is a bound", "write the amount itself")
    if scale.form is not entry.forms[0]:
        why = f"'{hidden.visible(text)}' cannot be compared with {entry.word} in '{entry.unit}'"
        return Fault("facility/unit", why, f"write it in '{entry.unit}'")
    return scale(number.value)


def basis(text: str, word: str) -> str:
    """What a written limit is counted as; ``?`` where its quantity asks and the text does not say.

    >>> basis("above 5 mg/L as N", "nitrate"), basis("above 5 mg/L", "nitrate"), basis("above 5", "pH")
    ('N', '?', '')
    """
    entry = glossary.quantity(word)
    if entry is None or not entry.basis:
        return ""
    for piece in re.split(r"\s+(?:to|or)\s+", text):
        written = re.sub(r"^\D*[\d.,]+\s*", "", piece.strip())
        for meaning in units.meanings(written):
            if meaning.basis:
                return meaning.basis
    return "?" if entry.asks else ""


def accuracy(text: str, word: str) -> units.Amount | Fault:
    """A stated accuracy or a last digit: a difference of the quantity, or a percentage.

    >>> accuracy("0.2 °F", "temperature").kind
    'temperature difference'
    """
    entry = glossary.quantity(word)
    kinds = list(entry.kinds) if entry is not None else []
    if "temperature" in kinds:
        kinds.insert(0, "temperature difference")
    written = re.sub(r"^\s*(?:±|\+/?-)\s*", "", text)
    first: Fault | None = None
    for kind in (*kinds, "percent"):
        found = amount(written, kind)
        if not isinstance(found, Fault):
            if found.value > 0:
                return found
            hint = "write it without sign: '0.2 mg/L'"
            return Fault("facility/amount", f"'{hidden.visible(text)}' is not above zero", hint)
        first = first or found
    return first or Fault(
        "facility/amount", f"'{hidden.visible(text)}' is not understood", "write '0.2 mg/L'"
    )


def width(text: str, word: str) -> float | Fault:
    """How wide something is, in the unit the quantity is kept in.

    >>> round(width("0.9 °F", "temperature"), 3), width("0.3 %", "total gas pressure")
    (0.5, 0.3)
    """
    entry, found = glossary.quantity(word), accuracy(text, word)
    if isinstance(found, Fault) or entry is None or found.unit == entry.unit:
        return found if isinstance(found, Fault) else found.value
    try:
        ends = [units.convert(value, found.unit, entry.unit) for value in (found.value, 0.0)]
    except units.NotUnderstood:
        hint = f"write it in {entry.unit}, or in a unit of the same kind"
        return Fault("facility/amount", f"'{hidden.visible(text)}' is no width of {word}", hint)
    return abs(ends[0] - ends[1])


def band(text: str, word: str) -> model.Band | Fault:
    """The values that do not cross a limit.

    >>> band("above 26 °C", "temperature")
    Band(low=None, high=26.0)
    >>> band("24 °C to 26 °C", "temperature")
    Band(low=24.0, high=26.0)
    """
    for shape in (_BOTH, _ABOVE, _BELOW, _SPAN):
        hit = shape.fullmatch(text)
        if hit is None:
            continue
        ends: dict[str, float | None] = {"low": None, "high": None}
        for end, written in hit.groupdict().items():
            got = value(_with_unit(written, hit.groupdict().get("high") or ""), word)
            if isinstance(got, Fault):
                return got
            ends[end] = got
        return model.Band(low=ends["low"], high=ends["high"])
    return Fault("facility/band", f"'{hidden.visible(text)}' is not a band", BAND_HINT)


def _with_unit(low: str, high: str) -> str:
    """``24`` of ``24 to 26 °C`` shares the unit of the other end."""
    if _BARE.fullmatch(low.strip()):
        tail = re.sub(r"^\s*[+\-\u2212]?[\d.,]+", "", high).strip()
        return f"{low} {tail}".strip()
    return low


def display(wishes: typing.Mapping[str, object]) -> list[tuple[str, Fault]]:
    """What is wrong with the units people want to see, each with the word it stands at."""
    hints = typing.get_type_hints(units.Display)
    faults: list[tuple[str, Fault]] = []
    for name, wish in wishes.items():
        if name not in hints:
            hint = alike.offer(alike.meant(name, hints)) or "the words are: " + ", ".join(hints)
            faults.append(
                (name, Fault("facility/unknown-word", f"'{hidden.visible(name)}' is not a word for it", hint))
            )
        elif wish not in (choices := typing.get_args(hints[name])):
            hint = "write one of " + ", ".join(f"'{choice}'" for choice in choices)
            faults.append(
                (name, Fault("facility/unit", f"'{hidden.visible(str(wish))}' cannot be shown", hint))
            )
    return faults

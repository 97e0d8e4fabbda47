"""Written amounts, a number and its unit, to the table's units and back."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from brinehouse.units import faults, numbers, spelling, table

_AMOUNT = re.compile(
    r"(?P<number>(?:<=|>=|[<>≤≥])?\s*[+\-\u2212]?\d+(?:[.,]\d+)*(?:[eE][+\-]?\d+)?)(?P<gap>\s*)(?P<unit>.*)",
    re.ASCII | re.DOTALL,
)
_NEARLY = re.compile(r"(?P<number>.*\d|\S+)\s*[^\W\d_°º%‰][^\d]*[23]?", re.ASCII)
_UNIT_START = re.compile(r"(?:1\s*)?/\s*[^\W\d_]|1/100 ?m|[^\W\d_]|[°º%‰℃℉µμ(]")


@dataclass(frozen=True, slots=True)
class Amount:
    """A number with its unit.

    Attributes
    ----------
    value : float
        In `unit`.
    unit : str
        The table's symbol.
    kind : str
        What it is an amount of.
    text : str
        As typed.
    bound : str
        ``<`` or ``>`` where the value is only a bound.
    decimals : int
        Decimal places as typed.
    basis : str
        What it is counted as, where the text said so: ``N``, ``ion``, ``gauge`` ...
    notes : tuple of str
        What was assumed in reading it.
    """

    value: float
    unit: str
    kind: str
    text: str = ""
    bound: str = ""
    decimals: int = 0
    basis: str = ""
    notes: tuple[str, ...] = ()

    def to(self, unit: str) -> float:
        """The value in another unit of the same kind.

        >>> round(read_amount("84 °F").to("°C"), 2)
        28.89
        """
        return float(
            _between(self.value, spelling.unit(self.unit, self.kind), spelling.unit(unit, self.kind))
        )

    def si(self) -> float:
        """The value in the base of its kind: SI, or the field's own (°C, PSU, mg/L, mV, %)."""
        found = spelling.unit(self.unit, self.kind)
        return self.value * found.factor + found.offset


def read_amount(text: str, kind: str | None = None, *, decimal: str = ".") -> Amount:
    """A written amount: ``17 m3``, ``3 hp``, ``84 °F``, ``<0.02 mg/L``, ``104.5 %``.

    Parameters
    ----------
    text : str
        As typed.
    kind : str, optional
        What it must be an amount of.
    decimal : str
        ``.`` or ``,``.

    Returns
    -------
    Amount
        In the unit it was typed in; `Amount.si` and `Amount.to` convert.

    Raises
    ------
    NotUnderstood
        For a number that is none, a missing, unknown or ambiguous unit, or one of another kind.

    Examples
    --------
    >>> read_amount("17 m3", "volume")
    Amount(value=17.0, unit='m³', kind='volume', text='17 m3', bound='', decimals=0, basis='', notes=())
    >>> read_amount("3 hp").si()
    2237.1
    """
    number, written = split_amount(text, decimal=decimal)
    try:
        found = spelling.unit(written, kind)
    except faults.NotUnderstood as fault:
        raise _about(fault, text, written) from None
    notes = number.notes + ((found.note,) if found.note else ())
    return Amount(
        number.value, found.symbol, found.kind, text, number.bound, number.decimals, found.basis, notes
    )


def split_amount(text: str, *, decimal: str = ".") -> tuple[numbers.Number, str]:
    """The number of a written amount, and its unit as typed.

    Raises
    ------
    NotUnderstood
        Where there is no number, or what follows it cannot be a unit.

    Examples
    --------
    >>> split_amount("17 m3")[1]
    'm3'
    """
    body = text.strip()
    split = _AMOUNT.fullmatch(body)
    try:
        if split is not None and (not split["unit"] or _UNIT_START.match(split["unit"])):
            return numbers.read_number(split["number"].rstrip(), decimal=decimal), split["unit"]
        nearly = _NEARLY.fullmatch(body)
        numbers.read_number(nearly["number"] if nearly else body, decimal=decimal)
    except faults.NotUnderstood as fault:
        raise faults.NotUnderstood(fault.code, text, fault.why, fault.hint, fault.choices) from None
    raise faults.NotUnderstood("units/not-a-number", text, "is not a number and a unit", "write e.g. '17 m3'")


def _about(fault: faults.NotUnderstood, text: str, unit: str) -> faults.NotUnderstood:
    """The same fault, said of the whole text."""
    why = fault.why if not unit else f"'{unit}' {fault.why}"
    return faults.NotUnderstood(fault.code, text, why, fault.hint, fault.choices)


def convert(values: Any, from_unit: str, to_unit: str, kind: str | None = None) -> Any:
    """Values from one unit to another of the same kind.

    Parameters
    ----------
    values : float or ndarray
        In `from_unit`.
    from_unit, to_unit : str
        In any spelling.
    kind : str, optional
        Where a spelling has several kinds: ``temperature difference`` for an uncertainty.

    Returns
    -------
    float or ndarray
        In `to_unit`.

    Raises
    ------
    NotUnderstood
        Where the two are of no common kind.

    Examples
    --------
    >>> convert(1.0, "hp", "W")
    745.69987158
    >>> convert(1.0, "°F", "°C", "temperature difference")
    0.5556
    """
    start, end = pair(from_unit, to_unit, kind)
    return _between(values, start, end)


def pair(from_unit: str, to_unit: str, kind: str | None = None) -> tuple[table.Unit, table.Unit]:
    """Both units, of the first kind that they share."""
    start = spelling.unit(from_unit, kind)
    if kind is None:
        ends = {unit.kind for unit in spelling.meanings(to_unit)}
        shared = [unit for unit in spelling.meanings(from_unit) if unit.kind in ends]
        start = shared[0] if shared else start
    return start, spelling.unit(to_unit, start.kind)


def _between(values: Any, start: table.Unit, end: table.Unit) -> Any:
    if start.factor == end.factor and start.offset == end.offset:
        return values
    return (values * start.factor + (start.offset - end.offset)) / end.factor


def format_amount(value: float, unit: str, decimals: int | None = None) -> str:
    """A value and its unit as a person reads it, and as `read_amount` reads it back.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        A symbol; pH, ratios, counts and specific gravities stand without.
    decimals : int, optional
        Decimal places; without it, as many as the value needs.

    Returns
    -------
    str
        ``104.5 %``, ``24.60 °C``, ``8.1``.

    Examples
    --------
    >>> format_amount(24.6, "°C", 2), format_amount(8.1, "pH")
    ('24.60 °C', '8.1')
    """
    if decimals is None:
        number = repr(float(value))
        number = number.removesuffix(".0")
    else:
        number = f"{value:.{decimals}f}"
        if not number.strip("-0."):
            number = number.lstrip("-")
    return number if unit in {"pH", "1", "SG", ""} else f"{number} {unit}"

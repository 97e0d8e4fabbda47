"""Written numbers, by one strict grammar: what is not plainly one finite number is refused."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass

from brinehouse.units import faults

LONGEST = 40
"""Characters; a longer text is no reading."""

_PLAIN = re.compile(r"[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?", re.ASCII)
_COMMA = re.compile(r"[+-]?\d+(?:,\d+)?(?:[eE][+-]?\d+)?", re.ASCII)
_GROUPED = re.compile(
    r"[+-]?\d{1,3}(?P<sign>[,. '’\u00a0\u202f\u2009])\d{3}(?:(?P=sign)\d{3})*(?P<rest>[.,]\d+)?", re.ASCII
)
_EITHER = re.compile(r"[+-]?\d*[.,]\d+(?:[eE][+-]?\d+)?", re.ASCII)
_RANGE = re.compile(r"\s*[+-]?\d[\d.,]*\s*(?:-|–|—|to|\.\.\.|…)\s*\d[\d.,]*\s*", re.ASCII)
_ABOUT = re.compile(r"[~≈]|ca\b|c\.|about|approx|circa|around", re.IGNORECASE)
_FRACTION = re.compile(r"[+-]?(?:\d+\s+)?\d+\s*/\s*\d+", re.ASCII)
_HEX = re.compile(r"[+-]?0[xXoObB]\w+", re.ASCII)
_WITH_UNIT = re.compile(
    r"[+-]?\d+(?:[.,]\d+)?\s*[^\W\d_°º%‰℃℉µμ][^\d]*.*|[+-]?\d+(?:[.,]\d+)?\s*[°º%‰℃℉µμ].*", re.ASCII
)
_NOT_MEASURED = re.compile(r"not measured\s*(?::\s*(?P<a>.+)|\((?P<b>[^()]*)\))?", re.IGNORECASE | re.DOTALL)
_BOUNDS = {"<": "<", ">": ">", "≤": "<", "≥": ">", "<=": "<", ">=": ">"}
_BELOW_LIMIT = {
    "n.d.",
    "nd",
    "n.d",
    "not detected",
    "n/d",
    "bdl",
    "lod",
    "<lod",
    "<loq",
    "below detection",
    "trace",
}
_ABOVE_RANGE = {"over", "or", "overrange", "over range", "hi", "high", "ovr"}
_NOTHING = {
    "-",
    "--",
    "---",
    "–",
    "—",
    "#n/a",
    "n/a",
    "na",
    "null",
    "none",
    "?",
    "x",
    ".",
    "n.a.",
    "not done",
    "nm",
}
_SHEET = {
    "#div/0!",
    "#value!",
    "#ref!",
    "#name?",
    "#num!",
    "#null!",
    "#getting_data",
    "#spill!",
    "#calc!",
    "#error!",
}
_NOT_FINITE = {"nan", "inf", "infinity", "∞", "1.#inf", "1.#ind", "1.#qnan"}
"""Without their sign."""


@dataclass(frozen=True, slots=True)
class Number:
    """A number as written: ``24.60`` keeps its two decimals, ``<0.05`` its bound.

    Attributes
    ----------
    value : float
        Always finite.
    text : str
        As typed.
    bound : str
        ``<`` or ``>`` where the value is only a bound.
    decimals : int
        Decimal places as typed; ``2.46e1`` has one.
    notes : tuple of str
        What was assumed in reading it.
    """

    value: float
    text: str
    bound: str = ""
    decimals: int = 0
    notes: tuple[str, ...] = ()


def read_plain(text: str) -> float | None:
    """The fast path of intake: the value of a plain number, or None where `read_number` must look.

    >>> read_plain("24.60"), read_plain("<0.05"), read_plain("1_000")
    (24.6, None, None)
    """
    if len(text) > LONGEST or _PLAIN.fullmatch(text) is None:
        return None
    value = float(text)
    if value - value != 0.0 or (value == 0.0 and not _is_zero(text)):
        return None
    return value + 0.0


def read_missing(text: str) -> faults.Missing | None:
    """Whether a text says that nothing was measured: a blank, or the words, with a reason or without.

    >>> read_missing("not measured: probe in repair")
    Missing(text='not measured: probe in repair', why='probe in repair')
    >>> read_missing("24.6") is None
    True
    """
    bare = text.strip()
    if not bare:
        return faults.Missing(text)
    found = _NOT_MEASURED.fullmatch(bare)
    if found is None:
        return None
    return faults.Missing(text, (found["a"] or found["b"] or "").strip() or "not measured")


def read_entry(text: str, *, decimal: str = ".") -> Number | faults.Missing:
    """A cell of a form or a file: a number, or that nothing was measured.

    Raises
    ------
    NotUnderstood
        As `read_number` does.
    """
    return read_missing(text) or read_number(text, decimal=decimal)


def read_number(text: str, *, decimal: str = ".") -> Number:
    """A written number, with the decimal sign that its source is known to use.

    Parameters
    ----------
    text : str
        As typed.
    decimal : str
        ``.`` or ``,``.

    Returns
    -------
    Number
        Finite, with bound, decimals and notes.

    Raises
    ------
    NotUnderstood
        For anything that is not plainly one number; its hint says what would be.

    Examples
    --------
    >>> read_number("24.60")
    Number(value=24.6, text='24.60', bound='', decimals=2, notes=())
    >>> read_number("<0,05", decimal=",").bound
    '<'
    """
    if decimal not in {".", ","}:
        raise ValueError("decimal is '.' or ','")
    bound, body, notes = _prepare(text)
    grammar = _PLAIN if decimal == "." else _COMMA
    if len(text) > LONGEST or grammar.fullmatch(body) is None:
        raise _refusal(text, body, decimal)
    plain = body.replace(",", ".")
    value = float(plain)
    if math.isinf(value):
        raise faults.NotUnderstood(
            "units/not-finite", text, "is too large for a number", "write the value as measured"
        )
    if value == 0.0 and not _is_zero(plain):
        raise faults.NotUnderstood(
            "units/not-finite", text, "is too small to be told from zero", "write the value as measured"
        )
    return Number(value + 0.0, text, bound, _decimals(plain), notes)


def _is_zero(plain: str) -> bool:
    """Whether every digit before the exponent is nought."""
    return not plain.lower().partition("e")[0].strip("+-0.")


def _decimals(plain: str) -> int:
    mantissa, _, exponent = plain.lower().partition("e")
    typed = len(mantissa.partition(".")[2])
    return max(0, typed - int(exponent or 0))


def _prepare(text: str) -> tuple[str, str, tuple[str, ...]]:
    """Bound, body and notes: blanks at the ends go, a true minus sign becomes a plain one."""
    body, notes = text.strip(), ()
    if not body:
        raise faults.NotUnderstood(
            "units/blank", text, "is blank", "write a number, or 'not measured' and why"
        )
    bound = ""
    for sign in ("<=", ">=", "≤", "≥", "<", ">"):
        if body.startswith(sign):
            bound, body = _BOUNDS[sign], body[len(sign) :].lstrip(" ")
            if sign != bound:
                notes += (f"'{sign}' was read as '{bound}'",)
            break
    if body.startswith("\u2212"):
        body = "-" + body[1:]
        notes += ("the minus sign U+2212 was read as '-'",)
    return bound, body, notes


def _refusal(text: str, body: str, decimal: str) -> faults.NotUnderstood:
    """Why a text is not a number, and what would be."""
    word = text.strip().casefold()
    return (
        _as_word(text, word)
        or _too_long(text)
        or _decimal_sign(text, body, decimal)
        or _odd_character(text, body)
        or _shape(text, body, decimal)
    )


def _as_word(text: str, word: str) -> faults.NotUnderstood | None:
    code = "units/not-a-number"
    if word.lstrip("+-\u2212") in _NOT_FINITE:
        return faults.NotUnderstood(
            "units/not-finite", text, "is not a finite number", "write 'not measured' and why"
        )
    if word in _BELOW_LIMIT:
        return faults.NotUnderstood(
            code,
            text,
            "says that nothing was found, but not below which limit",
            "write '<' and the method's limit, e.g. '<0.02'",
        )
    if word in _ABOVE_RANGE:
        return faults.NotUnderstood(
            code,
            text,
            "says that the range was passed, but not which",
            "write '>' and the end of the range, e.g. '>5'",
        )
    if word in _SHEET:
        return faults.NotUnderstood(
            code,
            text,
            "is a spreadsheet's error, not a reading",
            "mend the formula, or write 'not measured' and why",
        )
    if word in _NOTHING:
        return faults.NotUnderstood(
            code,
            text,
            "may mean not measured, not found or nought",
            "write 'not measured' and why, '<' and a limit, or '0'",
        )
    return None


def _too_long(text: str) -> faults.NotUnderstood | None:
    if len(text) <= LONGEST:
        return None
    return faults.NotUnderstood(
        "units/not-a-number",
        text[:LONGEST] + "…",
        f"is {len(text)} characters long",
        "write one number, e.g. '24.6'",
    )


def _decimal_sign(text: str, body: str, decimal: str) -> faults.NotUnderstood | None:
    """Thousands separators, and the other decimal sign."""
    other = "," if decimal == "." else "."
    grouped = _GROUPED.fullmatch(body)
    if grouped is not None and not (grouped["rest"] or "").startswith(grouped["sign"]):
        sign = grouped["sign"]
        whole = body.replace(sign, "")
        if sign == other and body.count(sign) == 1 and not grouped["rest"]:
            readings = (body.replace(sign, decimal), whole)
            return faults.NotUnderstood(
                "units/decimal-sign", text, f"may be {readings[0]} or {readings[1]}",
                f"write {readings[0]} or {readings[1]}, whichever is meant", readings,
            )  # fmt: skip
        whole = whole.replace(other, decimal)
        return faults.NotUnderstood(
            "units/decimal-sign", text, "has its thousands set apart", f"write it without: {whole}", (whole,)
        )
    if _EITHER.fullmatch(body) is not None and other in body:
        right = body.replace(other, decimal)
        right = right.replace(decimal, "0" + decimal, 1) if right.lstrip("+-").startswith(decimal) else right
        names = {".": "point", ",": "comma"}
        return faults.NotUnderstood(
            "units/decimal-sign", text, f"has a decimal {names[other]} where a {names[decimal]} is used",
            f"write {right}, or say that all of this source is written with a {names[other]}", (right,),
        )  # fmt: skip
    return None


def _odd_character(text: str, body: str) -> faults.NotUnderstood | None:
    """The first character that no plain number has, by its name."""
    for at, sign in enumerate(body):
        if sign.isascii() and sign.isprintable():
            continue
        if sign in "°º℃℉µμ‰" and at and body[0] in "+-.0123456789":
            break
        if sign in "–—…" and _RANGE.fullmatch(body):
            break
        name = unicodedata.name(sign, f"U+{ord(sign):04X}").lower()
        return faults.NotUnderstood(
            "units/not-a-number", text,
                f"has the character '{sign if sign.isprintable() else name}' ({name})",
            "write the number with the digits 0 to 9",
        )  # fmt: skip
    return None


def _shape(text: str, body: str, decimal: str) -> faults.NotUnderstood:
    """The commonest ways to be nearly a number."""
    digits = body.replace(" ", "")
    example = f"24{decimal}6"
    both = f"write a digit on both sides, e.g. 0{decimal}5"
    shapes = (
        (_HEX.fullmatch(body), "is written to another base", "write it with the digits 0 to 9"),
        ("_" in body, "has the character '_'", "write it without: " + body.replace("_", "")),
        (_RANGE.fullmatch(body), "is a range, not a number", "write the value as measured, or two readings"),
        (_ABOUT.match(body), "says 'about'", "write the value, and the doubt in the note"),
        (body.endswith("*"), "has a mark behind it", "write the value, and what the mark means in the note"),
        (_FRACTION.fullmatch(body), "is a fraction", f"write it with a decimal sign, e.g. 0{decimal}5"),
        (body.count(decimal) > 1, "has more than one decimal sign", f"write one, e.g. {example}"),
        (body.lstrip("+-").startswith(decimal), "has no digit before its decimal sign", both),
        (body.endswith(decimal), "has no digit behind its decimal sign", both),
        (
            _WITH_UNIT.fullmatch(body),
            "has more than a number in it",
            "write the number alone, and its unit where units go",
        ),
        (digits != body and _digits(digits, decimal), "has a blank inside", f"write it without: {digits}"),
    )
    why, hint = next(
        ((why, hint) for met, why, hint in shapes if met),
        ("is not a number", f"write one, e.g. '{example}', or 'not measured' and why"),
    )
    return faults.NotUnderstood("units/not-a-number", text, why, hint)


def _digits(body: str, decimal: str) -> bool:
    return body.lstrip("+-").replace(decimal, "").isdigit()

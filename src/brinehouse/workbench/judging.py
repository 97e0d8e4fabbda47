"""Three answers to a typed value: inside, unusual (one more tap), impossible (not kept); and likely slips.

A function of plain data alone, so that a phone without a signal judges as the hall does: `ask` is one entry
of ``asks`` in a round's plan, and a table of cases says what both must answer.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any, Literal

Verdict = Literal["inside", "unusual", "impossible"]
Ask = Mapping[str, Any]

LONGEST = 40  # characters; a longer text is no reading
SAME = 4  # so many equal values before this one, and it is pointed out, once
NEAR = 0.15  # what a slip would have been lies within this share of the last value
SHIFTS = ((1, "x10"), (-1, "/10"), (2, "x100"), (-2, "/100"), (3, "x1000"), (-3, "/1000"))

_ENTRY = re.compile(r"(?P<bound>[<>]?)\s*(?P<sign>[+−-]?)(?P<whole>\d+)(?:[.,](?P<part>\d+))?", re.ASCII)
_MISSING = re.compile(r"not measured\s*(?::\s*(?P<why>.*))?", re.IGNORECASE | re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """What was probably meant: how it slipped, the value in the ask's unit, and the question about it.

    Attributes
    ----------
    kind : str
        ``x10``, ``/10``, ``x100`` and so on; ``swapped``; ``unit``; ``quantity``: of another quantity.
    value : float or None
        None where it is of another quantity.
    text : str
        That value with its unit.
    asks : str
        The question.
    """

    kind: str
    value: float | None
    text: str
    asks: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The answer to what was typed.

    Attributes
    ----------
    answer : str
        ``inside``, ``unusual`` or ``impossible``.
    code : str
        Why it is not inside; empty where it is.
    value : float or None
        In the unit of the ask; None where there is none.
    stored : str
        The text that is kept: a decimal point, the unit behind it.
    bound, missing : str
        ``<`` or ``>``; why nothing was measured.
    sentence, hint : str
        What a person reads: what is the matter, and what to do.
    slip : Slip or None
        What was probably meant.
    note : str
        Said in passing; asks for nothing.
    """

    answer: Verdict
    code: str = ""
    value: float | None = None
    stored: str = ""
    bound: str = ""
    missing: str = ""
    sentence: str = ""
    hint: str = ""
    slip: Slip | None = None
    note: str = ""

    @property
    def plain(self) -> dict[str, Any]:
        """As JSON has it: what the table of cases compares."""
        return asdict(self)


def judge(ask: Ask, text: str, unit: str = "") -> Judged:
    """What a typed value is, against what is expected and possible there and what was read last.

    Parameters
    ----------
    ask : mapping
        ``quantity``, ``unit``, ``decimals``, ``expected`` and ``possible`` (two numbers each, in ``unit``),
        ``last`` (``value``, ``text``) or None, ``trace`` (pairs of hours ago and value, oldest first),
        ``scales`` (unit that may be chosen to factor and offset), ``slips`` (units mixed up with it).
    text : str
        As typed: a decimal comma is a decimal sign.
    unit : str
        The unit that stood beside the box; that of the ask where left out.

    Examples
    --------
    >>> ask = {"quantity": "temperature", "unit": "°C", "decimals": 1, "expected": [24, 26],
    ...        "possible": [-5, 50], "last": {"value": 24.6, "text": "24.6 °C"}}
    >>> judge(ask, "24,7").answer, judge(ask, "246").slip.text
    ('inside', '24.6 °C')
    """
    body = text.strip()
    if not body:
        return _no("round/nothing", "Nothing is written", "write the value, or skip the stop and say why")
    missing = _MISSING.fullmatch(body)
    if missing is not None:
        why = (missing["why"] or "").strip()
        return Judged(answer="inside", missing=why or "not measured", stored=body)
    unit = unit or ask["unit"]
    entry = _ENTRY.fullmatch(_bare(body, unit))
    if len(body) > LONGEST or entry is None:
        return _not_a_number(body, unit)
    if unit != ask["unit"] and unit not in ask.get("scales", {}):
        said = f"{ask['quantity']} is not kept in {unit} here"
        return _no("round/unit", said, f"write it in {ask['unit']}")
    return _measured(ask, entry, unit)


def _measured(ask: Ask, entry: re.Match[str], unit: str) -> Judged:
    typed = _digits(entry)
    factor, offset = ask.get("scales", {}).get(unit, (1.0, 0.0))
    value = float(typed) if unit == ask["unit"] else float(typed) * factor + offset
    said, bound = f"{entry['bound']}{_minus(typed)}{_behind(unit)}", entry["bound"]
    stored = f"{bound}{typed} {unit}".rstrip()
    told: dict[str, Any] = {"value": value, "stored": stored, "bound": bound}
    slip = None if bound else _slip(ask, typed, value, unit)
    low, high = ask["possible"]
    if (value < low and bound != ">") or (value > high and bound != "<"):
        span = _span(ask, "possible")
        return Judged(
            answer="impossible",
            code="round/impossible",
            sentence=f"{said} cannot be: {ask['quantity']} lies within {span} here{_last(ask)}",
            hint=_meant(slip) or "look at the meter and its unit again",
            slip=slip,
            **told,
        )
    if bound:
        return Judged(answer="inside", **told)
    low, high = ask["expected"]
    if low <= value <= high and slip is None:
        return Judged(answer="inside", note=_same(ask, value), **told)
    if low <= value <= high:
        return Judged(
            answer="unusual",
            code="round/slip",
            sentence=f"{said}?{_last(ask, ' Last was {}')}",
            hint=_meant(slip),
            slip=slip,
            **told,
        )
    return Judged(
        answer="unusual",
        code="round/unusual",
        sentence=f"{said} is unusual: {_span(ask, 'expected')} is expected{_last(ask)}",
        hint=_meant(slip) or "keep it, with a reason, if it is so",
        slip=slip,
        note=_same(ask, value),
        **told,
    )


# -- what was typed -------------------------------------------------------------------------------------


def _bare(body: str, unit: str) -> str:
    """Without the unit that stands beside the box anyway."""
    return body[: -len(unit)].rstrip() if unit not in ("", "1") and body.endswith(unit) else body


def _digits(entry: re.Match[str]) -> str:
    """The number with a decimal point and a plain minus."""
    sign = "-" if entry["sign"] in ("-", "−") else ""
    return f"{sign}{entry['whole']}" + (f".{entry['part']}" if entry["part"] else "")


def _not_a_number(body: str, unit: str) -> Judged:
    shown = body if len(body) <= LONGEST else body[:LONGEST] + "…"
    if re.fullmatch(r"[<>]?\s*[+−-]?[\d.,  ]+", body, re.ASCII) and sum(body.count(one) for one in ".,") > 1:
        return _no("round/two-signs", f"'{shown}' has more than one decimal sign", "write one, e.g. 24.6")
    return _no(
        "round/not-a-number",
        f"'{shown}' is not a plain number",
        f"write the number alone, in {unit or 'its unit'}, or 'not measured' and why",
    )


def _no(code: str, sentence: str, hint: str) -> Judged:
    return Judged(answer="impossible", code=code, sentence=sentence, hint=hint)


# -- slips ----------------------------------------------------------------------------------------------


def _slip(ask: Ask, typed: str, value: float, unit: str) -> Slip | None:
    """The slip that would bring it back to the last value, or, without one, to what is expected."""
    if not _far(ask, value):
        return None
    home = _home(ask)
    candidates = [*_powers(ask, typed, value, unit), *_swaps(ask, typed, unit), *_units(ask, value)]
    return next((slip for slip in candidates if home(slip)), None)


def _values(ask: Ask) -> list[float]:
    return [float(pair[1]) for pair in ask.get("trace", ())]


def _noise(ask: Ask) -> float:
    """How much the last days moved, at least two steps of the display."""
    values = _values(ask)
    steps = 2.0 * 10.0 ** -int(ask["decimals"])
    return max(max(values) - min(values), steps) if len(values) > 1 else steps


def _far(ask: Ask, value: float) -> bool:
    """Whether a value is so far from the last ones that a slip is worth asking about."""
    last = ask.get("last")
    if last is None or last.get("value") is None:
        low, high = ask["expected"]
        return not low <= value <= high
    values = [*_values(ask), float(last["value"])]
    noise = _noise(ask)
    return not min(values) - 2.0 * noise <= value <= max(values) + 2.0 * noise


def _home(ask: Ask) -> Callable[[Slip], bool]:
    """Whether what was probably meant is where the values have been."""
    last = ask.get("last")
    low, high = ask["expected"]

    def expected(slip: Slip) -> bool:
        return slip.value is None or low <= slip.value <= high

    if last is None or last.get("value") is None:
        return expected
    centre, noise = float(last["value"]), _noise(ask)
    wide = max(NEAR * abs(centre), min(noise, 0.5 * abs(centre)))  # by ten times nought nothing is told

    def near(slip: Slip) -> bool:
        reach = noise if slip.kind == "swapped" else wide
        return slip.value is None or (slip.value != 0.0 and abs(slip.value - centre) <= reach + 1e-9)

    return near


def _powers(ask: Ask, typed: str, value: float, unit: str) -> list[Slip]:
    if unit != ask["unit"] or value == 0.0:
        return []
    found: list[Slip] = []
    for places, kind in SHIFTS:
        moved = _shifted(typed, -places)
        found.append(_plainly(kind, moved, unit))
    return found


def _shifted(typed: str, places: int) -> str:
    """The decimal sign moved, digit by digit: no rounding.

    >>> _shifted("246", -1), _shifted("2.46", 1), _shifted("-5", -2)
    ('24.6', '24.6', '-0.05')
    """
    sign, body = ("-", typed[1:]) if typed.startswith("-") else ("", typed)
    whole, _, part = body.partition(".")
    if places > 0:
        part = part.ljust(places, "0")
        whole, part = whole + part[:places], part[places:]
    else:
        whole = whole.rjust(1 - places, "0")
        whole, part = whole[:places], whole[places:] + part
    whole = whole.lstrip("0") or "0"
    part = part.rstrip("0")
    return f"{sign}{whole}.{part}" if part else f"{sign}{whole}"


def _swaps(ask: Ask, typed: str, unit: str) -> list[Slip]:
    """Two neighbouring digits the other way round, over the decimal sign too."""
    if unit != ask["unit"]:
        return []
    places = [at for at, sign in enumerate(typed) if sign.isdigit()]
    found: list[Slip] = []
    for one, other in itertools.pairwise(places):
        if typed[one] == typed[other]:
            continue
        signs = list(typed)
        signs[one], signs[other] = signs[other], signs[one]
        turned = "".join(signs)
        found.append(_plainly("swapped", turned, unit))
    return found


def _plainly(kind: str, digits: str, unit: str) -> Slip:
    text = f"{_minus(digits)}{_behind(unit)}"
    return Slip(kind=kind, value=float(digits), text=text, asks=f"was {text} meant?")


def _units(ask: Ask, value: float) -> list[Slip]:
    """The value as another unit would give it; a unit of another quantity is only named."""
    found: list[Slip] = []
    for other in ask.get("slips", ()):
        typed = f"{_plain(value)}{_behind(other['unit'])}"
        if "factor" in other:
            moved = value * other["factor"] + other.get("offset", 0.0)
            shown = f"{moved:.{int(ask['decimals'])}f}"
            text = f"{_minus(shown)}{_behind(ask['unit'])}"
            asks = f"was {typed} meant? That is {text}"
            found.append(Slip(kind="unit", value=moved, text=text, asks=asks))
        elif other["low"] <= value <= other["high"]:
            asks = f"{typed} would be {other['says']}: is it the right meter?"
            found.append(Slip(kind="quantity", value=None, text="", asks=asks))
    return found


def _same(ask: Ask, value: float) -> str:
    """The same value for the fifth time: said once, not again at the sixth."""
    values = _values(ask)
    step = 0.5 * 10.0 ** -int(ask["decimals"])
    run = 0
    for one in reversed(values):
        if abs(one - value) >= step:
            break
        run += 1
    return f"The same value {SAME + 1} times now: does the meter still follow?" if run == SAME else ""


# -- how it is said ---------------------------------------------------------------------------------------


def _meant(slip: Slip | None) -> str:
    return slip.asks if slip else ""


def _last(ask: Ask, form: str = "; last was {}") -> str:
    last = ask.get("last")
    return form.format(last["text"]) if last is not None and last.get("text") else ""


def _span(ask: Ask, which: str) -> str:
    low, high = ask[which]
    return f"{_plain(low)} to {_plain(high)}{_behind(ask['unit'])}"


def _behind(unit: str) -> str:
    return "" if unit in ("", "1", "pH") else f" {unit}"


def _minus(text: str) -> str:
    return text.replace("-", "−")


def _plain(value: float) -> str:
    """Six digits, no exponent, a true minus sign.

    >>> _plain(24.0), _plain(-2), _plain(1e-5)
    ('24', '−2', '0.00001')
    """
    return _minus(format(Decimal(format(float(value) + 0.0, ".6g")), "f"))

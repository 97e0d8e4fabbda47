"""One value of the facility file: what its word expects, and what was found instead."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from brinehouse.facility import amounts, chances, details, hidden, model, plumbed, words

Faults = list[tuple[tuple[int | str, ...], amounts.Fault]]
"""Each fault with the step inside the value (an item of a list) at which it stands."""

_SECRET_PLACE = re.compile(r"(env:[A-Za-z_][A-Za-z0-9_]*|file:\S.*)")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_TIME = r"([01]?\d|2[0-3]):([0-5]\d)"
_TIMES = re.compile(rf"\s*{_TIME}\s+to\s+{_TIME}\s*")
_LARGEST_WHOLE = 10**12


@dataclass(frozen=True, slots=True)
class Later:
    """A value that waits for the quantity of its table."""

    value: Any
    word: words.Word


@dataclass(frozen=True, slots=True)
class _Want:
    """What a word expects, what stands there, and the table's other values."""

    word: words.Word
    value: Any
    what: str
    beside: Mapping[str, Any]
    faults: Faults


def found(value: Any) -> str:
    """What a value is, as one would say it.

    >>> found(True), found(["Kelp"])
    ('true', 'a list')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return (
            f"the number {value:.15g}"
            if isinstance(value, float) or abs(value) < _LARGEST_WHOLE
            else "a number"
        )
    if isinstance(value, str):
        return "text"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, dict):
        return "a table"
    return "a date or a time"


def take(word: words.Word, value: Any, beside: Mapping[str, Any]) -> tuple[Any, Faults]:
    """A value as understood, or None and why not; `beside` holds the table's other values."""
    kind, _, what = word.kind.partition(":")
    faults: Faults = []
    got = _TAKE[kind](_Want(word, value, what, beside, faults))
    return (None if faults else got), faults


def _wrong(word: words.Word, value: Any, faults: Faults, step: tuple[int | str, ...] = ()) -> None:
    if isinstance(value, str):
        why = f"is the text '{hidden.visible(value)}', not {words.kind_in_words(word)}"
    else:
        why = f"is {found(value)}, not {words.kind_in_words(word)}"
    faults.append((step, amounts.Fault("facility/wrong-kind", why, f"write {word.name} = {word.example}")))


def _keep(got: Any, faults: Faults, step: tuple[int | str, ...] = ()) -> Any:
    if isinstance(got, amounts.Fault):
        faults.append((step, got))
        return None
    return got


def _text(it: _Want) -> Any:
    if not isinstance(it.value, str):
        return _wrong(it.word, it.value, it.faults)
    if not it.value.strip():
        hint = f"write {it.word.name} = {it.word.example}, or take the line out"
        it.faults.append(((), amounts.Fault("facility/empty-text", "is empty", hint)))
        return None
    return it.value


def _no_unit(word: words.Word, value: Any) -> amounts.Fault | None:
    """A bare number where an amount is wanted."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    unit = re.sub(r'^"[+-]?[\d.]+\s*|"$', "", word.example.strip("[]").split(",")[0].strip())
    number = f"{value:.15g}" if abs(value) < _LARGEST_WHOLE else "a number"
    hint = (
        f'write "{number} {unit}" if that is the unit meant'
        if unit
        else "write its unit behind it, in quotes"
    )
    return amounts.Fault("facility/no-unit", f"has no unit: {number}", hint)


def _amount(it: _Want) -> Any:
    if isinstance(it.value, str):
        return _keep(amounts.read(it.value, it.what), it.faults)
    bare = _no_unit(it.word, it.value)
    return _keep(bare, it.faults) if bare is not None else _wrong(it.word, it.value, it.faults)


def _allowance(it: _Want) -> Any:
    if isinstance(it.value, str):
        return _keep(amounts.fraction(it.value), it.faults)
    bare = _no_unit(it.word, it.value)
    return _keep(bare, it.faults) if bare is not None else _wrong(it.word, it.value, it.faults)


def _whole(it: _Want) -> Any:
    if isinstance(it.value, bool) or not isinstance(it.value, int):
        return _wrong(it.word, it.value, it.faults)
    if not 0 <= it.value < _LARGEST_WHOLE:
        it.faults.append(
            (
                (),
                amounts.Fault(
                    "facility/impossible",
                    "is below nought or far too large",
                    f"write {it.word.name} = {it.word.example}",
                ),
            )
        )
        return None
    return it.value


def _number(it: _Want) -> Any:
    if isinstance(it.value, bool) or not isinstance(it.value, int | float):
        return _wrong(it.word, it.value, it.faults)
    if (isinstance(it.value, int) and abs(it.value) >= _LARGEST_WHOLE) or not math.isfinite(it.value):
        it.faults.append(
            (
                (),
                amounts.Fault(
                    "facility/impossible",
                    "is no finite number of this world",
                    f"write {it.word.name} = {it.word.example}",
                ),
            )
        )
        return None
    return float(it.value)


def _bool(it: _Want) -> Any:
    return it.value if isinstance(it.value, bool) else _wrong(it.word, it.value, it.faults)


def _date(it: _Want) -> Any:
    if isinstance(it.value, dt.datetime):
        return it.value.date().isoformat()
    if isinstance(it.value, dt.date):
        return it.value.isoformat()
    if isinstance(it.value, str) and _DAY.fullmatch(it.value):
        try:
            return dt.date.fromisoformat(it.value).isoformat()
        except ValueError:
            pass
    return _wrong(it.word, it.value, it.faults)


def _choice(it: _Want) -> Any:
    return it.value if it.value in it.word.choices else _wrong(it.word, it.value, it.faults)


def _id(it: _Want) -> Any:
    return it.value if isinstance(it.value, str) and it.value else _wrong(it.word, it.value, it.faults)


def _ids(it: _Want) -> Any:
    if not isinstance(it.value, list):
        return _wrong(it.word, it.value, it.faults)
    for index, item in enumerate(it.value):
        if not isinstance(item, str) or not item:
            _wrong(it.word, item, it.faults, (index,))
    return tuple(it.value)


def _quantity(it: _Want) -> Any:
    return (
        _keep(amounts.quantity(it.value), it.faults)
        if isinstance(it.value, str)
        else _wrong(it.word, it.value, it.faults)
    )


def _quantities(it: _Want) -> Any:
    if not isinstance(it.value, list) or not it.value:
        return _wrong(it.word, it.value, it.faults)
    got: list[str] = []
    for index, item in enumerate(it.value):
        if not isinstance(item, str):
            _wrong(it.word, item, it.faults, (index,))
            continue
        one = _keep(amounts.quantity(item), it.faults, (index,))
        if one in got:
            it.faults.append(
                ((index,), amounts.Fault("facility/twice", f"names '{one}' twice", "name it once"))
            )
        elif one is not None:
            got.append(one)
    return tuple(got)


def _unit(it: _Want) -> Any:
    if not isinstance(it.value, str):
        return _wrong(it.word, it.value, it.faults)
    return _keep(amounts.unit(it.value, it.beside.get("quantity", "")), it.faults)


def _units(it: _Want) -> Any:
    if not isinstance(it.value, dict):
        return _wrong(it.word, it.value, it.faults)
    it.faults.extend(((name,), fault) for name, fault in amounts.display(it.value))
    return dict(it.value)


def _band(it: _Want) -> Any:
    if not isinstance(it.value, str):
        return _wrong(it.word, it.value, it.faults)
    got = _keep(amounts.band(it.value, it.beside["quantity"]), it.faults)
    return None if got is None else (got, it.value, amounts.basis(it.value, it.beside["quantity"]))


def _pair(word: words.Word, value: Any, faults: Faults) -> bool:
    """Whether a value is a list of two texts."""
    if (
        not isinstance(value, list)
        or len(value) != 2
        or any(isinstance(item, list | dict | bool) for item in value)
    ):
        _wrong(word, value, faults)
        return False
    for index, item in enumerate(value):
        bare = _no_unit(word, item)
        if bare is not None:
            faults.append(((index,), bare))
        elif not isinstance(item, str):
            _wrong(word, item, faults, (index,))
    return not faults


def _range(it: _Want) -> Any:
    if not _pair(it.word, it.value, it.faults):
        return None
    return tuple(
        _keep(amounts.read(item, it.what), it.faults, (index,)) for index, item in enumerate(it.value)
    )


def _span(it: _Want) -> Any:
    if not _pair(it.word, it.value, it.faults):
        return None
    quantity = it.beside["quantity"]
    low, high = (
        _keep(amounts.value(item, quantity), it.faults, (index,)) for index, item in enumerate(it.value)
    )
    return None if it.faults else model.Range(low=low, high=high)


def _curve(it: _Want) -> Any:
    if not isinstance(it.value, list) or len(it.value) < 2:
        return _wrong(it.word, it.value, it.faults)
    rows: list[tuple[Any, ...]] = []
    for index, row in enumerate(it.value):
        if not isinstance(row, list) or len(row) != 2 or not all(isinstance(item, str) for item in row):
            _wrong(it.word, row, it.faults, (index,))
            continue
        pair = zip(row, ("flow", "length"), strict=True)
        rows.append(
            tuple(_keep(amounts.read(t, kind), it.faults, (index, i)) for i, (t, kind) in enumerate(pair))
        )
    return tuple(rows)


def _loss(it: _Want) -> Any:
    """A number of velocity heads, one flow with its head, or several."""
    value = it.value
    if isinstance(value, int | float) and not isinstance(value, bool):
        heads = _number(it)
        if heads is not None and heads < 0:
            why = f"cannot be {heads:g} velocity heads"
            it.faults.append(((), amounts.Fault("facility/impossible", why, "write it without sign")))
        return None if heads is None else model.Loss(heads=heads)
    single = isinstance(value, list) and len(value) == 2 and all(isinstance(item, str) for item in value)
    rows = [value] if single else value
    if not isinstance(rows, list) or not rows:
        return _wrong(it.word, value, it.faults)
    points: list[tuple[float, float]] = []
    for index, row in enumerate(rows):
        step = () if single else (index,)
        if not isinstance(row, list) or len(row) != 2 or not all(isinstance(item, str) for item in row):
            _wrong(it.word, row, it.faults, step)
            continue
        got = _keep(plumbed.point(*row), it.faults, step)
        if got is not None:
            points.append(got)
    return model.Loss(points=tuple(sorted(points)))


def _texts(it: _Want) -> Any:
    if not isinstance(it.value, list) or not it.value:
        return _wrong(it.word, it.value, it.faults)
    for index, item in enumerate(it.value):
        if not isinstance(item, str):
            _wrong(it.word, item, it.faults, (index,))
        elif not item.strip():
            hint = "write a sentence, or take it out of the list"
            it.faults.append(((index,), amounts.Fault("facility/empty-text", "has an empty text", hint)))
    return tuple(it.value)


def _fittings(it: _Want) -> Any:
    if not isinstance(it.value, list):
        return _wrong(it.word, it.value, it.faults)
    got: list[tuple[int, str]] = []
    for index, item in enumerate(it.value):
        if not isinstance(item, str):
            _wrong(it.word, item, it.faults, (index,))
            continue
        one = _keep(plumbed.fitting(item), it.faults, (index,))
        if one is not None:
            got.append(one)
    return tuple(got)


def _overflow(it: _Want) -> Any:
    if not isinstance(it.value, str):
        return _wrong(it.word, it.value, it.faults)
    return _keep(plumbed.overflow(it.value), it.faults)


def _chance(it: _Want) -> Any:
    if not isinstance(it.value, str):
        return _wrong(it.word, it.value, it.faults)
    return _keep(chances.read(it.value), it.faults)


def _accuracies(it: _Want) -> Any:
    """One amount for each quantity measured; read once the quantities are known."""
    measures = it.beside.get("measures")
    if not isinstance(it.value, list):
        return _wrong(it.word, it.value, it.faults)
    if measures is None:
        return Later(it.value, it.word)
    if len(it.value) != len(measures):
        why = f"has {len(it.value)} amounts for {len(measures)} quantities"
        it.faults.append(
            ((), amounts.Fault("facility/wrong-kind", why, "write one for each, in the same order"))
        )
        return None
    got: dict[str, Any] = {}
    for index, (item, quantity) in enumerate(zip(it.value, measures, strict=True)):
        bare = _no_unit(it.word, item)
        if isinstance(item, str):
            got[quantity] = _keep(amounts.accuracy(item, quantity), it.faults, (index,))
        elif bare is not None:
            it.faults.append(((index,), bare))
        else:
            _wrong(it.word, item, it.faults, (index,))
    return got


def _secret(it: _Want) -> Any:
    if isinstance(it.value, str) and _SECRET_PLACE.fullmatch(it.value):
        return it.value
    why = "holds a secret itself, in plain sight"  # it.what it holds is never shown
    it.faults.append(
        (
            (),
            amounts.Fault(
                "facility/secret-in-file", why, f"write {it.word.name} = {it.word.example}, and change it"
            ),
        )
    )
    return None


def _width(it: _Want) -> Any:
    if not isinstance(it.value, str):
        bare = _no_unit(it.word, it.value)
        return _keep(bare, it.faults) if bare is not None else _wrong(it.word, it.value, it.faults)
    return _keep(amounts.width(it.value, it.beside["quantity"]), it.faults)


def _span_of_day(it: _Want) -> Any:
    """Two times of the day, as minutes after midnight; they may lie across it."""
    hit = _TIMES.fullmatch(it.value) if isinstance(it.value, str) else None
    if hit is None:
        return _wrong(it.word, it.value, it.faults)
    hours = [int(part) for part in hit.groups()]
    begin, end = 60 * hours[0] + hours[1], 60 * hours[2] + hours[3]
    if begin == end:
        return _wrong(it.word, it.value, it.faults)
    return begin, end


def _times_of_day(it: _Want) -> Any:
    """Times of the day as minutes after midnight, the earliest first."""
    told: list[Any] = it.value if isinstance(it.value, list) else []
    hits = [re.fullmatch(_TIME, one.strip()) if isinstance(one, str) else None for one in told]
    for index, hit in enumerate(hits):
        if hit is None:
            _wrong(it.word, told[index], it.faults, (index,))
    if not told:
        return _wrong(it.word, it.value, it.faults)
    return tuple(sorted({60 * int(hit[1]) + int(hit[2]) for hit in hits if hit is not None}))


def _choices(it: _Want) -> Any:
    if not isinstance(it.value, list):
        return _wrong(it.word, it.value, it.faults)
    for index, item in enumerate(it.value):
        if item not in it.word.choices:
            _wrong(it.word, item, it.faults, (index,))
    return tuple(it.value)


def _days(it: _Want) -> Any:
    """Days of the week, Monday as 0, in their order."""
    if not isinstance(it.value, list) or not it.value:
        return _wrong(it.word, it.value, it.faults)
    got: set[int] = set()
    for index, item in enumerate(it.value):
        if isinstance(item, str) and item.strip().casefold() in details.DAYS:
            got.add(details.DAYS.index(item.strip().casefold()))
        else:
            _wrong(it.word, item, it.faults, (index,))
    return tuple(sorted(got))


_TAKE: Mapping[str, Callable[[_Want], Any]] = {
    "text": _text,
    "zone": _text,
    "amount": _amount,
    "allowance": _allowance,
    "whole": _whole,
    "number": _number,
    "bool": _bool,
    "date": _date,
    "choice": _choice,
    "id": _id,
    "list id": _ids,
    "quantity": _quantity,
    "list quantity": _quantities,
    "unit": _unit,
    "units": _units,
    "band": _band,
    "range": _range,
    "span": _span,
    "curve": _curve,
    "loss": _loss,
    "fittings": _fittings,
    "texts": _texts,
    "overflow": _overflow,
    "chance": _chance,
    "accuracies": _accuracies,
    "secret": _secret,
    "width": _width,
    "span of day": _span_of_day,
    "days": _days,
    "times of day": _times_of_day,
    "list choice": _choices,
}

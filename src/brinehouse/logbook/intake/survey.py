"""The whole column before any row: the decimal sign, what the times are, the order of dates."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from brinehouse.logbook.intake import decoding, headings, rows, saying, times

_SIGNS = r"\s*[<>≤≥]?=?\s*[+\u2212-]?"
_PLAIN = re.compile(
    rf"{_SIGNS}(?:0|\d{{4,}})?(?P<sign>[.,])\d+\s*|{_SIGNS}\d{{1,3}}(?P<other>[.,])(?:\d{{1,2}}|\d{{4,}})\s*",
    re.ASCII,
)
_EITHER = re.compile(rf"{_SIGNS}[1-9]\d{{0,2}}(?P<sign>[.,])\d{{3}}\s*", re.ASCII)
_SHOWN = 5


@dataclass(slots=True)
class Survey:
    """What was seen in one pass over the file.

    Attributes
    ----------
    rows : int
    decimal : str
        ``.`` or ``,``.
    first : str
        ``day`` or ``month``, where dates of three short numbers show it.
    whole : bool
        Whether nothing can be read before a person answers.
    faults : list
        With the line each is about; None for the whole file.
    """

    rows: int = 0
    decimal: str = "."
    first: str = ""
    whole: bool = False
    faults: list[tuple[saying.Fault, int | None]] = field(
        default_factory=list[tuple[saying.Fault, int | None]]
    )
    plain: dict[str, int] = field(default_factory=lambda: {".": 0, ",": 0})
    example: str = ""
    unclear: list[tuple[int, str, str]] = field(default_factory=list[tuple[int, str, str]])
    orders: dict[str, list[int]] = field(default_factory=dict[str, list[int]])
    days: int = 0
    """Times that are a day without a time of day, as a sheet's date cell: midnight, or nothing."""
    more: dict[str, int] = field(default_factory=dict[str, int])

    def add(self, fault: saying.Fault, line: int) -> None:
        """Keep a fault about a line; very many are only counted."""
        if len(self.faults) < saying.KEPT:
            self.faults.append((fault, line))
        else:
            self.more[fault.code] = self.more.get(fault.code, 0) + 1

    def value(self, line: int, text: str, name: str) -> None:
        """Look at the decimal sign of one value."""
        if len(text) > 40:
            return
        if found := _EITHER.fullmatch(text):
            if len(self.unclear) < 10_000:
                self.unclear.append((line, text.strip(), name))
            return
        if found := _PLAIN.fullmatch(text):
            sign = found["sign"] or found["other"]
            self.plain[sign] += 1
            if sign == "," and not self.example:
                self.example = text.strip()


def look(
    sheet: rows.Sheet, layout: headings.Layout, decoded: decoding.Decoded, answers: Mapping[str, str]
) -> Survey:
    """Go through a file once and settle what holds for all of it."""
    seen = Survey()
    commas = sheet.separator != "," or sheet.loose
    time, date = layout.index[headings.TIME], layout.index[headings.DATE]
    columns = [(one.index, one.heading[:40]) for one in layout.wide] or [
        (layout.index[headings.VALUE], "value")
    ]
    asked_time = "time" not in answers
    for line, cells, faults in sheet.rows():
        seen.rows += 1 + sum(int(fault.data.get("swallowed", 0)) for fault in faults)
        if cells is None:
            continue
        if decoded.bad:
            _foreign(seen, sheet, decoded, line, cells)
        text = cells[time]
        seen.days += isinstance(text, rows.Odd) and text.kind == "day"
        if date < 0 and text[4:5] != "-" and text.strip():
            _time(seen, line, text, ask=asked_time)
        for index, name in columns:
            value = cells[index]
            if "," in value or (commas and "." in value):
                seen.value(line, value, name)
            elif not commas and "." in value:
                seen.plain["."] += 1
    _settle_decimal(seen, sheet, answers)
    _settle_order(seen, answers)
    return seen


def _time(seen: Survey, line: int, text: str, *, ask: bool) -> None:
    if times.is_number(text):
        if ask and len(text) <= 30:
            fault = times.question(text.strip())
            seen.add(fault, line)
            seen.whole = seen.whole or "answer" in fault.data
        return
    order = times.order_of(text)
    if order:
        held = seen.orders.setdefault(order, [])
        if len(held) < _SHOWN:
            held.append(line)


def _foreign(seen: Survey, sheet: rows.Sheet, decoded: decoding.Decoded, line: int, cells: list[str]) -> None:
    """Name each cell that is not UTF-8, with what it looks like."""
    for at, cell in enumerate(cells):
        if not decoding.foreign(cell):
            continue
        name = sheet.header[at].strip() if at < len(sheet.header) else ""
        name = headings.Known().field(name) or name[:40]
        byte = f" at byte {decoded.bad[line]}" if line in decoded.bad else ""
        looks = saying.shown(decoding.looks_like(cell))
        said = f"{name}: not UTF-8{byte}; as Windows-1252 it would be {looks}"
        if decoded.mixed:
            hint = "other lines are UTF-8: two exports were put together; mend this line"
            seen.add(saying.stop("intake/not-utf8", said, hint, name), line)
        else:
            seen.whole = True
            choices = ("windows-1252", "iso-8859-1")
            seen.add(saying.ask("intake/not-utf8", said, "encoding", choices, name), line)


def _settle_decimal(seen: Survey, sheet: rows.Sheet, answers: Mapping[str, str]) -> None:
    told = answers.get("decimal")
    if told is not None:
        seen.decimal = "," if told == "comma" else "."
        _say_separator(seen, sheet)
        return
    unclear = {sign: [one for one in seen.unclear if sign in one[1]] for sign in ".,"}
    commas = seen.plain[","] + len(unclear[","])
    points = seen.plain["."] + len(unclear["."])
    if commas and points and unclear[","]:
        _ask(seen, [*unclear[","], *unclear["."]])
    elif commas and not points:
        seen.decimal = ","
        if not seen.plain[","]:
            _ask(seen, unclear[","])
    elif commas:  # both signs: the rows of the rarer one are refused or asked about, one by one
        seen.decimal = "," if commas > points or (commas == points and sheet.separator == ";") else "."
        if seen.decimal == "," and unclear["."]:
            _ask(seen, unclear["."])
    elif unclear["."] and not seen.plain["."] and sheet.separator == ";":
        _ask(seen, unclear["."])
    if not seen.whole:
        _say_separator(seen, sheet)


def _ask(seen: Survey, lines: list[tuple[int, str, str]]) -> None:
    """Both readings of each number that may be one or a thousand."""
    seen.whole = True
    for line, text, name in sorted(lines):
        small, large = text.replace(",", "."), text.replace(",", "").replace(".", "")
        said = f"{saying.shown(text)} may be {small} or {large}, a factor of 1000 apart"
        hint = "answer 'decimal=comma' or 'decimal=point' for the whole file; nothing is stored until then"
        asked = saying.ask("intake/decimal-mixed", said, "decimal", ("comma", "point"), name, hint)
        seen.add(asked, line)


def _say_separator(seen: Survey, sheet: rows.Sheet) -> None:
    said: list[str] = []
    if sheet.separator in {";", "\t"}:
        said.append("fields are separated by " + {";": "';'", "\t": "tabs"}[sheet.separator])
    if seen.decimal == ",":
        example = seen.example or "24,6"
        said.append(f"',' was taken as the decimal sign: {example} was read as {example.replace(',', '.')}")
    if said:
        seen.faults.append((saying.note("intake/separator", "; ".join(said)), None))


def _settle_order(seen: Survey, answers: Mapping[str, str]) -> None:
    told = answers.get("dates", "")
    if told:
        seen.first = told.partition(" ")[0]
        return
    sure = [order for order in ("day", "month") if order in seen.orders]
    if len(sure) == 1:
        seen.first = sure[0]
        line = seen.orders[sure[0]][0]
        said = f"dates were read with the {sure[0]} first: line {line} leaves no other reading"
        seen.faults.append((saying.note("intake/date-order", said, "", "time"), line))
    elif seen.orders:
        seen.whole = True
        for line in sorted(line for lines in seen.orders.values() for line in lines):
            said = "the date can be read with the day or the month first"
            choices = ("day first", "month first")
            seen.faults.append((saying.ask("intake/date-order", said, "dates", choices, "time"), line))

"""XLSX: looked through before it is opened; nothing hidden is taken or left in silence."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from brinehouse.logbook.intake import headings, rows, saying

MOST_PARTS = 1_000
LARGEST = 256 * 1024 * 1024  # unpacked
MOST_CELLS = 2_000_000
LOOK = 20
_DECLARED = re.compile(rb"<!\s*(?:DOCTYPE|ENTITY)", re.IGNORECASE)
_HIDDEN = re.compile(rb"<(?:\w+:)?row\b([^>]*?)/?>")
_NUMBER = re.compile(rb'\br="(\d+)"')
_DAMAGED = "the workbook is damaged or incomplete"


def open_workbook(data: bytes, known: headings.Known, *, wanted: str = "", hidden: str = "") -> rows.Sheet:
    """The first visible sheet of a workbook, or the one a person named.

    Parameters
    ----------
    data : bytes
    known : headings.Known
    wanted : str
        The sheet's name, where it was answered.
    hidden : str
        ``take`` or ``leave``, where it was answered what becomes of hidden rows.
    """
    looked = _look(data)
    if isinstance(looked, saying.Fault):
        return rows.refused(looked)
    import python_calamine

    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(data))
        return _sheet(book, looked, known, wanted, hidden)
    except (python_calamine.CalamineError, ValueError, OSError, KeyError, IndexError):
        return rows.refused(
            saying.stop("intake/damaged", _DAMAGED, "save the workbook once more and send it again")
        )


class _Looked:
    """What the parts of the workbook say themselves: its date base and its hidden rows by sheet."""

    def __init__(self, base: str, hidden: dict[str, frozenset[int]]) -> None:
        self.base = base
        self.hidden = hidden


def _look(data: bytes) -> _Looked | saying.Fault:
    """Read the parts without trusting them: sizes and counts first, then what they declare."""
    again = "save the workbook once more and send it again"
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > LARGEST:
                return saying.stop(
                    "intake/too-large", "the workbook unpacks to more than is read", "send it in parts"
                )
            names = {part.filename for part in parts}
            if "xl/workbook.xml" not in names:
                return saying.stop(
                    "intake/other-kind", "this is a zip archive, not a workbook", "unpack it first"
                )
            return _look_through(packed, names)
    except (zipfile.BadZipFile, EOFError, OSError, ValueError, RuntimeError, NotImplementedError, KeyError):
        return saying.stop("intake/damaged", _DAMAGED, again)
    except Exception:  # noqa: BLE001 - zlib's errors, and whatever a broken archive makes of them
        return saying.stop("intake/damaged", _DAMAGED, again)


def _look_through(packed: zipfile.ZipFile, names: set[str]) -> _Looked | saying.Fault:
    files = [name for name in sorted(names) if name.endswith((".xml", ".rels", ".vml"))]
    hidden: dict[str, frozenset[int]] = {}
    base = "1900"
    room = LARGEST
    for name in files:
        with packed.open(name) as part:
            content = part.read(room + 1)
        room -= len(content)
        if room < 0:
            return saying.stop(
                "intake/too-large", "the workbook unpacks to more than is read", "send it in parts"
            )
        if _DECLARED.search(content) or content[:2] in (b"\xff\xfe", b"\xfe\xff"):
            said = "the workbook contains XML declarations that are not allowed"
            return saying.stop(
                "intake/declarations", said, "save it from a spreadsheet program and send it again"
            )
        if name == "xl/workbook.xml" and re.search(rb'date1904\s*=\s*"(?:1|true)"', content):
            base = "1904"
        if name.startswith("xl/worksheets/"):
            found = _hidden_rows(content)
            if found:
                hidden[name] = found
    return _Looked(base, _by_sheet(packed, hidden))


def _hidden_rows(content: bytes) -> frozenset[int]:
    found: set[int] = set()
    if b"hidden=" not in content:
        return frozenset()
    for match in _HIDDEN.finditer(content):
        if re.search(rb'\bhidden="(?:1|true)"', match[1]) and (number := _NUMBER.search(match[1])):
            found.add(int(number[1]))
    return frozenset(found)


def _by_sheet(packed: zipfile.ZipFile, hidden: dict[str, frozenset[int]]) -> dict[str, frozenset[int]]:
    """Hidden rows by the name of the sheet, through the workbook's own list of parts."""
    if not hidden:
        return {}
    book = packed.read("xl/workbook.xml").decode("utf-8", "replace")
    links = packed.read("xl/_rels/workbook.xml.rels").decode("utf-8", "replace")
    targets: dict[str, str] = {}
    for link in re.findall(r"<Relationship\b[^>]*>", links):
        name, target = re.search(r'\bId="([^"]*)"', link), re.search(r'\bTarget="([^"]*)"', link)
        if name and target:
            targets[name[1]] = target[1]
    found: dict[str, frozenset[int]] = {}
    for sheet in re.findall(r"<(?:\w+:)?sheet\b[^>]*>", book):
        name, link = re.search(r'\bname="([^"]*)"', sheet), re.search(r'\br:id="([^"]*)"', sheet)
        if name and link:
            part = targets.get(link[1], "").removeprefix("/").removeprefix("xl/")
            found[_plain(name[1])] = hidden.get(f"xl/{part}", frozenset())
    return found


def _plain(text: str) -> str:
    for sign, plain in (("&lt;", "<"), ("&gt;", ">"), ("&quot;", '"'), ("&apos;", "'"), ("&amp;", "&")):
        text = text.replace(sign, plain)
    return text


def _sheet(book: Any, looked: _Looked, known: headings.Known, wanted: str, hidden: str) -> rows.Sheet:
    names: list[str] = list(book.sheet_names)
    shown = [one.name for one in book.sheets_metadata if str(one.visible).endswith(".Visible")]
    if wanted and wanted not in names:
        said = f"there is no sheet {saying.shown(wanted)}"
        return rows.refused(
            saying.stop("intake/no-sheet", said, f"sheets are {', '.join(map(saying.shown, names[:10]))}")
        )
    name = wanted or next(iter(shown), "")
    if not name:
        return rows.refused(
            saying.ask(
                "intake/hidden-sheet", "every sheet of the workbook is hidden", "sheet", tuple(names[:10])
            )
        )
    faults: list[saying.Fault] = []
    unread = _others(book, names, shown, name, faults) if not wanted else 0
    if looked.base == "1904":
        faults.append(
            saying.note("intake/base-1904", "the workbook counts its days from 1904; times were read so")
        )
    sheet = book.get_sheet_by_name(name)
    if sheet.height * max(1, sheet.width) > MOST_CELLS:
        return rows.refused(
            saying.stop("intake/too-large", f"the sheet has {sheet.height} rows", "export it as CSV")
        )
    body: Sequence[Sequence[Any]] = sheet.to_python(skip_empty_area=False)
    at = _find_header(body, known)
    if at > 1:
        faults.append(
            saying.note("intake/header-below", f"the header is on row {at}; what stands above was not read")
        )
    header = [_cell(cell) for cell in body[at - 1]] if body else []
    while header and not header[-1].strip():
        header.pop()
    if len(header) < 2:
        return rows.refused(
            saying.stop("intake/no-table", "no row of the sheet names columns", "name them in the first row")
        )
    out_of_sight = looked.hidden.get(name, frozenset())

    def read() -> Iterator[rows.Row]:
        return _read(body, at, header, out_of_sight, hidden)

    return rows.Sheet(header, at, read, loose=True, faults=tuple(faults), unread=unread)


def _others(book: Any, names: list[str], shown: list[str], name: str, faults: list[saying.Fault]) -> int:
    """Name the sheets that are not read, and count their rows."""
    unread = 0
    for other in names:
        if other == name:
            continue
        count = max(0, book.get_sheet_by_name(other).height - 1)
        unread += count
        what = "is another sheet" if other in shown else "is hidden"
        said = f"sheet {saying.shown(other)} {what} and was not read ({count} rows)"
        code = "intake/other-sheet" if other in shown else "intake/hidden-sheet"
        faults.append(
            saying.note(
                code, said, f"answer 'sheet={other[:40]}' to read it instead", sheet=saying.shown(other)
            )
        )
    return unread


def _find_header(body: Sequence[Sequence[Any]], known: headings.Known) -> int:
    best, most = 1, 1
    for line, cells in enumerate(body[:LOOK], 1):
        count = known.count([_cell(cell) for cell in cells])
        if count > most:
            best, most = line, count
    return best


def _read(
    body: Sequence[Sequence[Any]], at: int, header: list[str], out_of_sight: frozenset[int], hidden: str
) -> Iterator[rows.Row]:
    width = len(header)
    value = next((i for i, name in enumerate(header) if headings.fold(name) == "value"), -1)
    for line, row in enumerate(body[at:], at + 1):
        cells = [_cell(cell) for cell in row[:width]]
        cells += [""] * (width - len(cells))
        if not any(cell.strip() for cell in cells):
            continue
        if line in out_of_sight and hidden == "leave":
            continue
        if line in out_of_sight and hidden != "take":
            said = f"row {line} is hidden in the sheet" + (
                f"; it holds {saying.shown(cells[value])}" if value >= 0 else ""
            )
            asked = saying.ask(
                "intake/hidden-row", said, "hidden", ("take", "leave"), "value" if value >= 0 else ""
            )
            yield line, cells, (asked,)
            continue
        yield line, cells, ()


def _cell(cell: Any) -> str:
    """A cell as text; a number as it was typed, a date by the clock on the wall."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return rows.Odd("true" if cell else "false", "boolean")
    if isinstance(cell, float | int):
        return _number(float(cell))
    if isinstance(cell, datetime):
        return rows.Odd((cell + timedelta(microseconds=500)).isoformat(" ", "milliseconds"), "date")
    if isinstance(cell, date):
        return rows.Odd(f"{cell.isoformat()} 00:00:00", "day")
    if isinstance(cell, time):
        return rows.Odd(cell.isoformat("seconds"), "clock")
    if isinstance(cell, timedelta):
        return rows.Odd(str(cell), "clock")
    return str(cell)


def _number(value: float) -> str:
    if value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return repr(value)

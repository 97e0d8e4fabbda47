"""CSV: separators found and said, physical line numbers kept, a quote that is never closed named."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from brinehouse.logbook.intake import headings, rows, saying

SEPARATORS = {",": "','", ";": "';'", "\t": "a tab"}
LOOK = 20  # lines in which a header may stand
_FIELD = 1_000_000  # characters of one cell; a longer one is a quote that was not closed


def open_table(data: bytes, encoding: str, known: headings.Known) -> rows.Sheet:
    """The one table of a CSV file.

    Parameters
    ----------
    data : bytes
    encoding : str
        As `decoding.decode` found it.
    known : headings.Known
        Which words a header may hold, by which it is found below a title.
    """
    head = _head(data, encoding)
    separator = max(SEPARATORS, key=lambda sign: _score(head, sign, known))
    header, at = _find_header(head, separator, known)
    if len(header) < 2:
        hint = "the first line names the columns: time,place,quantity,value,unit,by"
        return rows.refused(saying.stop("intake/no-table", "no line of the file names columns", hint))
    faults: tuple[saying.Fault, ...] = ()
    if at > 1:
        faults = (
            saying.note("intake/header-below", f"the header is on line {at}; what stands above was not read"),
        )

    def read() -> Iterator[rows.Row]:
        return _read(data, encoding, separator, at, len(header))

    return rows.Sheet(header, at, read, separator=separator, faults=faults)


def _stream(data: bytes, encoding: str) -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(data), encoding, errors="surrogateescape", newline="")


def _head(data: bytes, encoding: str) -> list[str]:
    stream = _stream(data, encoding)
    return [stream.readline(65_536) for _ in range(LOOK)]


def _split(line: str, separator: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=separator), [])
    except csv.Error:
        return line.rstrip("\r\n").split(separator)


def _score(head: list[str], separator: str, known: headings.Known) -> tuple[int, int]:
    best = max(head, key=lambda line: known.count(_split(line, separator)))
    cells = _split(best, separator)
    return known.count(cells), len(cells)


def _find_header(head: list[str], separator: str, known: headings.Known) -> tuple[list[str], int]:
    """The first line with the most names that are known; the first line that is not blank where none has."""
    first, best, most = 0, 0, 1
    for line, text in enumerate(head, 1):
        cells = _split(text, separator)
        if not first and any(cell.strip() for cell in cells):
            first = line
        count = known.count(cells)
        if count > most:
            best, most = line, count
    at = best or first
    return (_split(head[at - 1], separator), at) if at else ([], 0)


def _read(data: bytes, encoding: str, separator: str, header_line: int, width: int) -> Iterator[rows.Row]:
    """Rows behind the header; a fault of quoting costs its row, or, where a quote stays open, the rest."""
    stream = _stream(data, encoding)
    for _ in range(header_line):
        stream.readline()
    csv.field_size_limit(_FIELD)
    reader = csv.reader(stream, delimiter=separator, strict=True)
    before = 0
    while True:
        try:
            for cells in reader:
                line, before = header_line + before + 1, reader.line_num
                if len(cells) < width:
                    cells += [""] * (width - len(cells))
                elif len(cells) > width:
                    yield line, None, (_too_many(len(cells), width),)
                    continue
                if cells[0].strip() or any(map(str.strip, cells)):
                    yield line, cells, ()
            return
        except csv.Error as error:
            line = header_line + before + 1
            ends = "unexpected end" in str(error) or "field larger" in str(error)
            if ends:
                yield from _unclosed(data, encoding, separator, line)
                return
            before = reader.line_num
            yield line, None, (_bad_quote(),)


def _too_many(count: int, width: int) -> saying.Fault:
    said = f"the row has {count} cells, the header {width}"
    hint = "put a cell that holds the separator in quotes; where rows end with a separator, end the header so"
    return saying.stop("intake/cells", said, hint)


def _bad_quote() -> saying.Fault:
    said = "a quote inside the row is neither doubled nor at the end of its cell"
    return saying.stop("intake/quote", said, "write a quote inside a quoted cell twice")


def _unclosed(data: bytes, encoding: str, separator: str, line: int) -> Iterator[rows.Row]:
    """The row in which a quote was opened, then every later line as swallowed."""
    stream = _stream(data, encoding)
    rest = 0
    opened, where = "", ""
    for number, text in enumerate(stream, 1):
        if number == line:
            opened = text
        elif number > line and text.strip():
            rest += 1
            where = f"{line + 1} to {number}" if number > line + 1 else f"{number}"
    at = next((at for at, cell in enumerate(opened.split(separator)) if cell.count('"') % 2), 0)
    said = f"the quote opened on line {line} is never closed"
    lost = f"lines {where} may have been swallowed: " if rest else ""
    hint = f"close the quote; {lost}nothing from line {line} on was taken"
    yield line, None, (saying.stop("intake/unclosed-quote", said, hint, f"\0{at}", swallowed=rest),)

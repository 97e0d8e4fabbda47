"""Columns of numbers in and out of files: CSV and Parquet, headers ``name (unit)``."""

from __future__ import annotations

import csv
from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from brinehouse import findings, glossary, units
from brinehouse.workbench import mishaps


def _stop(code: str, text: str, hint: str, file: str = "", line: int | None = None) -> findings.Finding:
    return findings.Finding(
        code=code, level=findings.Level.STOP, text=text, hint=hint, spot=findings.Spot(file=file, line=line)
    )


def read(file: Path, *, text: bool = False, numbers: Collection[str] = ()) -> dict[str, Any]:
    """Columns of a CSV or Parquet file by their headers, as arrays; an empty cell is NaN.

    Parameters
    ----------
    file : Path
    text : bool
        Also carry columns of text along, where the header names no unit: times, places, remarks.
    numbers : collection of str
        Columns that are of numbers all the same.

    Raises
    ------
    mishaps.Refused
        No such file, no header, a cell that is not a number (every one is named, at most a hundred).
    """
    if not file.is_file():
        raise mishaps.Refused(
            _stop("columns/no-file", f"There is no file {file.name}", "check the name and the folder")
        )
    if file.suffix.lower() == ".parquet":
        return _read_parquet(file, _may_be_text(text, numbers))
    try:
        return _read_csv(file, _may_be_text(text, numbers))
    except UnicodeDecodeError as fault:
        said = f"{file.name} is not UTF-8 at byte {fault.start}"
        raise mishaps.Refused(_stop("columns/not-utf8", said, "save it as UTF-8", file.name)) from None
    except csv.Error as fault:
        said = f"{file.name} cannot be read as a table: {fault}"
        raise mishaps.Refused(
            _stop("columns/not-a-table", said, "save it as CSV with commas", file.name)
        ) from None


def _word(header: str) -> str:
    return header.partition("(")[0].strip().lower()


def _may_be_text(text: bool, numbers: Collection[str]) -> Callable[[str], bool]:
    return lambda header: text and "(" not in header and _word(header) not in numbers


def _read_csv(file: Path, may_be_text: Callable[[str], bool]) -> dict[str, Any]:
    plain = _read_plain(file)
    if plain is not None:
        return plain
    with file.open(encoding="utf-8-sig", newline="") as page:
        rows = csv.reader(page)
        header = [name.strip() for name in next(rows, [])]
        _check_header(header, file.name)
        cells: list[list[str]] = [[] for _ in header]
        lines: list[int] = []
        for row in rows:
            if any(cell.strip() for cell in row):
                lines.append(rows.line_num)
                for place, column in enumerate(cells):
                    column.append(row[place].strip() if place < len(row) else "")
    found: dict[str, Any] = {}
    faults: list[findings.Finding] = []
    for name, column in zip(header, cells, strict=True):
        values = [units.read_plain(cell) if cell else float("nan") for cell in column]
        if None not in values:
            found[name] = np.array(values, dtype=np.float64)
        elif may_be_text(name):
            found[name] = np.array(column, dtype=object)
        else:
            faults += [
                _not_a_number(cell, name, file.name, line)
                for cell, value, line in zip(column, values, lines, strict=True)
                if value is None
            ][: 100 - len(faults)]
    if faults:
        raise mishaps.Refused(*faults)
    return found


def _read_plain(file: Path) -> dict[str, Any] | None:
    """The quick way for large files of plain numbers; None where a cell needs a closer look."""
    with file.open(encoding="utf-8-sig", newline="") as page:
        header = [name.strip() for name in next(csv.reader(page), [])]
        _check_header(header, file.name)
        body = page.read()
    if not body or set(body) - set("0123456789.,-+eE\r\n"):
        return None
    try:
        table = np.loadtxt(body.splitlines(), delimiter=",", ndmin=2)
    except ValueError:
        return None
    if table.shape[1] != len(header):
        return None
    return {name: np.ascontiguousarray(table[:, place]) for place, name in enumerate(header)}


def _check_header(header: list[str], name: str) -> None:
    if not header or not any(header):
        raise mishaps.Refused(
            _stop("columns/empty", f"{name} is empty", "the first line names the columns", name, 1)
        )
    doubled = sorted({one for one in header if header.count(one) > 1})
    if doubled:
        raise mishaps.Refused(
            _stop(
                "columns/doubled", f"two columns are called '{doubled[0]}'", "give each its own name", name, 1
            )
        )


def _not_a_number(cell: str, column: str, file: str, line: int) -> findings.Finding:
    try:
        units.read_number(cell)
        why, hint = f"'{cell}' is a bound, not a number", "leave bounds out of a column that is computed with"
    except units.NotUnderstood as fault:
        why, hint = fault.why, fault.hint
    return findings.Finding(
        code="columns/not-a-number",
        level=findings.Level.STOP,
        text=f"{column}: {why}",
        hint=hint,
        spot=findings.Spot(file=file, line=line, field=column),
    )


def _read_parquet(file: Path, may_be_text: Callable[[str], bool]) -> dict[str, Any]:
    import duckdb

    try:
        with duckdb.connect() as connection:
            table = connection.execute("SELECT * FROM read_parquet(?)", [str(file)]).fetchnumpy()
    except duckdb.Error:
        said = f"{file.name} is not a Parquet file, or only part of one"
        raise mishaps.Refused(
            _stop("columns/not-a-table", said, "write it again, or give it as CSV", file.name)
        ) from None
    found: dict[str, Any] = {}
    for name, column in table.items():
        if column.dtype.kind in "iufcb":
            found[name] = np.asarray(np.ma.filled(column.astype(np.float64), np.nan))
        elif may_be_text(name):
            found[name] = np.ma.filled(column, "") if column.dtype == object else np.asarray(column)
        else:
            said = f"{file.name}: the column '{name}' holds no numbers"
            raise mishaps.Refused(
                _stop("columns/not-a-number", said, "write it as a column of numbers", file.name)
            )
    return found


def write(file: Path, columns: Mapping[str, Any]) -> None:
    """Columns to CSV or Parquet, by the file's ending; NaN is an empty cell. Whole, or not at all.

    Raises
    ------
    mishaps.Refused
        Where the ending is neither.
    """
    make = {".csv": _write_csv, ".parquet": _write_parquet}.get(file.suffix.lower())
    if make is None:
        raise mishaps.Refused(
            _stop(
                "columns/ending",
                f"{file.name} would be neither CSV nor Parquet",
                "end it in .csv or .parquet",
            )
        )
    fresh = file.with_name(f".{file.name}.part")
    try:
        make(fresh, columns)
        fresh.replace(file)
    finally:
        fresh.unlink(missing_ok=True)


def _write_csv(file: Path, columns: Mapping[str, Any]) -> None:
    with file.open("w", encoding="utf-8", newline="") as page:
        writer = csv.writer(page, lineterminator="\n")
        writer.writerow(columns)
        arrays = [column.tolist() for column in map(np.asarray, columns.values())]
        for row in zip(*arrays, strict=True):
            writer.writerow("" if isinstance(cell, float) and cell != cell else cell for cell in row)


def _write_parquet(file: Path, columns: Mapping[str, Any]) -> None:
    import duckdb

    table = {name: np.asarray(column) for name, column in columns.items()}
    target = str(file).replace("'", "''")
    with duckdb.connect() as connection:
        connection.register("answer", table)
        connection.execute(f"COPY answer TO '{target}' (FORMAT parquet, COMPRESSION zstd)")


def one(table: Mapping[str, Any], name: str, file: str) -> list[float]:
    """A column by its word, with or without a unit in brackets."""
    for header, column in table.items():
        if _word(header) == name:
            return column.tolist()
    near = glossary.nearest(name, list(table))
    hint = f"did you mean the column '{near[0]}'?" if near else f"it has: {', '.join(table)}"
    raise mishaps.Refused(_stop("columns/missing", f"{file} has no column '{name}'", hint, file, 1))

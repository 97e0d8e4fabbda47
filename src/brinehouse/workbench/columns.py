"""Columns of numbers in and out of files: CSV and Parquet, headers ``name (unit)``."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinehouse import findings, glossary, units
from brinehouse.workbench import mishaps

Floats = NDArray[np.float64]


def _stop(code: str, text: str, hint: str, file: str = "", line: int | None = None) -> findings.Finding:
    return findings.Finding(
        code=code, level=findings.Level.STOP, text=text, hint=hint, spot=findings.Spot(file=file, line=line)
    )


def read(file: Path) -> dict[str, Floats]:
    """Columns of a CSV or Parquet file by their headers; an empty cell is NaN.

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
        return _read_parquet(file)
    try:
        return _read_csv(file)
    except UnicodeDecodeError as fault:
        raise mishaps.Refused(
            _stop(
                "columns/not-utf8",
                f"{file.name} is not UTF-8 at byte {fault.start}",
                "save it as UTF-8",
                file.name,
            )
        ) from None


def _read_csv(file: Path) -> dict[str, Floats]:
    plain = _read_plain(file)
    if plain is not None:
        return plain
    with file.open(encoding="utf-8-sig", newline="") as page:
        rows = csv.reader(page)
        header = [name.strip() for name in next(rows, [])]
        _check_header(header, file.name)
        columns: list[list[float]] = [[] for _ in header]
        faults: list[findings.Finding] = []
        for row in rows:
            if not any(cell.strip() for cell in row):
                continue
            for place, column in enumerate(columns):
                cell = row[place].strip() if place < len(row) else ""
                value = units.read_plain(cell) if cell else float("nan")
                if value is None:
                    faults.append(_not_a_number(cell, header[place], file.name, rows.line_num))
                    value = float("nan")
                column.append(value)
            if len(faults) >= 100:
                break
    if faults:
        raise mishaps.Refused(*faults)
    return {name: np.array(column) for name, column in zip(header, columns, strict=True)}


def _read_plain(file: Path) -> dict[str, Floats] | None:
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


def _read_parquet(file: Path) -> dict[str, Floats]:
    import duckdb

    with duckdb.connect() as connection:
        table = connection.execute("SELECT * FROM read_parquet(?)", [str(file)]).fetchnumpy()
    return {
        name: np.asarray(np.ma.filled(column.astype(np.float64), np.nan)) for name, column in table.items()
    }


def write(file: Path, columns: Mapping[str, Any]) -> None:
    """Columns to CSV or Parquet, by the file's ending; NaN is an empty cell."""
    if file.suffix.lower() == ".parquet":
        _write_parquet(file, columns)
        return
    with file.open("w", encoding="utf-8", newline="") as page:
        writer = csv.writer(page, lineterminator="\n")
        writer.writerow(columns)
        arrays = [column.tolist() for column in map(np.asarray, columns.values())]
        for row in zip(*arrays, strict=True):
            writer.writerow("" if isinstance(cell, float) and cell != cell else cell for cell in row)


def _write_parquet(file: Path, columns: Mapping[str, Any]) -> None:
    import duckdb

    table = {name: np.asarray(column) for name, column in columns.items()}
    with duckdb.connect() as connection:
        connection.register("answer", table)
        target = str(file).replace("'", "''")
        connection.execute(f"COPY answer TO '{target}' (FORMAT parquet, COMPRESSION zstd)")


def one(table: Mapping[str, Floats], name: str, file: str) -> list[float]:
    """A column by its word, with or without a unit in brackets."""
    for header, column in table.items():
        if header.partition("(")[0].strip().lower() == name:
            return column.tolist()
    near = glossary.nearest(name, list(table))
    hint = f"did you mean the column '{near[0]}'?" if near else f"it has: {', '.join(table)}"
    raise mishaps.Refused(_stop("columns/missing", f"{file} has no column '{name}'", hint, file, 1))

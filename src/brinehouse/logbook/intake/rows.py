"""What every kind of file becomes: a header and rows of texts, each with its line or item."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Self

from brinehouse.logbook.intake import saying

Row = tuple[int, list[str] | None, tuple[saying.Fault, ...]]
"""Line or item; its cells in the order of the header, or None; what is wrong with it."""


class Odd(str):
    """A cell that is no text and no number: a date where a value should be, true or false, an error."""

    __slots__ = ("kind",)
    kind: str

    def __new__(cls, text: str, kind: str) -> Self:
        """Keep the text and say what the cell is: ``date``, ``boolean``, ``nested``."""
        made = super().__new__(cls, text)
        made.kind = kind
        return made


def nothing() -> Iterator[Row]:
    """No rows."""
    return iter(())


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table of a file.

    Attributes
    ----------
    header : list of str
    header_line : int
    rows : callable
        Begins at the first row each time it is called.
    by_item : bool
        Whether rows are counted as items, not as lines.
    separator : str
        Between fields, for CSV.
    loose : bool
        Whether an odd row is asked about although others are plain, as in a workbook.
    keyed : bool
        Whether the header is fixed and each row names its own columns, as in JSON.
    faults : tuple
        About the whole file.
    unread : int
        Rows that were found and not read: those of other sheets.
    """

    header: list[str]
    header_line: int
    rows: Callable[[], Iterator[Row]]
    by_item: bool = False
    separator: str = ""
    loose: bool = False
    keyed: bool = False
    faults: tuple[saying.Fault, ...] = ()
    unread: int = 0
    notes: dict[str, str] = field(default_factory=dict[str, str])


def refused(*faults: saying.Fault) -> Sheet:
    """A file of which nothing is read."""
    return Sheet([], 0, nothing, faults=faults)

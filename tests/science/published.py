"""Numbers from print beside the code's: tables whose first line names their source.

A row is one value: which relation, with which arguments, what is printed. Where the tolerance column is empty
half the last printed digit is asked for. The provenance column says how the number is known: read in a public
copy, computed with a named library, or from memory; the source column narrows the first line where it must.
"""

import csv
import functools
import math
import pathlib
from dataclasses import dataclass
from decimal import Decimal

FOLDER = pathlib.Path(__file__).parent / "published"


def half_last_digit(text):
    """Half of the last digit as printed: 274.610 asks for 0.0005."""
    return 0.5 * float(Decimal(1).scaleb(Decimal(text).as_tuple().exponent))


@dataclass(frozen=True)
class Row:
    """One printed value."""

    id: str
    relation: str
    arguments: dict
    text: str
    tolerance: float
    unit: str
    source: str
    provenance: str

    @property
    def value(self):
        return float(self.text)

    def __str__(self):
        return self.id


def _read(text):
    try:
        return float(text)
    except ValueError:
        return text


def _arguments(text):
    pairs = (part.split("=") for part in text.split(";") if part.strip())
    return {name.strip(): _read(value.strip()) for name, value in pairs}


@functools.cache
def rows(name):
    """Rows of one table."""
    lines = (FOLDER / f"{name}.csv").read_text("utf-8").splitlines()
    assert lines[0].startswith("# "), f"{name}.csv does not name its source in its first line"
    return [
        Row(
            row["id"],
            row["relation"],
            _arguments(row["arguments"]),
            row["value"],
            float(row["tolerance"]) if row["tolerance"] else half_last_digit(row["value"]),
            row["unit"],
            row["source"],
            row["provenance"],
        )
        for row in csv.DictReader(lines[1:])
    ]


def misses(name, relations):
    """Ids of the rows that the code does not reproduce; every row must name a relation that is given."""
    missed = []
    for row in rows(name):
        got = float(relations[row.relation](**row.arguments))
        if not math.isclose(got, row.value, rel_tol=0.0, abs_tol=row.tolerance * (1 + 1e-9)):
            missed.append(row.id)
    return missed

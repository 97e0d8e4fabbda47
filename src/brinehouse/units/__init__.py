"""Written amounts ('17 m3', '3 hp', '84 °F') to SI and back: a strict number grammar and a closed table."""

from brinehouse.units.amounts import Amount, convert, format_amount, read_amount, split_amount
from brinehouse.units.display import Display
from brinehouse.units.faults import Missing, NotUnderstood
from brinehouse.units.numbers import Number, read_entry, read_missing, read_number, read_plain
from brinehouse.units.spelling import meanings, unit
from brinehouse.units.table import KINDS, SYMBOLS, UNITLESS, UNITS, Unit

__all__ = [
    "KINDS",
    "SYMBOLS",
    "UNITLESS",
    "UNITS",
    "Amount",
    "Display",
    "Missing",
    "NotUnderstood",
    "Number",
    "Unit",
    "convert",
    "format_amount",
    "meanings",
    "read_amount",
    "read_entry",
    "read_missing",
    "read_number",
    "read_plain",
    "split_amount",
    "unit",
]

"""What is asked of a plant's balance: the question, the quantities, and what is known beforehand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from brinehouse import answers, findings
from brinehouse.facility import model

CAUTIONS = (
    "Isolate and let off pressure before a pipe is opened: pumps, columns and filters hold pressure after "
    "they stop.",
    "Electricity by water: changes of wiring and of fixed plant belong to licensed trades and local codes.",
    "Heavy parts are lifted by two people or a hoist; sumps and pits are confined spaces.",
    "Chemicals that a change needs (acid, alkali, cleaner) are handled by their own safety sheets.",
    "Make one change at a time, and watch the animals while the water settles.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One column of the answer.

    Attributes
    ----------
    name : str
        Key in tables.
    label : str
        What a person reads.
    word : str
        The glossary's word, for limits and readings; empty where it has none.
    unit : str
    decimals : int
    of : str
        What it hangs on in the network: the species whose terms explain it.
    """

    name: str
    label: str
    word: str
    unit: str
    decimals: int
    of: str


QUANTITIES: Mapping[str, Quantity] = {
    one.name: one
    for one in (
        Quantity(name="temperature", label="temperature", word="temperature", unit="°C", decimals=1,
                 of="temperature"),
        Quantity(name="salinity", label="salinity", word="salinity", unit="PSU", decimals=1, of="salinity"),
        Quantity(name="oxygen", label="oxygen", word="oxygen", unit="mg/L", decimals=2, of="oxygen"),
        Quantity(name="oxygen_percent", label="oxygen, of saturation", word="oxygen saturation", unit="%",
                 decimals=0, of="oxygen"),
        Quantity(name="tgp", label="total gas pressure", word="total gas pressure", unit="%", decimals=1,
                 of="nitrogen"),
        Quantity(name="delta_p", label="ΔP", word="delta p", unit="mmHg", decimals=0, of="nitrogen"),
        Quantity(name="n2_ar", label="N₂+Ar, of saturation", word="nitrogen residual", unit="%", decimals=1,
                 of="nitrogen"),
        Quantity(name="ph", label="pH", word="pH", unit="1", decimals=2, of="carbon"),
        Quantity(name="co2", label="carbon dioxide", word="carbon dioxide", unit="mg/L", decimals=2,
                 of="carbon"),
        Quantity(name="alkalinity", label="alkalinity", word="alkalinity", unit="meq/L", decimals=2,
                 of="alkalinity"),
        Quantity(name="tan", label="total ammonia, as N", word="ammonia", unit="mg/L", decimals=3, of="tan"),
        Quantity(name="ammonia", label="un-ionised ammonia, as N", word="un-ionised ammonia", unit="mg/L",
                 decimals=4, of="tan"),
        Quantity(name="nitrite", label="nitrite, as N", word="nitrite", unit="mg/L", decimals=3,
                 of="nitrite"),
        Quantity(name="nitrate", label="nitrate, as N", word="nitrate", unit="mg/L", decimals=1,
                 of="nitrate"),
    )
}  # fmt: skip
"""By name, in the order in which a keeper asks for them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """The newest reading of one quantity at one place."""

    value: float
    u: float | None
    at: datetime
    instrument: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """One plant to be worked out: as it stands, or as it would be.

    Attributes
    ----------
    facility : Facility
    flows : mapping-like
        What `network.flows` says of its runs: ``flows`` and ``u``. [m³/s]
    conditions : Conditions
        What stands around the water, from `network.compartments`.
    findings : sequence of Finding
        What a change list and the checks brought.
    said : sequence of str
        What is different, in a keeper's words.
    title : str
        The change as typed.
    """

    facility: model.Facility
    flows: Any
    conditions: Any
    findings: Sequence[findings.Finding] = ()
    said: Sequence[str] = ()
    title: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One thing that adds to a quantity of a place or takes from it."""

    name: str
    amount: float
    unit: str
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """A plant in balance.

    Attributes
    ----------
    values : mapping
        (place, quantity) to its number, in the quantity's unit.
    terms : mapping
        (place, quantity) to what adds and what takes away, largest first.
    findings : sequence of Finding
    """

    values: Mapping[tuple[str, str], float]
    terms: Mapping[tuple[str, str], Sequence[Term]] = field(default_factory=dict[tuple[str, str], Any])
    findings: Sequence[findings.Finding] = ()


QUESTION = answers.Question(
    name="balance",
    title="What steady state will this plant reach, how long does it take, and what limits it?",
    inputs=(
        answers.Input(name="volume", label="water in the tank", unit="m³", example="20 m3", required=True,
                      help="all the water that goes round with it"),
        answers.Input(name="surface", label="open surface", unit="m²", example="12 m2",
                      help="a square metre for each cubic metre where it is left out"),
        answers.Input(name="mass", label="animals", unit="kg", example="30 kg", help="their mass together"),
        answers.Input(name="feed", label="feed a day", unit="g", example="300 g",
                      help="1 % of the animals' mass where it is left out (common practice, no source)"),
        answers.Input(name="temperature", label="temperature", word="temperature", unit="°C", example="25 °C",
                      help="what the chiller holds"),
        answers.Input(name="salinity", label="salinity", word="salinity", unit="ppt", example="34 ppt"),
        answers.Input(name="flow", label="flow over the filters", unit="m³/h", example="20 m3/h"),
    ),
    outputs=tuple(
        answers.Output(name=one.name, label=one.label, unit=one.unit, decimals=one.decimals)
        for one in QUANTITIES.values()
    ),
    cautions=CAUTIONS,
)  # fmt: skip

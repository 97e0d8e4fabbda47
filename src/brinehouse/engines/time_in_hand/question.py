"""What is asked of a plant's time in hand: the question, the limits looked at, and what an answer holds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from brinehouse import answers, findings
from brinehouse.facility import model

Band = Literal["act", "watch", "spills", "dry", "uncovered"]
Begin = Literal["now", "worst"]

HOURS = 72.0
LESS_THAN = 4.0  # h: sets of failures that leave less are told, where nothing else is asked
NOTICE = 0.5  # h until somebody or something notices (common practice, no source)
TRAVEL = 0.5  # h until somebody stands before it (common practice, no source)

CAUTIONS = (
    "Life safety first: people before animals, animals before machines.",
    "Electricity and water: switch off and lock off before anything wet is touched; wiring and fixed plant "
    "belong to the licensed trade.",
    "Never enter a sump, a pit or a tank alone; never lift alone.",
    "What is given to animals, and animals in distress, belong to the veterinarian.",
    "Local codes rule; where a site's own emergency plan says otherwise, it rules.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A limit that courses are held against.

    Attributes
    ----------
    place, quantity : str
        Id of a place, and a name of `transients.tables.QUANTITIES`.
    value : float
        Where it lies, in `unit`.
    unit : str
        Of the quantity as the answer says it.
    upper : bool
        Whether more is worse.
    band : str
        ``act`` and ``watch`` are the facility's; ``spills`` (over the rim), ``dry`` (a sump, by its pumps)
        and ``uncovered`` (animals out of the water) hold without anybody stating them.
    text : str
        In a keeper's words: ``below 4.5 mg/L``.
    source : str
    """

    place: str
    quantity: str
    value: float
    unit: str
    upper: bool
    band: Band
    text: str
    source: str = ""

    def as_json(self) -> dict[str, Any]:
        """Plain data, without place and quantity."""
        return {"limit": self.value, "unit": self.unit, "side": "above" if self.upper else "below",
                "band": self.band, "limit_text": self.text, "source": self.source}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A limit that is crossed: when, and between when and when (95 %).

    ``low`` and ``high`` are None until intervals have been worked out; ``high`` is infinite where in more
    than 2.5 % of the samples the limit is not crossed within the hours looked at; ``hours`` is infinite
    where it is crossed only in some samples.
    """

    line: Line
    hours: float
    low: float | None = None
    high: float | None = None
    anyway: bool = False
    """Whether it would be crossed about as soon when nothing fails."""

    @property
    def place(self) -> str:
        """Where."""
        return self.line.place

    @property
    def quantity(self) -> str:
        """What."""
        return self.line.quantity

    def as_json(self) -> dict[str, Any]:
        """Plain data; an end beyond the hours looked at is null with ``open``."""
        out = {"place": self.place, "quantity": self.quantity, **self.line.as_json(),
               "hours": finite(self.hours), "low": finite(self.low), "high": finite(self.high),
               "anyway": self.anyway}  # fmt: skip
        if self.high is not None and math.isinf(self.high):
            out["open"] = True
        return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """A limit that is not crossed: how near it came [the line's unit], and when."""

    line: Line
    margin: float
    hours: float

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {"place": self.line.place, "quantity": self.line.quantity, **self.line.as_json(),
                "margin": self.margin, "hours": self.hours}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Help:
    """Something that can be done once somebody is there, and what it brings.

    Attributes
    ----------
    id, title, kind : str
        Kind is that of the effect: ``aerate``, ``exchange``, ``no-feed``, ``valve``, ``start``.
    hours : float
        Until the first crossing at the place where it gets tight first; infinite where none is left there.
    gained : float
        That, less the hours without it.
    """

    id: str
    title: str
    kind: str
    hours: float
    gained: float

    def as_json(self) -> dict[str, Any]:
        """Plain data; null hours: no limit is crossed any more."""
        return {"id": self.id, "title": self.title, "kind": self.kind, "hours": finite(self.hours),
                "gained": finite(self.gained)}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One failure, or two together, and what comes of it.

    Attributes
    ----------
    id : str
        The failure's, or both joined by `` + ``.
    failures : tuple of str
        Ids: one or two.
    title, kind : str
    noticed : bool
        False where nothing at the plant would show it: a dead standby.
    bites_with : tuple of str
        For such a failure: the failures with which it leaves less time than they leave alone.
    crossings : sequence of Crossing
        Of ``act`` limits and of those that hold by themselves, soonest first.
    signs : sequence of Crossing
        Of ``watch`` limits: what can be seen first.
    least_margins : sequence of Margin
        Of act limits not crossed, nearest (over what matters of the quantity) first.
    helps : sequence of Help
        Most hours gained first; empty also where not worked out.
    left : float or None
        Hours from standing before it until the first crossing; below nought: too late. None: none crossed.
    """

    id: str
    failures: tuple[str, ...]
    title: str
    kind: str
    noticed: bool = True
    bites_with: tuple[str, ...] = ()
    crossings: Sequence[Crossing] = ()
    signs: Sequence[Crossing] = ()
    least_margins: Sequence[Margin] = ()
    helps: Sequence[Help] = ()
    left: float | None = None

    @property
    def first(self) -> Crossing | None:
        """The first crossing that would not have come anyway."""
        return next((one for one in self.crossings if not one.anyway), None)

    @property
    def hours(self) -> float:
        """Time in hand; infinite where no limit is crossed."""
        first = self.first
        return first.hours if first is not None else math.inf

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "id": self.id, "failures": list(self.failures), "title": self.title, "kind": self.kind,
            "noticed": self.noticed, "bites_with": list(self.bites_with),
            "crossings": [one.as_json() for one in self.crossings],
            "signs": [one.as_json() for one in self.signs],
            "least_margins": [one.as_json() for one in self.least_margins],
            "helps": [one.as_json() for one in self.helps], "left": finite(self.left),
        }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class CutSet:
    """A least set of failures that leaves less than the time asked for.

    Attributes
    ----------
    failures, titles : tuple of str
    hours : float
    crossing : Crossing
        The one that comes first.
    parts : tuple of str
        The plant's parts behind it.
    """

    failures: tuple[str, ...]
    titles: tuple[str, ...]
    hours: float
    crossing: Crossing
    parts: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {"failures": list(self.failures), "titles": list(self.titles), "hours": self.hours,
                "first": self.crossing.as_json(), "parts": list(self.parts)}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part and in how many of the least sets it stands."""

    name: str
    sets: int
    of: int
    shortest: float

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {"part": self.name, "sets": self.sets, "of": self.of, "shortest_hours": self.shortest}


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """A number nobody stated, that the answer rests on."""

    what: str
    value: float
    unit: str
    source: str

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {"what": self.what, "value": self.value, "unit": self.unit, "source": self.source}


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """From where the courses start.

    Attributes
    ----------
    begin : str
        ``now`` or ``worst``.
    clock : float
        Hour of the day.
    text : str
        In a keeper's words.
    crossed : tuple of Line
        Limits beyond at the start, without any failure.
    """

    begin: Begin
    clock: float
    text: str
    crossed: tuple[Line, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {"from": self.begin, "clock": self.clock, "text": self.text, "already_crossed": [
            {"place": one.place, "quantity": one.quantity, **one.as_json()} for one in self.crossed
        ]}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One quantity at one place over the hours after a failure, in the unit its limits are said in.

    Attributes
    ----------
    hours, values : sequence of float
    lines : sequence of Line
        The limits it is held against.
    """

    place: str
    quantity: str
    unit: str
    hours: Sequence[float]
    values: Sequence[float]
    lines: Sequence[Line] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """How sure a number is that intervals rest on: ``u`` as a share of it."""

    name: str
    label: str
    u: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the engine is asked.

    Attributes
    ----------
    facility : Facility
    flows : mapping
        Run to flow, closed. [m³/s]
    conditions : Conditions
        What acts on the water, as `network.compartments` takes it.
    failures : sequence
        `failures.Failure`; the catalogue of the facility where empty.
    known : mapping
        Place to quantity (`transients.tables.QUANTITIES`, in their units) to its newest reading.
    pairs : bool
        Whether all pairs are worked out too.
    begin : str
        ``now`` or ``worst``.
    clock : float
        Hour of the day now.
    notice, travel, less_than, hours : float
        [h]
    doubts : mapping
        ``biomass``, ``exchange``, ``volume`` to how sure they are.
    """

    facility: model.Facility
    flows: Mapping[str, float]
    conditions: Any
    failures: Sequence[Any] = ()
    known: Mapping[str, Mapping[str, float]] = field(default_factory=dict[str, Mapping[str, float]])
    pairs: bool = False
    begin: Begin = "now"
    clock: float = 0.0
    notice: float = NOTICE
    travel: float = TRAVEL
    less_than: float = LESS_THAN
    hours: float = HOURS
    doubts: Mapping[str, Doubt] = field(default_factory=dict[str, Doubt])


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Every failure and what comes of it: what the answer is told from.

    Attributes
    ----------
    rows, pairs : sequence of Row
        Singles and pairs, shortest first, those without a crossing last by their least margin.
    base : Row
        What comes when nothing fails.
    lines : sequence of Line
        Every limit looked at.
    intervals : str
        ``none``, ``computing`` or ``ready``.
    """

    asked: Asked
    start: Start
    lines: Sequence[Line]
    base: Row
    rows: Sequence[Row]
    pairs: Sequence[Row] = ()
    cut_sets: Sequence[CutSet] = ()
    parts: Sequence[Part] = ()
    assumed: Sequence[Assumed] = ()
    findings: Sequence[findings.Finding] = ()
    working: Sequence[answers.Step] = ()
    intervals: Literal["none", "computing", "ready"] = "none"

    def as_json(self) -> dict[str, Any]:
        """Plain data: the contract's object."""
        return {
            "start": self.start.as_json(), "hours": self.asked.hours, "less_than": self.asked.less_than,
            "notice": self.asked.notice, "travel": self.asked.travel, "intervals": self.intervals,
            "nothing_fails": self.base.as_json(),
            "failures": [one.as_json() for one in self.rows],
            "pairs": [one.as_json() for one in self.pairs],
            "cut_sets": [one.as_json() for one in self.cut_sets],
            "parts": [one.as_json() for one in self.parts],
            "assumed": [one.as_json() for one in self.assumed],
            "findings": [one.as_json() for one in self.findings],
        }  # fmt: skip


def finite(value: float | None) -> float | None:
    """The number, or None where there is none or it is endless."""
    return value if value is not None and math.isfinite(value) else None


QUESTION = answers.Question(
    name="time in hand",
    title="If something fails, how long do the animals have, and what comes first?",
    inputs=(
        answers.Input(name="volume", label="water in the tank", unit="m³", example="20 m3", required=True,
                      help="of the one tank that stands still"),
        answers.Input(name="surface", label="open surface", unit="m²", example="12 m2",
                      help="a square metre for each cubic metre where it is left out"),
        answers.Input(name="mass", label="animals", unit="kg", example="30 kg", required=True,
                      help="their mass together"),
        answers.Input(name="temperature", label="temperature", word="temperature", unit="°C",
                      example="25 °C"),
        answers.Input(name="salinity", label="salinity", word="salinity", unit="ppt", example="34 ppt"),
        answers.Input(name="flow", label="flow over the filters", unit="m³/h", example="20 m3/h"),
        answers.Input(name="least", label="oxygen that must not be passed", word="oxygen", unit="mg/L",
                      example="4.5 mg/L", required=True, help="your own limit"),
    ),
    outputs=(
        answers.Output(name="hours", label="time in hand", unit="h", decimals=1),
        answers.Output(name="left", label="left once somebody is there", unit="h", decimals=1),
        answers.Output(name="gained", label="gained by what helps most", unit="h", decimals=1),
    ),
    cautions=CAUTIONS,
)  # fmt: skip

"""What is asked of the turns of duty groups, and what is known of their pumps from the logbook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from brinehouse import answers, records

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
TURN = timedelta(hours=24)  # common practice, no source: crews turn duty pumps about once a day
IDLE = timedelta(days=7)  # common practice, no source: a resting pump runs at least weekly
TRIAL = timedelta(minutes=30)  # common practice, no source: until it is warm and its seal is wet
OFFSET = 0.25  # of the hours between overhauls; 20 to 30 % is common practice, no source
TIE = timedelta(hours=1)  # hours are counted no closer: who runs goes on running, for a start costs
START_FAILS = 1e-3  # per demand, Fermilab FESHM 4240
DAYS = 14

QUESTION = answers.Question(
    name="turns",
    title="Which pumps run tomorrow, and when is each due for its overhaul?",
    inputs=(
        answers.Input(
            name="hours",
            label="hours each pump has run since its overhaul",
            kind="series",
            unit="h",
            example="1200 1650 2010 2400",
            required=True,
            help="one number for each pump of the group, in any order",
        ),
        answers.Input(
            name="keep", label="how many are kept running", kind="text", example="3", help="1 if left empty"
        ),
        answers.Input(
            name="turn", label="how long until the next turn", unit="h", example="24 h", help="24 h if empty"
        ),
        answers.Input(
            name="life", label="running hours from overhaul to overhaul", unit="h", example="16000 h",
            help="without them the pumps are kept even, not apart",
        ),
        answers.Input(
            name="offset", label="how far apart they are kept", kind="text", example="25 %",
            help="a share of those hours; 25 % if empty",
        ),
    ),
    outputs=(
        answers.Output(name="changes", label="change-overs in a week", unit="1/week", decimals=1),
        answers.Output(name="rest", label="longest rest planned", unit="d", decimals=1),
        answers.Output(name="spread", label="away from the wanted offset at the end", unit="h", decimals=0),
    ),
    cautions=(
        "A plan for people: nothing here starts or stops a pump.",
        "A change-over is plant work: by the procedure of the house, with somebody at the tanks; the next "
        "pump runs and holds its flow before the other is stopped.",
        "A pump that is locked out stays locked out until whoever hung the tag takes it away.",
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """What a pump's own counter showed: running hours, and starts where it counts them."""

    at: datetime
    pump: str
    hours: float
    starts: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Overhaul:
    """A pump was overhauled: its wear counts from here."""

    at: datetime
    pump: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lock:
    """A pump was locked out, or set free again."""

    at: datetime
    pump: str
    on: bool
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeOver:
    """A turn that was taken, or a trial of the automatic change-over."""

    at: datetime
    duty: str
    test: bool
    worked: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What the logbook has of the pumps, each list in order of time."""

    turns: Sequence[records.Turn] = field(default_factory=tuple[records.Turn, ...])
    counters: Sequence[Counter] = field(default_factory=tuple[Counter, ...])
    overhauls: Sequence[Overhaul] = field(default_factory=tuple[Overhaul, ...])
    locks: Sequence[Lock] = field(default_factory=tuple[Lock, ...])
    change_overs: Sequence[ChangeOver] = field(default_factory=tuple[ChangeOver, ...])


def hours(span: timedelta) -> float:
    """A span in hours."""
    return span / HOUR

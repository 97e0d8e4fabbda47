"""What is asked of the loop's gas: the question, what it rests on, and what is assumed before any reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from brinehouse import answers, records
from brinehouse.facility import model

FEWEST = 8  # samples of a system below which nothing is fitted
SURE = 0.95  # share of the weight a pump must hold before it is named

QUESTION = answers.Question(
    name="gas sources",
    title="Where in the loop does the excess gas come from, and what would a change do?",
    inputs=(),
    outputs=(
        answers.Output(
            name="leak", label="ΔP of the air drawn in, where it is felt most", unit="mmHg", decimals=1
        ),
        answers.Output(
            name="leaked_air", label="air drawn in for each litre pumped", unit="mL/L", decimals=2
        ),
        answers.Output(
            name="ratio", label="nitrogen's rise over oxygen's, in that air", unit="1", decimals=2
        ),
        answers.Output(name="dissolved", label="share of that air that dissolves", unit="1", decimals=2),
    ),
    cautions=(
        "Changes of plant belong to licensed trades and local codes.",
        "Pumps, columns and pipes are under pressure: shut off, drain and vent before one is opened.",
        "Columns and filled vessels are heavy: lift with help and gear rated for it.",
        "Electricity by water: switch off and lock off before a hand goes in.",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """What a visit found at one place or tap.

    ``delta_p`` [mmHg], ``oxygen`` and ``nitrogen`` with argon [% of local saturation]; ``temperature`` [°C],
    ``salinity`` and ``pressure`` of the air [mmHg] are those it was worked out with; ``u`` is what is known
    of the error of ``delta_p`` in this sample alone [mmHg].
    """

    at: datetime
    place: str
    delta_p: float
    oxygen: float
    nitrogen: float
    meter: str = ""
    temperature: float = 20.0
    salinity: float = 35.0
    pressure: float = 760.0
    u: float = 0.6


Turn = records.Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A piece of equipment put into service, as the logbook tells it."""

    at: datetime
    equipment: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Suction:
    """What the hydraulics say of one pump: can air be drawn in (``yes``, ``no``, ``may be``), and why."""

    pump: str
    below_air: str
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """Everything a survey of one system rests on.

    Attributes
    ----------
    facility : Facility
    system : str
    samples, turns, changes : tuples
        One system's, in order of time.
    suctions : mapping
        Pump to what the hydraulics say of it.
    flows : mapping
        Run to flow. [m³/s]
    offsets : mapping
        Meter to the standard uncertainty of the offset that was taken off its ΔP. [mmHg]
    gains : mapping
        Meter to the standard uncertainty of its oxygen, as a share.
    barometer : tuple of (datetime, float)
        Pressure of the air through the time, any constant error allowed. [mmHg]
    changed : mapping
        What a keeper calls a plan, to the facility as it would then be.
    """

    facility: model.Facility
    system: str
    samples: tuple[Sample, ...]
    turns: tuple[Turn, ...]
    changes: tuple[Change, ...] = ()
    suctions: Mapping[str, Suction] = field(default_factory=dict[str, Suction])
    flows: Mapping[str, float] = field(default_factory=dict[str, float])
    offsets: Mapping[str, float] = field(default_factory=dict[str, float])
    gains: Mapping[str, float] = field(default_factory=dict[str, float])
    barometer: tuple[tuple[datetime, float], ...] = ()
    changed: Mapping[str, model.Facility] = field(default_factory=dict[str, model.Facility])

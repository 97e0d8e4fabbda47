"""What the generator is asked for and what it hides: laws, truths, levels and the history itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from brinehouse import records

Floats = NDArray[np.float64]
END = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)

LIMITS: Mapping[str, tuple[float, float]] = {
    "leak_mangrove": (12.0, 22.0),
    "leak_pipefish": (10.0, 22.0),
    "leak_ratio": (1.55, 2.0),
    "bias_a": (-0.15, 0.15),
    "bias_b": (0.8, 1.6),
    "column_effect": (5.0, 16.0),
    "hand_meter_factor": (1.20, 1.24),
}
"""Between which sizes a seed may set each truth: mmHg, % per %, points of TGP, times the true mg/L."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Laws:
    """How this invented world works; a test changes one and looks whether an answer widens or says so.

    Attributes
    ----------
    leak_pump : str
        The return pump at whose strainer air is drawn in.
    leak_mmhg : float or None
        ΔP it adds at mangrove when it has run long; drawn by the seed where None; 0 for no leak. [mmHg]
    leak_fraction_dissolved : float or None
        Share of the air that dissolves whole; the rest comes to balance with its bubbles. Drawn (0.76 to 1).
    probe : str
        How a gas meter comes to rest.
    drift_per_day : float
        Drift of meter B from the first day on. [points of TGP per day]
    meter_b_bias_walk : bool
        Whether meter B's bias walks about by some tenths of a point a day.
    column : bool
        Whether the packed column was put in.
    slips : float
        How many slips of the pen, against the usual.
    """

    leak_pump: str = "P-203"
    leak_mmhg: float | None = None
    leak_fraction_dissolved: float | None = None
    probe: Literal["one-exponential", "two-exponential", "three-exponential"] = "two-exponential"
    drift_per_day: float = 0.0
    meter_b_bias_walk: bool = False
    column: bool = True
    slips: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """What the water really held, every `step` hours from `start`.

    ``series[place][quantity]``: ``temperature`` [°C], ``salinity``, ``oxygen`` [mg/L], ``oxygen %``,
    ``nitrogen %`` (argon counted in), ``tgp`` [%] and ``delta p`` [mmHg]; ``pressure`` is the station's and
    ``sea level`` the weather feed's. [mmHg]
    """

    start: datetime
    step: float
    series: Mapping[str, Mapping[str, Floats]]
    pressure: Floats
    sea_level: Floats

    def index(self, when: datetime) -> int:
        """The step nearest to a time, held at both ends."""
        steps = round((when - self.start).total_seconds() / 3600.0 / self.step)
        return min(max(steps, 0), self.pressure.size - 1)

    def at(self, place: str, quantity: str, when: datetime) -> float:
        """What really was, at one place and time."""
        return float(self.series[place][quantity][self.index(when)])

    def times(self) -> list[datetime]:
        """The time of every step."""
        return [self.start + timedelta(hours=self.step * k) for k in range(self.pressure.size)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowTruth:
    """Which flow meter slipped, by which share it reads too high, and what ran at the last round in m³/h."""

    meter: str = ""
    bias: float = 0.0
    flows: Mapping[str, float] = field(default_factory=dict[str, float])


@dataclass(frozen=True, slots=True, kw_only=True)
class Truths:
    """What the readings hide.

    Attributes
    ----------
    leak_pump : str
    leak_start : datetime
    leak_mangrove, leak_pipefish : float
        ΔP higher when that pump has run long, the column in place. [mmHg]
    leak_ratio : float
        Rise of nitrogen + argon over rise of oxygen, both in % of saturation, at mangrove.
    fraction_dissolved : float
        Share of the air that dissolved whole.
    bias_a, bias_b : float
        What each meter adds to TGP, mean over the history. [points]
    bias_a_last, bias_b_last : float
        The same at the last gas sitting: a meter's zero wanders. [points]
    hand_meter_wrong_until : datetime
        DO-2 stood at salinity 0 until then.
    hand_meter_factor : float
        What it showed over the true mg/L at mangrove.
    setting_recorded : bool
        Whether anyone wrote the correction down.
    feed_barometer : str
        Which pressure the weather feed gives.
    column_since : datetime
    column_effect : float
        By how much the packed column lowered ΔP at mangrove, leak aside. [mmHg]
    last_visit : mapping
        Place to ``tgp``, ``oxygen %``, ``nitrogen %``, ``oxygen`` and ``delta p`` at the last gas sitting.
    last_visit_at : datetime
    levels : Levels
    flow_meter_bias : FlowTruth
        The flow meter that slipped on its pipe.
    """

    leak_pump: str
    leak_start: datetime
    leak_mangrove: float
    leak_pipefish: float
    leak_ratio: float
    fraction_dissolved: float
    bias_a: float
    bias_b: float
    bias_a_last: float
    bias_b_last: float
    hand_meter_wrong_until: datetime
    hand_meter_factor: float
    setting_recorded: bool
    feed_barometer: str
    column_since: datetime
    column_effect: float
    last_visit: Mapping[str, Mapping[str, float]]
    last_visit_at: datetime
    levels: Levels
    flow_meter_bias: FlowTruth = field(default_factory=FlowTruth)


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Ninety invented days: person number n is ``people[n - 1]``; readings and facts by time entered."""

    facility_text: str
    people: list[str]
    readings: list[records.Reading]
    facts: list[records.Fact]
    truths: Truths

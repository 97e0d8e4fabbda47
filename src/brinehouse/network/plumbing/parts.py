"""What plumbing hands on: heads with their bounds, stations, states of pumps, and the layout of them all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from brinehouse import answers, findings

UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Head:
    """A head or a height above the plant-room datum, with its 95 % bounds. [m]."""

    value: float
    low: float
    high: float

    @classmethod
    def of(cls, value: float, half: float = 0.0) -> Head:
        """A head and how far it may be off to either side."""
        return cls(value, value - half, value + half)

    def less(self, loss: Head) -> Head:
        """Give the head after a loss.

        >>> Head.of(2.0, 0.1).less(Head(0.3, 0.1, 0.8))
        Head(value=1.7, low=1.1, high=2.0)
        """
        return Head(self.value - loss.value, self.low - loss.high, self.high - loss.low)

    def times(self, factor: float) -> Head:
        """Give a loss grown by a factor that is not below nought."""
        return Head(self.value * factor, self.low * factor, self.high * factor)

    def plus(self, gain: Head) -> Head:
        """Give this head and another on top."""
        return Head(self.value + gain.value, self.low + gain.low, self.high + gain.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """Air over the water and the water itself, as far as known.

    ``pressure`` is station pressure [Pa]: from the altitude where it is not told.
    """

    pressure: float | None = None
    temperature: float | None = None  # °C: that of the system's first place where not told
    salinity: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One point on the way of the water.

    Attributes
    ----------
    run : str
    part : str
        Id of the place or machine; empty in the pipe between.
    where : str
        ``surface``, ``outlet``, ``strainer``, ``suction``, ``discharge``, ``in``, ``out``, ``high``, ``tap``,
        ``fall`` or ``pool``.
    along : float
        0 at the run's start, 1 at its end.
    elevation : float or None
        [m]
    head, low, high : float or None
        Static head, elevation and gauge pressure over weight, with its 95 % bounds. [m]
    basis : str
        ``computed``, ``estimated`` or ``unknown``.
    flow : float or None
        [m³/s]
    open : bool
        Open to air there: a water surface or a falling film. The gas line breaks.
    """

    run: str
    part: str
    where: str
    along: float
    elevation: float | None = None
    head: float | None = None
    low: float | None = None
    high: float | None = None
    basis: str = UNKNOWN
    flow: float | None = None
    open: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpState:
    """One pump: what it moves and what its suction stands under.

    Attributes
    ----------
    running : bool
    flow, head : float or None
        What it moves [m³/s] and lifts [m]; of a resting pump, what it would move beside the running ones.
    suction_head, suction_low, suction_high : float or None
        Static head at its inlet, 95 % bounds. [m]
    below_air : str
        ``yes``, ``no`` or ``may be``: whether its inlet is under less than the air's pressure, so that a leak
        there draws air in.
    npsh_available, npsh_required : float or None
        [m]
    share_of_curve : float or None
        Its flow as a part of that at the end of its curve.
    codes : tuple of str
        Codes of the findings that name it.
    """

    pump: str
    running: bool
    flow: float | None = None
    head: float | None = None
    suction_head: float | None = None
    suction_low: float | None = None
    suction_high: float | None = None
    below_air: str = "may be"
    npsh_available: float | None = None
    npsh_required: float | None = None
    share_of_curve: float | None = None
    basis: str = UNKNOWN
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The plant with its heads: stations by run, pumps, flows, levels.

    ``basis`` is ``computed`` where every driven run was solved, ``stated`` where none was, else ``partly``.
    """

    stations: Mapping[str, tuple[Station, ...]]
    pumps: Mapping[str, PumpState]
    flows: Mapping[str, float]
    levels: Mapping[str, Head]
    basis: str
    halves: Mapping[str, float] = field(default_factory=dict[str, float])  # of computed flows, 95 % [m³/s]
    computed: frozenset[str] = frozenset()  # runs whose flow and heads were solved
    drains: Mapping[str, Any] = field(default_factory=dict[str, Any])  # sump to `draining.Drain`
    findings: tuple[findings.Finding, ...] = ()
    working: tuple[answers.Step, ...] = field(default_factory=tuple[answers.Step, ...])

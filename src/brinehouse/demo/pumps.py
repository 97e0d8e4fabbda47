"""Which pumps ran: turns of a day and a half, late hands, a trip, and one change made on purpose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
RETURNS = ("P-201", "P-202", "P-203", "P-204")
TURN = 36.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """From an hour on, this one of the four rests; ``why`` is empty for an ordinary turn."""

    hour: float
    pump: str
    why: str = ""


def turns(rng: np.random.Generator, hours: float, clock_start: float, pump: str) -> tuple[list[Rest], float]:
    """Who rests from when, and the hour at which `pump` was started for the test.

    The duty computer changes over every 36 h; hands are sometimes late, once a pump trips and the resting
    one starts, and late in the history the pump under suspicion is rested overnight and started again in
    the morning while a meter hangs at the tap. Through the last night it runs.
    """
    order = list(RETURNS)
    begin = int(rng.integers(4))
    offset = float(rng.uniform(0.0, TURN))
    changes: list[Rest] = [Rest(hour=0.0, pump=order[begin])]
    at, who = offset, begin
    while at < hours:
        who = (who + 1) % 4
        late = float(rng.gamma(1.2, 0.4))
        if rng.random() < 0.12:
            late += 12.0
        changes.append(Rest(hour=at + late, pump=order[who]))
        at += TURN + (12.0 if late >= 12.0 else 0.0)
    changes = [change for change in changes if change.hour < hours]
    others = [name for name in order if name != pump]
    trip = float(rng.uniform(0.2, 0.5)) * hours
    changes = _insert(
        changes, trip, str(rng.choice(others)), "tripped on overload; standby started by itself"
    )
    morning = _hour_of_day(hours - float(rng.uniform(2.2, 5.2)) * 24.0, clock_start, 10.0)
    changes = [change for change in changes if not morning - 18.0 <= change.hour <= morning + 14.0]
    changes.append(Rest(hour=morning - 16.0, pump=pump, why="rested overnight on purpose"))
    changes.append(Rest(hour=morning, pump=str(rng.choice(others)), why=f"{pump} started on purpose"))
    changes.sort(key=lambda change: change.hour)
    return _awake_at_the_end(changes, hours, pump, others, rng), morning


def _insert(changes: list[Rest], hour: float, pump: str, why: str) -> list[Rest]:
    """One more change between two turns."""
    return sorted([*changes, Rest(hour=hour, pump=pump, why=why)], key=lambda change: change.hour)


def _hour_of_day(near: float, clock_start: float, clock: float) -> float:
    """The hour of the history nearest below `near` at which the wall clock shows `clock`."""
    return float(np.floor((near + clock_start - clock) / 24.0) * 24.0 + clock - clock_start)


def _awake_at_the_end(
    changes: list[Rest], hours: float, pump: str, others: list[str], rng: np.random.Generator
) -> list[Rest]:
    """Let another rest where the turn would have rested the pump through the last half day."""
    kept: list[Rest] = []
    for number, change in enumerate(changes):
        until = changes[number + 1].hour if number + 1 < len(changes) else hours
        if change.pump == pump and until > hours - 14.0:
            change = Rest(hour=change.hour, pump=str(rng.choice(others)), why="turn changed by hand")
        kept.append(change)
    return [c for n, c in enumerate(kept) if n == 0 or c.pump != kept[n - 1].pump]


def running(changes: list[Rest], pump: str, hours: Floats) -> Floats:
    """1 where a pump ran, 0 where it rested, at each of some hours."""
    edges = np.array([change.hour for change in changes])
    rests = np.array([change.pump == pump for change in changes])
    at = np.clip(np.searchsorted(edges, hours, side="right") - 1, 0, None)
    return 1.0 - rests[at].astype(float)


def rests(changes: list[Rest], pump: str, hours: float) -> list[tuple[float, float]]:
    """From and to which hour a pump rested, each time."""
    ends = [change.hour for change in changes[1:]] + [hours]
    return [(c.hour, end) for c, end in zip(changes, ends, strict=True) if c.pump == pump]

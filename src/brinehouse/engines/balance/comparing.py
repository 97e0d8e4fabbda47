"""How sure a balance is, how today compares with then, and which limits are crossed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from brinehouse import answers, findings
from brinehouse.engines.balance import question
from brinehouse.facility import model

Key = tuple[str, str]
Numbers = Mapping[Key, float]
Verdict = Literal["inside", "may be crossed", "crossed"]

WEIGHS: Mapping[str, float] = {
    "temperature": 0.5, "salinity": 0.5, "oxygen": 0.3, "oxygen_percent": 4.0, "tgp": 0.5, "delta_p": 4.0,
    "n2_ar": 0.6, "ph": 0.05, "co2": 0.3, "alkalinity": 0.1, "tan": 0.05, "ammonia": 0.005, "nitrite": 0.05,
    "nitrate": 5.0,
}  # fmt: skip
"""How large a difference of each quantity is worth telling (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A standard uncertainty, and how much of it each assumption brings."""

    u: float
    parts: Mapping[str, float]

    @property
    def most(self) -> str:
        """The assumption that matters most, or empty."""
        return max(self.parts, key=lambda name: abs(self.parts[name])) if self.parts and self.u > 0 else ""


def spreads(base: Numbers, shifted: Mapping[str, Sequence[Numbers]]) -> dict[Key, Spread]:
    """How far each number moves when each assumption moves by its standard uncertainty.

    Parameters
    ----------
    base : mapping
        The numbers as assumed.
    shifted : mapping
        Assumption to the numbers with it up, and with it down where that was worked out too.

    Examples
    --------
    >>> one = spreads({("t", "x"): 1.0}, {"feed": [{("t", "x"): 1.3}], "air": [{("t", "x"): 0.6}]})
    >>> round(one["t", "x"].u, 6), one["t", "x"].most
    (0.5, 'air')
    """
    found: dict[Key, Spread] = {}
    for key, value in base.items():
        parts: dict[str, float] = {}
        for name, sides in shifted.items():
            moves = [side[key] - value for side in sides if math.isfinite(side.get(key, math.nan))]
            if moves and math.isfinite(value):
                size = math.sqrt(sum(move * move for move in moves) / len(moves))
                parts[name] = math.copysign(size, moves[0]) if size else 0.0
        found[key] = Spread(u=math.hypot(*parts.values()) if parts else 0.0, parts=parts)
    return found


def differences(today: Numbers, then: Numbers) -> dict[Key, float]:
    """Then less today, for what stands in both."""
    return {key: then[key] - value for key, value in today.items() if key in then}


def worth_telling(key: Key, difference: float, spread: Spread | None) -> float:
    """How much a difference weighs: in steps that matter, and nothing where its interval holds zero.

    >>> worth_telling(("t", "tgp"), 1.0, Spread(u=0.1, parts={})), worth_telling(("t", "tgp"), 0.1, None)
    (2.0, 0.2)
    """
    if not math.isfinite(difference):
        return 0.0
    if spread is not None and abs(difference) <= answers.COVERAGE * spread.u:
        return 0.0
    return abs(difference) / WEIGHS[key[1]]


# -- limits ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A limit that a number crosses or may cross."""

    limit: model.Limit
    level: findings.Level
    verdict: Verdict


def judge(value: float, u: float, band: model.Band) -> Verdict:
    """Where a value with its 95 % interval stands to a band.

    >>> judge(100.8, 0.3, model.Band(low=None, high=101.0))
    'may be crossed'
    """
    if not band.holds(value):
        return "crossed"
    half = answers.COVERAGE * u
    return "inside" if band.holds(value - half) and band.holds(value + half) else "may be crossed"


def crossing(facility: model.Facility, key: Key, value: float, u: float) -> Crossing | None:
    """The heaviest limit that a number at a place crosses or may cross; None where it is inside them all.

    A limit for the whole hall counts where animals live.
    """
    place, quantity = key
    word = question.QUANTITIES[quantity].word
    vessel = facility.vessels.get(place)
    if not word or vessel is None or not math.isfinite(value):
        return None
    rules = [
        limit
        for limit in facility.limits_for(word, place)
        if (limit.at or vessel.kind == "tank") and limit.basis in ("", "N")
    ]
    found: list[Crossing] = []
    for limit in rules:
        for level, band in ((findings.Level.ACT, limit.act), (findings.Level.WATCH, limit.watch)):
            if band is None:
                continue
            verdict = judge(value, u, band)
            if verdict == "crossed" or (verdict == "may be crossed" and level is findings.Level.WATCH):
                found.append(Crossing(limit=limit, level=level, verdict=verdict))
    return min(found, key=_heaviest, default=None)


def _heaviest(one: Crossing) -> tuple[int, int]:
    return (0 if one.level is findings.Level.ACT else 1, 0 if one.verdict == "crossed" else 1)


def crossings(facility: model.Facility, values: Numbers, spread: Mapping[Key, Spread]) -> dict[Key, Crossing]:
    """Every limit that is crossed or may be."""
    found: dict[Key, Crossing] = {}
    for key, value in values.items():
        one = crossing(facility, key, value, spread[key].u if key in spread else 0.0)
        if one is not None:
            found[key] = one
    return found


def apart(
    values: Numbers, spread: Mapping[Key, Spread], known: Mapping[str, Mapping[str, question.Known]]
) -> dict[Key, tuple[question.Known, float]]:
    """Where a reading lies outside the balance's interval, by more than matters: reading less balance.

    Something is in the water then that the drawing does not know of, or the water is not settled.
    """
    found: dict[Key, tuple[question.Known, float]] = {}
    for (place, quantity), value in values.items():
        read = known.get(place, {}).get(question.QUANTITIES[quantity].word)
        if read is None or not math.isfinite(value):
            continue
        one = spread.get((place, quantity))
        half = answers.COVERAGE * math.hypot(one.u if one else 0.0, read.u or 0.0)
        gap = read.value - value
        if abs(gap) > max(half, WEIGHS[quantity]):
            found[place, quantity] = (read, gap)
    return found


def ranked(numbers: Mapping[Key, float], weight: Mapping[Key, float]) -> list[Key]:
    """Keys that weigh something, heaviest first."""
    told: Iterable[Key] = (key for key in numbers if weight.get(key, 0.0) > 0.0)
    return sorted(told, key=lambda key: -weight[key])

"""How often a group is lost, by which causes, and between which ends that lies."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from brinehouse import answers
from brinehouse.engines.redundancy import believing, groups, question
from brinehouse.science import chains, failure_rates, reliability

Rates = Callable[[believing.Belief], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """A group with fewer than ``least`` pumps running.

    ``parts`` are shares of time by cause; ``without`` leaves shared causes out, ``both`` has them in.
    """

    least: int
    parts: Mapping[str, float]
    without: chains.Service
    both: chains.Service
    common: float
    """Of that, the share of time by causes that take several at once."""

    @property
    def ratio(self) -> float:
        """How many times too good the figure without shared causes is."""
        alone = self.without.unavailability
        return self.both.unavailability / alone if alone > 0.0 else float("inf")


def mean(belief: believing.Belief) -> float:
    """The rate that is expected."""
    return belief.mean


def both(group: groups.Group, least: int, of: Rates = mean) -> tuple[chains.Service, chains.Service]:
    """A group without and with its shared causes."""
    plan = group.standby(of, least)
    found = reliability.standby_group(plan, group.beta or 0.0)
    total = found.both
    for one in felt(group, least):
        rate = of(one.belief) * one.share
        out = float(reliability.unavailability_of_one(rate, one.lasts))
        total = chains.Service(
            total.unavailability + out - total.unavailability * out,
            total.failures_per_year + rate * chains.YEAR,
            1.0 / (1.0 / total.time_to_first + rate),
            total.unnoticed,
        )
    return found.independent, total


class Felt(NamedTuple):
    """A shared part whose failing leaves too few running: in what share of cases, and for how long [s]."""

    name: str
    belief: believing.Belief
    share: float
    lasts: float


def felt(group: groups.Group, least: int) -> list[Felt]:
    """Shared parts with a rate that are felt: until they are mended, or until people start what is left."""
    found: list[Felt] = []
    for part in group.shared:
        share = _share(group, part, least) * part.times
        if part.belief is None or not part.repair or share <= 0.0:
            continue
        if part.left < least:
            found.append(Felt(part.name, part.belief, share, part.repair))
        else:
            lasts = min(part.repair, group.hand_start or part.repair)
            found.append(Felt(f"{part.name}, with nothing taking over", part.belief, share, lasts))
    return found


def _share(group: groups.Group, part: groups.Shared, least: int) -> float:
    """In what share of its failures too few run: always where too few are left, else as the turns fall.

    Where enough pumps are left, they are missed only until somebody starts them: if nothing takes over by
    itself, or what would take over hangs on the same board.
    """
    if part.left < least:
        return 1.0
    if part.kind != "board" or not group.spares:
        return 0.0
    if (group.automatic or group.never_fails) and not part.dark:
        return 0.0
    fed = group.units - part.left
    ways = sum(
        math.comb(fed, lost) * math.comb(part.left, group.keep - lost)
        for lost in range(max(group.keep - least + 1, 0), min(fed, group.keep) + 1)
    )
    return ways / math.comb(group.units, group.keep)


def unrated(group: groups.Group, least: int) -> list[groups.Shared]:
    """Shared parts that would be felt, and of whose failing the file tells nothing."""
    return [
        part
        for part in group.shared
        if _share(group, part, least) > 0.0 and (part.belief is None or not part.repair)
    ]


def loss(group: groups.Group, least: int) -> Loss:
    """A group's loss, taken apart by cause."""
    alone, total = both(group, least)
    plan = group.standby(mean, least)
    sure = plan._replace(change_over=1.0) if group.spares else plan
    seen = reliability.standby_group(sure._replace(standby_rate=0.0), 0.0).independent.unavailability
    hidden = reliability.standby_group(sure, 0.0).independent.unavailability
    parts = {question.INDEPENDENT: seen}
    if group.spares:
        parts[question.DORMANT] = max(0.0, hidden - seen)
        name = question.CHANGE_OVER if group.automatic else question.BY_HAND
        parts[name] = max(0.0, alone.unavailability - hidden)
    shared: dict[str, float] = {}
    if group.beta:
        shared[question.COMMON] = group.beta * float(
            reliability.unavailability_of_one(plan.rate, plan.repair_time)
        )
    for one in felt(group, least):
        out = reliability.unavailability_of_one(one.belief.mean * one.share, one.lasts)
        shared[one.name] = float(out)
    return Loss(least=least, parts=parts | shared, without=alone, both=total, common=sum(shared.values()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """95 % of what the rates allow: years to the first loss, and hours out in a year."""

    years: tuple[float, float]
    out: tuple[float, float]


def ends(group: groups.Group, least: int) -> Ends | None:
    """The interval that uncertain rates leave; none where every rate is exact, or for very many pumps."""
    uncertain = group.sampled
    samples = next((draws for most, draws in question.SAMPLES if group.states <= most), 0)
    if not uncertain or not samples:
        return None
    drawn = {
        id(one): failure_rates.quantiles(_posterior(one), column)
        for one, column in zip(uncertain, _spread(len(uncertain), samples).T, strict=True)
    }
    years, out = np.empty(samples), np.empty(samples)
    for at in range(samples):

        def rate(one: believing.Belief, at: int = at) -> float:
            return float(drawn[id(one)][at]) if id(one) in drawn else one.mean

        _, found = both(group, least, rate)
        years[at], out[at] = found.time_to_first / chains.YEAR, found.unavailability * 8760.0
    return Ends(years=_ends(years), out=_ends(out))


def _posterior(one: believing.Belief) -> failure_rates.Gamma:
    assert one.after is not None
    return one.after


def _ends(values: Sequence[float] | np.ndarray) -> tuple[float, float]:
    low, high = np.quantile(values, (0.025, 0.975))
    return float(low), float(high)


def _spread(columns: int, rows: int) -> np.ndarray:
    """Points that fill the unit cube evenly, the same each time.

    Additive recurrence with powers of the root of x^(d+1) = x + 1.
    """
    root = 2.0
    for _ in range(40):
        root = (1.0 + root) ** (1.0 / (columns + 1))
    steps = root ** -np.arange(1.0, columns + 1)
    return (0.5 + np.outer(np.arange(1.0, rows + 1), steps)) % 1.0


def years(service: chains.Service, found: Ends | None = None) -> answers.Value:
    """Mean time until it first happens."""
    low, high = found.years if found else (None, None)
    return answers.Value(value=service.time_to_first / chains.YEAR, unit="years", low=low, high=high)


def out(service: chains.Service, found: Ends | None = None) -> answers.Value:
    """Hours out of service in a year."""
    low, high = found.out if found else (None, None)
    return answers.Value(value=service.unavailability * 8760.0, unit="h/year", low=low, high=high)

"""What would help most: each measure worked out anew."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from brinehouse.engines.redundancy import groups, losing, question
from brinehouse.science import chains


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """Something that can be done, and the group with it done."""

    key: str
    said: str
    group: groups.Group


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """A measure and what it brings: the service with it, and how many times rarer the hours out are."""

    measure: Measure
    both: chains.Service
    times: float
    none_times: float
    """The same for no flow at all."""


def gains(group: groups.Group, now: Sequence[losing.Loss]) -> list[Gain]:
    """Every measure that makes a loss rarer, the best first; `now` is too few, and no flow at all."""
    found: list[Gain] = []
    for measure in _measures(group):
        then = [losing.both(measure.group, loss.least)[1] for loss in now]
        times = [
            loss.both.unavailability / max(one.unavailability, 1e-300)
            for loss, one in zip(now, then, strict=True)
        ]
        if max(times) >= question.RARE:
            found.append(Gain(measure=measure, both=then[0], times=times[0], none_times=times[-1]))
    return sorted(found, key=lambda one: (-one.times, -one.none_times, one.measure.key))


def _measures(group: groups.Group) -> Iterable[Measure]:
    if group.spares:
        yield from _tests(group)
    more = [
        dataclasses.replace(part, left=part.left + 1) if part.kind == "board" else part
        for part in group.shared
    ]
    yield Measure(key="pump", said="one more pump, on a feed of its own",
                  group=groups.replaced(group, units=group.units + 1, shared=more))  # fmt: skip
    yield from _boards(group)
    yield from _others(group)
    half = groups.replaced(group, repair=(group.repair or 0.0) / 2.0)
    yield Measure(key="repair", said="repairs of pumps in half the time: parts on the shelf", group=half)
    if group.crews < group.units:
        crews = groups.replaced(group, crews=group.crews + 1)
        yield Measure(key="crew", said="one more repair going on at the same time", group=crews)
    if group.beta:
        apart = groups.replaced(group, beta=group.beta / 2.0)
        yield Measure(key="common", said="half of what the pumps share taken apart", group=apart)


def _tests(group: groups.Group) -> Iterable[Measure]:
    """Trials that find what is dead before it is called."""
    if group.starts_every is None or group.starts_every > question.WEEK:
        weekly = groups.replaced(group, starts_every=question.WEEK)
        yield Measure(key="starts", said="each resting pump started once a week", group=weekly)
    if groups.latent(group) and (group.tried_every or 0.0) > question.WEEK:
        tried = groups.replaced(group, tried_every=question.WEEK)
        yield Measure(key="change-over", said="the change-over tried once a week", group=tried)
    sure = groups.replaced(group, never_fails=True)
    if group.automatic:
        yield Measure(
            key="sure", said="a change-over that never fails (the most that trying it can give)", group=sure
        )
    else:
        yield Measure(key="automatic", said="an automatic change-over, if it never failed", group=sure)
    if group.hand_start:
        sooner = groups.replaced(group, hand_start=group.hand_start / 2.0)
        yield Measure(key="hand", said="a start by hand in half the time", group=sooner)


def _boards(group: groups.Group) -> Iterable[Measure]:
    """Pumps, or their boards, fed apart where one feeds them all; a change-over that no board takes along."""
    left = group.units // 2
    for upstream, said in (
        (False, "the pumps dealt out over two boards"),
        (True, "their boards fed from two boards that share nothing"),
    ):
        if group.units > 1 and any(_whole(part) and part.upstream == upstream for part in group.shared):
            apart = [
                dataclasses.replace(part, left=left, times=2.0, dark=False)
                if _whole(part) and part.upstream == upstream
                else part
                for part in group.shared
            ]
            key = "feeds" if upstream else "boards"
            yield Measure(key=key, said=said, group=groups.replaced(group, shared=apart))
    if group.automatic and any(part.dark for part in group.shared):
        lit = [dataclasses.replace(part, dark=False) for part in group.shared]
        said = "the change-over on a battery of its own"
        yield Measure(key="battery", said=said, group=groups.replaced(group, shared=lit))


def _whole(part: groups.Shared) -> bool:
    """Whether it is a board that feeds every pump, and its rate is told."""
    return part.kind == "board" and part.left == 0 and part.belief is not None


def _others(group: groups.Group) -> Iterable[Measure]:
    """Shared parts made better: a supply of one's own, water that runs out half as often."""
    for part in group.shared:
        if part.kind == "board" or part.belief is None:
            continue
        power = part.kind == "power"
        better = dataclasses.replace(part, times=part.times * (0.1 if power else 0.5))
        shared = [better if one is part else one for one in group.shared]
        said = (
            "a supply of its own that carries the pumps over nine cuts in ten"
            if power
            else f"{part.name} failing half as often: a low-level alarm, a wider top-up"
        )
        yield Measure(key=part.kind, said=said, group=groups.replaced(group, shared=shared))

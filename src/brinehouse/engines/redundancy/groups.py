"""A duty group with all its figures, and what the file does not say of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from brinehouse.engines.redundancy import believing, question
from brinehouse.facility import chances, model
from brinehouse.science import reliability

NEVER = 1e13  # s: between trials of what is never tried


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """A part that all or several pumps hang on: how often it fails, where that is told.

    ``dark`` tells that the change-over stops with it, ``upstream`` that no pump hangs on it directly.
    """

    part: str
    kind: str
    name: str
    left: int
    """Pumps left without it."""
    belief: believing.Belief | None = None
    times: float = 1.0
    dark: bool = False
    upstream: bool = False

    @property
    def repair(self) -> float | None:
        """Mean time until it is whole, in s."""
        return self.belief.rate.repair if self.belief is not None else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One duty group as the chain needs it, times in s; without the words in ``missing`` it is not told."""

    duty: model.Duty
    units: int
    keep: int
    enough: int
    crews: int
    repair: float | None
    hand_start: float | None
    starts_every: float | None
    tried_every: float | None
    automatic: bool
    beta: float | None
    mixes: Mapping[str, believing.Mix]
    shared: Sequence[Shared]
    never_fails: bool = False
    """A change-over that always works, as a what-if."""
    missing: Sequence[str] = ()

    @property
    def spares(self) -> int:
        """Pumps that wait."""
        return self.units - self.keep

    @property
    def states(self) -> int:
        """States of its chain: how many run, wait good and wait dead."""
        return (self.keep + 1) * (self.spares + 1) * (self.spares + 2) // 2

    @property
    def sampled(self) -> list[believing.Belief]:
        """Every belief that has an interval, once."""
        found = {id(one): one for mix in self.mixes.values() for one in mix}
        found |= {id(part.belief): part.belief for part in self.shared if part.belief is not None}
        return [one for one in found.values() if one.after is not None]

    def change_over(self, of: Callable[[believing.Belief], float]) -> float:
        """Probability that the change-over starts a good pump by itself."""
        if self.never_fails:
            return 1.0
        if not self.automatic:
            return 0.0
        start = min(believing.value(self.mixes[chances.STARTING], of), 1.0)
        return (1.0 - start) * (1.0 - self._dead(of))

    def _dead(self, of: Callable[[believing.Belief], float]) -> float:
        """Probability that the change-over is dead when it is called."""
        mix = self.mixes[chances.CHANGING]
        rate = believing.value(mix, of)
        if not mix or mix[0].by == "start":
            return min(rate, 1.0)
        load = rate * (self.tried_every if self.tried_every is not None else NEVER)
        return 1.0 + math.expm1(-load) / load if load > 1e-6 else load / 2.0

    def standby(self, of: Callable[[believing.Belief], float], least: int) -> reliability.Standby:
        """The chain of its pumps with given rates; lost with fewer than `least` running."""
        return reliability.Standby(
            needed=self.keep,
            units=self.units,
            rate=believing.value(self.mixes[chances.RUNNING], of),
            standby_rate=believing.value(self.mixes[chances.RESTING], of) if self.spares else 0.0,
            repair_time=self.repair or 0.0,
            change_over=self.change_over(of) if self.spares else 0.0,
            hand_start=self.hand_start or (self.repair or 0.0),
            test_every=self.starts_every if self.starts_every is not None else NEVER,
            crews=self.crews,
            enough=least,
        )


def of_duty(facility: model.Facility, duty: model.Duty, beliefs: Sequence[believing.Belief]) -> Group:
    """A duty group of the file with its rates."""
    pumps = tuple(dict.fromkeys(duty.pumps))
    ladders = [(pump, duty.id, "pump") for pump in pumps]
    mixes = {
        mode: believing.of_parts(beliefs, mode, ladders)
        for mode in (chances.RUNNING, chances.RESTING, chances.STARTING)
    }
    mixes[chances.CHANGING] = believing.of_parts(beliefs, chances.CHANGING, [(duty.id, "duty")])
    repairs = [one.rate.repair for one in mixes[chances.RUNNING] if one.rate.repair is not None]
    told = facility.detection is not None and facility.travel is not None
    group = Group(
        duty=duty,
        units=len(pumps),
        keep=duty.keep,
        enough=duty.enough if duty.enough is not None else duty.keep,
        crews=facility.crews,
        repair=sum(repairs) / len(repairs) if repairs else None,
        hand_start=duty.hand_start
        or ((facility.detection or 0.0) + (facility.travel or 0.0) if told else None),
        starts_every=_starts(duty, len(pumps)),
        tried_every=duty.test_change_over,
        automatic=duty.standby == "automatic",
        beta=duty.common_cause,
        mixes=mixes,
        shared=tuple(_shared(facility, duty, pumps, beliefs)),
    )
    return _with_missing(group)


def _starts(duty: model.Duty, units: int) -> float | None:
    """How long a resting pump waits at most until it is started: by trial, or by its turn."""
    spares = units - duty.keep
    turn = duty.turn * spares if duty.turn is not None and spares > 0 else None  # one goes to rest each turn
    return min((one for one in (duty.test_starts, turn) if one is not None), default=None)


def _with_missing(group: Group) -> Group:
    missing: list[str] = []
    if group.units > question.MOST:
        missing.append(f"groups of at most {question.MOST} pumps in place of [duty.{group.duty.id}]")
    if not group.mixes[chances.RUNNING]:
        missing.append(f'[[rate]] of = "pump", mode = "{chances.RUNNING}"')
    elif group.repair is None:
        missing.append(f'repair in the [[rate]] of its pumps, mode "{chances.RUNNING}"')
    if group.spares:
        if not group.mixes[chances.RESTING]:
            missing.append(f'[[rate]] of = "pump", mode = "{chances.RESTING}"')
        if group.automatic and not group.mixes[chances.CHANGING]:
            missing.append(f'[[rate]] of = "{group.duty.id}", mode = "{chances.CHANGING}"')
        elif group.automatic and _latent(group) and group.tried_every is None:
            missing.append(f"test_change_over in [duty.{group.duty.id}]")
        if group.hand_start is None:
            missing.append(f"hand_start in [duty.{group.duty.id}]")
    return replaced(group, missing=tuple(missing))


def _latent(group: Group) -> bool:
    """Whether its change-over dies in time, unseen, rather than failing at some calls."""
    mix = group.mixes[chances.CHANGING]
    return bool(mix) and mix[0].by == "time"


def latent(group: Group) -> bool:
    """Whether trying the change-over oftener makes it better."""
    return group.automatic and group.spares > 0 and _latent(group)


def replaced(group: Group, **changes: object) -> Group:
    """The group with something else about it."""
    import dataclasses

    return dataclasses.replace(group, **changes)  # pyright: ignore[reportArgumentType]


def _shared(
    facility: model.Facility, duty: model.Duty, pumps: Sequence[str], beliefs: Sequence[believing.Belief]
) -> Iterable[Shared]:
    """Boards, the power, and the one sump that its pumps draw from."""
    for board in facility.boards.values():
        fed = set(facility.fed_by_board(board.id))
        left = len(pumps) - len(fed & set(pumps))
        if left < len(pumps):
            yield Shared(
                part=board.id,
                kind="board",
                name=board.name,
                left=left,
                belief=_belief(beliefs, board.id, "board"),
                dark=duty.board in facility.boards_behind(board.id),
                upstream=all(
                    facility.pumps[pump].board != board.id for pump in pumps if pump in facility.pumps
                ),
            )
    yield Shared(part="power", kind="power", name="the power", left=0, belief=_belief(beliefs, "power"))
    drawn = {run.source for run in facility.runs.values() if {duty.id, *pumps} & set(run.through)}
    if len(drawn) == 1:
        place = next(iter(drawn))
        if place in facility.vessels:
            belief = _belief(beliefs, place, "sump")
            name = facility.vessels[place].name
            yield Shared(part=place, kind="sump", name=f"the water of {name}", left=0, belief=belief)


def _belief(beliefs: Sequence[believing.Belief], *names: str) -> believing.Belief | None:
    found = believing.of_parts(beliefs, chances.RUNNING, [names])
    return found[0] if found else None

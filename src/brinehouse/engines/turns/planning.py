"""The rule of turns, played forward: at each turn the pumps run that are furthest below their offset."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from brinehouse.engines.turns import question, spans

NEVER = spans.Spans()


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A duty group as the rule needs it.

    Attributes
    ----------
    pumps : sequence of str
    keep : int
        How many run.
    turn, idle : timedelta
        From one turn to the next; the longest rest without a trial start.
    due : datetime or None
        When its next turn is due; at once where None.
    wear : mapping
        Hours of each pump since its overhaul. [h]
    spacing : float
        How far apart the pumps are kept. [h]
    running : sequence of str or None
        Who runs now; None where nobody knows.
    rested : mapping
        Since when each pump has rested; a pump that is not in it was never seen to run.
    locked : frozenset of str
    free : mapping
        For each pump, when it is kept free for work.
    turns : Spans
        When a turn may be taken, or a pump started for trial.
    life : mapping
        Hours between overhauls, where they are told. [h]
    """

    pumps: Sequence[str]
    keep: int
    turn: timedelta
    idle: timedelta
    due: datetime | None
    wear: Mapping[str, float]
    spacing: float
    running: Sequence[str] | None
    rested: Mapping[str, datetime]
    locked: frozenset[str]
    free: Mapping[str, spans.Spans]
    turns: spans.Spans
    life: Mapping[str, float] = field(default_factory=dict[str, float])


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Pumps started and stopped at one moment; ``why`` is turn, work, lock-out, missing, surplus or trial."""

    at: datetime
    start: tuple[str, ...]
    stop: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """A pump runs from one moment to another; ``trial`` is a short run of one that rests."""

    pump: str
    begin: datetime
    end: datetime
    trial: bool = False


@dataclass(slots=True)
class Plan:
    """What comes of the rule between two moments."""

    begin: datetime
    end: datetime
    changes: list[Change] = field(default_factory=list[Change])
    spells: list[Spell] = field(default_factory=list[Spell])
    wear: dict[str, float] = field(default_factory=dict[str, float])
    target: dict[str, float] = field(default_factory=dict[str, float])
    starts: dict[str, int] = field(default_factory=dict[str, int])
    short: list[spans.Span] = field(default_factory=list[spans.Span])
    overhauls: dict[str, datetime] = field(default_factory=dict[str, datetime])
    rest: timedelta = timedelta(0)
    """The longest rest that ends within it, or is still going on at its end."""

    def above(self, pump: str) -> float:
        """Hours a pump is above its offset [h]."""
        return self.wear[pump] - self.target[pump]

    @property
    def spread(self) -> float:
        """Hours between the pump furthest above its offset and the one furthest below [h]."""
        above = [self.above(pump) for pump in self.wear]
        return max(above) - min(above) if above else 0.0

    def running(self, at: datetime) -> tuple[str, ...]:
        """Who runs at a moment, trial starts left out."""
        return tuple(one.pump for one in self.spells if not one.trial and one.begin <= at < one.end)


class _Play:
    """A plan under way."""

    def __init__(self, group: Group, begin: datetime, end: datetime) -> None:
        self.group, self.now, self.end = group, begin, end
        self.plan = Plan(begin, end, wear=dict(group.wear), starts=dict.fromkeys(group.pumps, 0))
        self.plan.target = targets(self.plan.wear, group.spacing)
        self.running: dict[str, datetime] = dict.fromkeys(
            (one for one in group.running or () if one in group.pumps), begin
        )
        self.rested = {name: at for name, at in group.rested.items() if name not in self.running}
        self.due = self._allowed(max(group.due or begin, begin))
        self.may = {pump: group.turns.without(group.free.get(pump, NEVER)) for pump in group.pumps}
        self.tags = [pump for pump in group.pumps if pump not in group.locked]

    def _allowed(self, at: datetime) -> datetime:
        """The first moment from one on at which a turn may be taken; the end where there is none."""
        return min(self.group.turns.next(at) or self.end, self.end)

    def _available(self, at: datetime) -> list[str]:
        return [one for one in self.tags if not self.group.free.get(one, NEVER).holds(at)]

    def _order(self, pumps: Iterable[str], until: datetime) -> list[str]:
        """Least above its offset first; who will be needed for work before the next turn comes last."""

        def rank(pump: str) -> tuple[bool, float, int]:
            ahead = self.plan.above(pump)
            ahead -= question.hours(question.TIE) if pump in self.running else 0.0
            busy = self.group.free.get(pump, NEVER).meet(self.now, until)
            return busy, ahead, list(self.group.pumps).index(pump)

        return sorted(pumps, key=rank)

    # -- what happens at a moment --------------------------------------------------------------------

    def step(self) -> None:
        """Whatever has to be done now, then on to the next moment at which something has to be."""
        here = self._available(self.now)
        if self.now >= self.due:
            until = self._allowed(self.now + self.group.turn)
            self._change(self._order(here, until)[: self.group.keep], "turn")
            self.due = until if until > self.now else self.end
        else:
            self._fill(here)
        for pump in here:
            if self._trial(pump) == self.now:
                self._try(pump)
        later = [self._trial(pump) for pump in here]
        edges = [self.group.free[pump].edge(self.now) for pump in self.group.free]
        following = spans.earliest([self.due, self.end, *later, *edges])
        assert following is not None
        if len(self.running) < self.group.keep and following > self.now:
            self.plan.short.append((self.now, following))
        self._advance(following)

    def _fill(self, here: Sequence[str]) -> None:
        """Between turns: who is called away is replaced, and who is missing is made up for."""
        staying = [one for one in self.running if one in here][: self.group.keep]
        if len(staying) == len(self.running) == min(self.group.keep, len(here)):
            return
        others = self._order((one for one in here if one not in staying), self.due)
        away = [one for one in self.running if one not in here]
        why = "surplus" if len(self.running) > self.group.keep else "missing"
        if away:
            why = "lock-out" if set(away) & self.group.locked else "work"
        self._change([*staying, *others[: self.group.keep - len(staying)]], why)

    def _change(self, chosen: Sequence[str], why: str) -> None:
        stop = tuple(one for one in self.running if one not in chosen)
        start = tuple(one for one in chosen if one not in self.running)
        for pump in stop:
            self.plan.spells.append(Spell(pump=pump, begin=self.running.pop(pump), end=self.now))
            self.rested[pump] = self.now
        for pump in start:
            self._ends_its_rest(pump)
            self.running[pump] = self.now
            self.plan.starts[pump] += 1
        if start or stop:
            self.plan.changes.append(Change(at=self.now, start=start, stop=stop, why=why))

    def _ends_its_rest(self, pump: str) -> None:
        since = self.rested.pop(pump, None)
        if since is not None:
            self.plan.rest = max(self.plan.rest, self.now - max(since, self.plan.begin))

    def _trial(self, pump: str) -> datetime | None:
        """When a resting pump is to be started for trial, where that is before the next turn."""
        if pump in self.running:
            return None
        may = self.may[pump]
        since = self.rested.get(pump)
        if since is None or since + self.group.idle <= self.now:
            at = may.next(self.now)
        else:
            latest = since + self.group.idle
            at = may.last(latest) if latest < self.end else None
            if at is None or at < max(since, self.now):  # nobody is there before: as soon as somebody is
                at = may.next(latest)
        return at if at is not None and at < min(self.due, self.end) else None

    def _try(self, pump: str) -> None:
        self._ends_its_rest(pump)
        end = self.now + question.TRIAL
        self.plan.spells.append(Spell(pump=pump, begin=self.now, end=end, trial=True))
        self.plan.changes.append(Change(at=self.now, start=(pump,), stop=(), why="trial"))
        self.plan.starts[pump] += 1
        self._wears(pump, question.hours(question.TRIAL), end)
        self.rested[pump] = end

    def _advance(self, to: datetime) -> None:
        for pump in self.running:
            self._wears(pump, question.hours(to - self.now), to)
        self.now = to

    def _wears(self, pump: str, ran: float, to: datetime) -> None:
        """A pump that comes to the end of its hours is taken to be overhauled at once."""
        wear, life = self.plan.wear[pump] + ran, self.group.life.get(pump)
        if life is not None and wear >= life:
            self.plan.overhauls.setdefault(pump, to - (wear - life) * question.HOUR)
            wear -= life
            self.plan.wear[pump] = wear
            self.plan.target = targets(self.plan.wear, self.group.spacing)
        self.plan.wear[pump] = wear

    def finish(self) -> Plan:
        """Whatever runs on, or rests on, at the end."""
        for pump, begin in self.running.items():
            self.plan.spells.append(Spell(pump=pump, begin=begin, end=self.end))
        for since in self.rested.values():
            self.plan.rest = max(self.plan.rest, self.end - max(since, self.plan.begin))
        self.plan.spells.sort(key=lambda one: (one.begin, one.pump))
        return self.plan


def play(group: Group, begin: datetime, end: datetime) -> Plan:
    """The rule from one moment to another.

    Parameters
    ----------
    group : Group
    begin, end : datetime

    Returns
    -------
    Plan
    """
    under_way = _Play(group, begin, end)
    while under_way.now < end:
        under_way.step()
    return under_way.finish()


def targets(wear: Mapping[str, float], spacing: float) -> dict[str, float]:
    """The offset of each pump: the more it has run, the further ahead it is kept.

    >>> targets({"P-1": 900.0, "P-2": 100.0, "P-3": 400.0}, 250.0)
    {'P-2': 0.0, 'P-3': 250.0, 'P-1': 500.0}
    """
    return {pump: rank * spacing for rank, pump in enumerate(sorted(wear, key=lambda one: wear[one]))}

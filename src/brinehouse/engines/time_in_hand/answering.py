"""Every failure of a plant worked through: singles, pairs, what helps, least sets, and how sure hours are.

``work(asked) -> Table``; ``answer(asked) -> Answer``; for work that comes in pieces ``Work(asked)`` with
``table()``, ``shortest()``, ``samples(ids, begin, end)`` and ``with_intervals(table, ids, found)``.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from brinehouse import answers, findings
from brinehouse.engines.time_in_hand import (
    cutting,
    failures,
    helping,
    limits,
    preparing,
    question,
    sampling,
    tabling,
    telling,
)
from brinehouse.network.transients import effects as acts

Floats = NDArray[np.float64]
Progress = Callable[[int, int], None]
BOTH = " + "
POINTS = 289  # of a curve: every quarter of an hour over three days


class Pair(NamedTuple):
    """Two failures that can be at the same time."""

    first: failures.Failure
    second: failures.Failure


class Work:
    """One question with its courses, kept so that more can be asked of them."""

    def __init__(self, asked: question.Asked) -> None:
        self.asked = asked
        self.failures: tuple[failures.Failure, ...] = tuple(asked.failures) or failures.catalogue(
            asked.facility
        )
        self.known = {one.id: one for one in self.failures}
        self.ready = preparing.prepare(asked)
        self.courses = self.ready.courses
        self.courses.work([(), *(one.effects for one in self.failures)])
        base = self.courses.of(())
        self.frame = tabling.frame(self.courses, base, asked.notice + asked.travel)

    # -- the table ---------------------------------------------------------------------------------------

    def table(self, progress: Progress | None = None) -> question.Table:
        """Singles, and pairs where they are asked for, with what helps and the least sets."""
        made = self._singles()
        return self.with_pairs(made, progress) if self.asked.pairs else made

    def _singles(self) -> question.Table:
        asked, frame = self.asked, self.frame
        rows = [tabling.row(frame, [one], self.courses.of(one.effects)) for one in self.failures]
        rows = tabling.sort(self._bites(rows))
        rows = helping.helps(self.courses, frame, asked.facility, rows, self.known)
        made = question.Table(
            asked=dataclasses.replace(asked, pairs=False),
            start=self.ready.start,
            base=tabling.row(frame, [], frame.base),
            lines=self.courses.lines,
            rows=rows,
            assumed=(*self.ready.assumed, *telling.assumed(asked)),
        )
        return self.within(made, asked.less_than)

    def with_pairs(self, table: question.Table, progress: Progress | None = None) -> question.Table:
        """A table with every pair and the least sets of two."""
        pairs = tabling.sort(self.pair_rows(self.pairs(), progress))
        asked = dataclasses.replace(table.asked, pairs=True)
        return self.within(dataclasses.replace(table, asked=asked, pairs=pairs), asked.less_than)

    def within(self, table: question.Table, less_than: float) -> question.Table:
        """A table with the least sets that leave less than so many hours."""
        sets = cutting.least([*table.rows, *table.pairs], self.known, less_than)
        made = dataclasses.replace(
            table,
            asked=dataclasses.replace(table.asked, less_than=less_than),
            cut_sets=sets,
            parts=cutting.ranking(sets),
            findings=self.ready.findings,
        )
        return dataclasses.replace(
            made,
            findings=(*made.findings, *telling.findings_of(made, self._harms(made))),
            working=telling.working(made),
        )

    def _bites(self, rows: Sequence[question.Row]) -> list[question.Row]:
        """Failures nobody notices with what they make worse: their pairs are run whether asked for or not."""
        silent = [one for one in self.failures if one.unseen]
        loud = [one for one in self.failures if not one.unseen and one.effects]
        self.courses.work((*one.effects, *hidden.effects) for hidden in silent for one in loud)
        return tabling.bites(self.frame, rows, silent, loud, self.courses)

    # -- pairs -------------------------------------------------------------------------------------------

    def pairs(self) -> list[Pair]:
        """Every two failures that can be at the same time."""
        return [Pair(*two) for two in itertools.combinations(self.failures, 2) if together(*two)]

    def pair_rows(self, pairs: Iterable[Pair], progress: Progress | None = None) -> list[question.Row]:
        """Rows of pairs: those that touch different bodies of water are put together from their singles."""
        some = list(pairs)
        self.courses.work(((*one.effects, *two.effects) for one, two in some), progress)
        return [
            tabling.row(
                self.frame, pair, self.courses.of((*pair.first.effects, *pair.second.effects)), few=True
            )
            for pair in some
        ]

    def _harms(self, made: question.Table) -> list[tuple[str, str]]:
        """Pairs in which a standby that works leaves less time than one that does not: pump, and failure."""
        hours = {frozenset(row.failures): row.hours for row in (*made.rows, *made.pairs)}
        found: list[tuple[str, str]] = []
        for works, fails in _standbys(self.failures):
            for other in self.failures:
                with_it = hours.get(frozenset((works.id, other.id)))
                without = hours.get(frozenset((fails.id, other.id)))
                if with_it is not None and without is not None and with_it < tabling.SOONER * without:
                    found.append((works.id, other.id))
        return found

    # -- curves ------------------------------------------------------------------------------------------

    def curves(self, row: str, most: int = 6, points: int = POINTS) -> list[question.Course]:
        """What comes of a row over the hours: the quantities that cross or come nearest to limits first."""
        came = self.courses.of(self.effects_of(row))
        told = tabling.row(self.frame, [self.known[name] for name in row.split(BOTH)], came)
        ways = [(one.place, one.quantity) for one in (*told.crossings, *told.signs)]
        ways += [(one.line.place, one.line.quantity) for one in told.least_margins]
        wanted = list(dict.fromkeys(ways))[:most]
        hours = np.linspace(0.0, self.asked.hours, points)
        found: dict[tuple[str, str], question.Course] = {}
        for water in self.courses.waters:
            mine = [one for one in wanted if one[0] in water.body.home]
            if mine:
                found |= {
                    one: self._curve(one, *made)
                    for one, made in water.curves(self.effects_of(row), mine, hours).items()
                }
        return [found[one] for one in wanted]

    def _curve(self, way: tuple[str, str], hours: Floats, values: Floats) -> question.Course:
        place, quantity = way
        return question.Course(
            place=place, quantity=quantity, unit=limits.WORDS[quantity].unit, hours=hours.tolist(),
            values=values.tolist(),
            lines=[one for one in self.courses.lines if (one.place, one.quantity) == way],
        )  # fmt: skip

    # -- intervals ---------------------------------------------------------------------------------------

    def shortest(self, table: question.Table, most: int = sampling.SHORTEST) -> tuple[str, ...]:
        """Ids of the rows that leave least, failures one by one before pairs."""
        rows = [*table.rows, *table.pairs]
        return tuple([row.id for row in rows if row.noticed][:most])

    def effects_of(self, row: str) -> tuple[acts.Effect, ...]:
        """What happens in a row."""
        return tuple(one for name in row.split(BOTH) for one in self.known[name].effects)

    def samples(self, ids: Sequence[str], begin: int = 0, end: int = sampling.MANY) -> Floats:
        """Hours until each limit is crossed in samples `begin` to `end`: (samples, rows, limits).

        The same samples come out alike wherever and in whatever parts they are worked.
        """
        sets = [self.effects_of(one) for one in ids]
        return sampling.samples(self.courses, sets, self.asked.doubts, begin, end)

    def with_intervals(
        self, table: question.Table, ids: Sequence[str], found: Floats, *, whole: bool = True
    ) -> question.Table:
        """A table with intervals from the samples of some of its rows."""
        hours = np.array([self.courses.of(self.effects_of(one)).crossed for one in ids])
        low, high = sampling.spans(found, hours)
        told: Mapping[str, tuple[Floats, Floats]] = {one: (low[at], high[at]) for at, one in enumerate(ids)}
        rows = sampling.with_spans(table.rows, table.lines, told)
        pairs = sampling.with_spans(table.pairs, table.lines, told)
        return dataclasses.replace(table, rows=rows, pairs=pairs, intervals="ready" if whole else "computing")


def together(one: failures.Failure, two: failures.Failure) -> bool:
    """Whether two failures can be at the same time: not two states of the same part."""
    if not one.effects or not two.effects:
        return False
    return not _states(one) & _states(two)


_MACHINE = ("stop", "full-on", "dead-standby")


def _states(failure: failures.Failure) -> set[tuple[str, str]]:
    """What a failure settles, of which there can be one only: whether a machine runs, how a valve stands."""
    return {("machine" if one.kind in _MACHINE else one.kind, one.part) for one in failure.effects}


def _standbys(known: Sequence[failures.Failure]) -> list[tuple[failures.Failure, failures.Failure]]:
    """Failures of a pump with its standby working, and the same with it not working."""
    stops = {
        one.effects[0].part: one for one in known if len(one.effects) == 1 and one.effects[0].kind == "stop"
    }
    return [
        (stops[effect.part], one)
        for one in known
        if any(effect.kind == "no-change-over" for effect in one.effects)
        for effect in one.effects
        if effect.kind == "stop" and effect.part in stops
    ]


def work(asked: question.Asked) -> question.Table:
    """Every failure of a plant and what comes of it."""
    return Work(asked).table()


def answer(asked: question.Asked) -> answers.Answer:
    """The same as an answer any face can show."""
    return telling.answer(work(asked))


def refused(found: Sequence[findings.Finding]) -> answers.Answer:
    """The answer where nothing can be worked out."""
    return answers.Answer(
        question=question.QUESTION,
        sentence="How long the animals have cannot be worked out for this plant.",
        state="refused",
        findings=tuple(found),
    )

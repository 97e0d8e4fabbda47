"""What the logbook gives back: outcomes, versions, people, imports, and the reasons it refuses."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from brinehouse import findings, records

State = Literal["new", "same", "conflict"]


class Refused(Exception):  # noqa: N818 - a refusal is an answer, not an error of the program
    """The logbook did not take it; `finding` says why and what would be right."""

    def __init__(self, finding: findings.Finding) -> None:
        super().__init__(str(finding))
        self.finding = finding


class NotSaved(Refused):
    """The disk did not confirm the write: it is not saved, and the same may safely be sent again."""


class Busy(Refused):
    """Another program is writing this logbook."""


def refused(code: str, text: str, hint: str = "", **data: Any) -> Refused:
    """A refusal with its finding."""
    return Refused(stop(code, text, hint, **data))


def stop(code: str, text: str, hint: str = "", **data: Any) -> findings.Finding:
    """A finding that refuses."""
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint, data=data)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one fact: stored as new, known already, or kept aside as a conflict.

    Attributes
    ----------
    id : str
        The fact's id.
    state : str
        ``new``; ``same``: this id with this content is stored already; ``conflict``: this id is stored
        with other content, which stays; the offered one is kept aside.
    seq : int
        The entry's number in the chain (for a conflict, that of the entry that stays).
    """

    id: str
    state: State
    seq: int


class Tally:
    """Counts outcomes in place of a list of them, for files of which nobody asks what became of each row."""

    def __init__(self) -> None:
        self.counts: dict[State, int] = {"new": 0, "same": 0, "conflict": 0}

    def append(self, outcome: Outcome) -> None:
        """Count one."""
        self.counts[outcome.state] += 1

    def __len__(self) -> int:
        """How many were counted."""
        return sum(self.counts.values())


def tally(outcomes: Iterable[Outcome]) -> Tally:
    """How many outcomes there are of each state."""
    counted = Tally()
    for outcome in outcomes:
        counted.append(outcome)
    return counted


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One version of a fact, or its withdrawal: what stood, since when, by whom and why.

    Attributes
    ----------
    seq : int
        Its number in the chain.
    fact : Reading or Fact
        As it stood; a withdrawal comes as the `Fact` that took it back.
    entered : datetime
        When this version was written down.
    person : int or None
        Who wrote this version down (`fact.person` took the reading).
    reason : str
        Why it replaced the one before; empty for the first.
    stands : bool
        Whether it is what the logbook says today.
    """

    seq: int
    fact: records.Reading | records.Fact
    entered: datetime
    person: int | None
    reason: str
    stands: bool


@dataclass(frozen=True, slots=True)
class Person:
    """A person's number, name (empty once blanked) and whether it was blanked."""

    number: int
    name: str
    blanked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportFile:
    """A file that was taken in: what it was, how many rows it gave, who sent it when, and if it stands."""

    id: str
    name: str
    sha256: str
    size: int
    rows: int
    person: int | None
    at: datetime
    withdrawn: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Aside:
    """Two contents under one id: the one that stays and the one that was offered later."""

    seq: int
    id: str
    kept: records.Reading | records.Fact | None
    offered: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class FacilityText:
    """A facility file as accepted: from when it holds, its SHA-256, the text, by whom and when."""

    since: datetime
    digest: str
    text: str
    person: int | None
    at: datetime

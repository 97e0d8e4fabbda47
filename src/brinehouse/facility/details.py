"""What hangs on the things of a facility: ranges, bands, chances, work that comes round, lines of sensors."""

from __future__ import annotations

from dataclasses import dataclass

from brinehouse import findings

NOWHERE = findings.Spot()
DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """Two ends of a range in the unit of its quantity."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The values that do not cross: an end that is None is open. Unit of the quantity in the glossary.

    >>> Band(low=None, high=101.0).holds(100.5)
    True
    >>> Band(low=None, high=101.0).holds(101.5)
    False
    """

    low: float | None
    high: float | None

    def holds(self, value: float) -> bool:
        """Whether a value lies inside, ends included."""
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """How likely something fails: in one second of ``time``, or at one ``start``."""

    value: float
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FailureRate:
    """How often a part, or a kind of part, fails in one way: what was believed, and what was seen since.

    ``low`` and ``high`` are ends of a 95 % interval; ``over`` is running time and ``repair`` a mean [s].
    """

    of: str
    mode: str
    source: str
    low: Chance | None = None
    typical: Chance | None = None
    high: Chance | None = None
    seen: int | None = None
    over: float | None = None
    starts: int | None = None
    since: str = ""
    repair: float | None = None
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Upkeep:
    """Work that comes round again at ``of``: ``every`` [s], after ``hours`` [s] run, after ``starts``.

    Or when a reading of ``quantity`` ``at`` a point leaves the band ``when``; ``takes`` in s. ``counts`` is
    what counts as done beside a finished work order: ``check`` or ``renewal``.
    """

    of: str
    what: str
    every: float | None = None
    hours: float | None = None
    starts: int | None = None
    quantity: str = ""
    at: str = ""
    when: Band | None = None
    text: str = ""  # the band as the file writes it
    counts: str = "work"
    takes: float | None = None
    parts: tuple[str, ...] = ()
    note: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A part of the hall that is kept apart; ``order`` rises from the cleanest to the dirtiest."""

    id: str
    name: str
    order: int = 0
    foot_bath: bool = False
    own_tools: bool = False
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One stop of a round: what is read ``at`` a point, place or run, looked at, and fed.

    ``instruments`` are the meters it is read with, each for what it measures; ``ration`` in kg.
    """

    at: str
    read: tuple[str, ...] = ()
    instruments: tuple[str, ...] = ()
    basis: str = ""
    look: tuple[str, ...] = ()
    feed: str = ""
    ration: float | None = None
    note: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """What is read and looked at in walking order; ``made`` where the facility names none of its own.

    ``at`` are minutes after midnight by the hall's clock; ``every`` and ``within`` in s.
    """

    id: str
    name: str
    stops: tuple[Stop, ...] = ()
    at: tuple[int, ...] = ()
    every: float | None = None
    within: float = 7200.0
    made: bool = False
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """One address of a source and the point it feeds."""

    point: str
    register: int | None = None
    topic: str = ""
    node: str = ""
    scale: float = 1.0
    unit: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A line from which sensor values are read; ``secret`` names where a secret is kept, never the secret."""

    id: str
    kind: str
    host: str = ""
    port: int | None = None
    username: str = ""
    secret: str = ""
    access: str = "read"
    map: tuple[Address, ...] = ()
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Notify:
    """Where notices go: a reference to the address (never the address), for whom, from which level, when.

    ``quiet`` holds the minutes after midnight at which quiet hours begin and end; ``after`` is how long a
    notice stays unseen before this address is asked too. [s]
    """

    id: str
    to: str
    what: str
    whom: tuple[str, ...] = ()
    level: str = "act"
    quiet: tuple[int, int] | None = None
    after: float = 0.0
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Time kept free for work on ``of``: days of the week (Monday is 0), minutes after midnight, dates.

    What is empty does not narrow it; ``until`` is the last day, itself within.
    """

    of: tuple[str, ...]
    what: str = ""
    days: tuple[int, ...] = ()
    hours: tuple[int, int] | None = None
    since: str = ""
    until: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """Hours in which people are in the house: minutes after midnight, and the days on which it begins."""

    id: str
    name: str
    begins: int
    ends: int
    days: tuple[int, ...] = ()
    spot: findings.Spot = NOWHERE

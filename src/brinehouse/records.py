"""Readings, events and the other facts of history, as plain frozen data.

Times are aware and in UTC; ``measured`` is when it was so, ``entered`` when it was written down.
A fact is never edited: a later fact names the one it supersedes, with a reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

Quality = Literal["good", "unusual", "doubtful", "fault"]
"""``good``; ``unusual``: outside what is plausible, kept by a person; ``doubtful``: marked, left out of
means; ``fault``: an automatic value that is evidence of a broken sensor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A value with its unit (or a bound, or not measured with the reason), where, when, by what and by whom.

    Attributes
    ----------
    id : str
        Made where the reading was typed (32 hex digits); the same id twice is the same reading.
    measured, entered : datetime
        When it was so, and when it was written down. Aware, UTC.
    place : str
        Tank, sump, vessel or run.
    point : str
        Test point, where one is named.
    depth : float or None
        Depth below the surface, where it matters. [m]
    quantity : str
        The glossary's word.
    value : float or None
        In `unit`; None for "not measured".
    unit : str
        Canonical symbol.
    text : str
        As typed, unit and all.
    bound : str
        ``<`` or ``>`` where the value is only a bound.
    missing : str
        Why it was not measured.
    basis : str
        ``N`` or ``ion`` where the quantity asks for it; ``air`` or ``sea level`` for pressures that do.
    instrument, method, sitting : str
        The meter; how it was measured; the sitting or trial it belongs to.
    person : int or None
        The person's number.
    quality : Quality
    marks : tuple of str
        Finding codes that were raised when it was stored.
    source : str
        ``hand``, ``sensor`` or ``import``.
    note : str
    supersedes, reason : str
        The id of the fact it replaces, and why.
    origin : str
        ``import-id:line`` for an imported row.
    """

    id: str
    measured: datetime
    entered: datetime
    place: str
    quantity: str
    value: float | None
    unit: str
    text: str
    point: str = ""
    depth: float | None = None
    bound: Literal["", "<", ">"] = ""
    missing: str = ""
    basis: str = ""
    instrument: str = ""
    method: str = ""
    sitting: str = ""
    person: int | None = None
    quality: Quality = "good"
    marks: tuple[str, ...] = ()
    source: Literal["hand", "sensor", "import"] = "hand"
    note: str = ""
    supersedes: str = ""
    reason: str = ""
    origin: str = ""


FactKind = Literal[
    "instrument-check", "instrument-setting", "gas-trial", "event", "pump-run", "feeding", "observation",
    "light", "note", "withdrawal", "walk", "stop", "file", "work", "lock-out", "run-hours", "change-over",
    "renewal", "notice", "on-call", "hand-over", "backup",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """Anything else that happened.

    Attributes
    ----------
    id, measured, entered, person, supersedes, reason, origin, note
        As for `Reading`.
    kind : FactKind
        ``instrument-check`` (details: instrument, check ``air|pressure|salinity|wet-chemistry``, quantity,
        reads, should_read, unit); ``instrument-setting`` (instrument, setting, value);
        ``gas-trial`` (instrument, quantity, unit, minutes, values, depth);
        ``event`` (what); ``pump-run`` (pump, running ``true|false``); ``feeding`` (food, grams, eaten);
        ``light`` (hours); ``observation`` (animals, sign, count; of a round also answer, words); ``note``;
        ``withdrawal`` (takes back a fact or a whole import: details target);
        ``walk`` (a round under way: round, walk, what ``begun|zone|ended``, zone, foot_bath, tools);
        ``stop`` (a stop that was passed: round, walk, stop, what ``done|skipped``, and the reason of a skip);
        ``file`` (sha256, name, type, size, width, height, about: the id of the fact it belongs to);
        ``work`` (order, of, what ``asked|begun|done|dropped``, title, due, did, parts);
        ``lock-out`` (of, on ``true|false``, tag, why);
        ``run-hours`` (of, hours, starts: as its counter shows);
        ``change-over`` (duty, what ``turn|test``, stopped, started, worked ``true|false``, seconds);
        ``renewal`` (of, what: membrane, reagent, lamp and the like, lot, expires);
        ``notice`` (notice, what ``seen|shelved|unshelved|out of service|in service|sent``, until, why);
        ``on-call`` (person, since, until);
        ``hand-over`` (since, until, what ``written|read``, of, head, text);
        ``backup`` (where, what ``made|failed|restored|moved in``, sha256, size, head, why).
        A ``note`` may be pinned to its place: details pinned, until, promised.
    place : str
        Where, or empty for the whole facility.
    details : mapping
        JSON-ready.
    """

    id: str
    kind: FactKind
    measured: datetime
    entered: datetime
    place: str = ""
    details: Mapping[str, Any] = field(default_factory=dict[str, Any])
    person: int | None = None
    note: str = ""
    supersedes: str = ""
    reason: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A pump started or stopped."""

    at: datetime
    pump: str
    running: bool


def turns(facts: Iterable[Fact]) -> list[Turn]:
    """Starts and stops of pumps, in the order of the facts."""
    return [
        Turn(
            at=fact.measured,
            pump=str(fact.details["pump"]),
            running=fact.details.get("running") in (True, "true"),
        )
        for fact in facts
        if fact.kind == "pump-run" and fact.details.get("pump")
    ]

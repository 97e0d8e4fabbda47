"""One thing that is not as it should be, as every part of the hall tells it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from brinehouse import findings, records


@dataclass(frozen=True, slots=True, kw_only=True)
class Concern:
    """One thing that is not as it should be: what, since when, why we think so, what to do next, who.

    Attributes
    ----------
    key : str
        Names the thing where its words change from day to day: what was seen of it stays seen.
    place : str
        The place it is at, where it is at one.
    asks : bool
        Whether it asks somebody to do something now: then it is a notice, can be shelved, and is sent.
    notice, state, by : str
        The notice it is told by, how that stands, and who saw it.
    since, at : datetime
        Since when it is so; when the reading behind it was taken.
    priority : str
        Of its notice.
    hours : float or None
        How long there is to respond, and in `in_hand` the failure that leaves so little.
    """

    level: findings.Level
    since: datetime
    what: str
    value: str = ""
    why: str = ""
    next: str = ""
    who: str = ""
    href: str = ""
    code: str = ""
    key: str = ""
    place: str = ""
    asks: bool = True
    notice: str = ""
    state: str = ""
    by: str = ""
    at: datetime | None = None
    priority: str = ""
    hours: float | None = None
    in_hand: str = ""
    consequence: str = ""


def decimals(reading: records.Reading) -> int:
    """Decimals as the reading was typed, at most four."""
    digits = reading.text.split()[0] if reading.text else ""
    _, _, tail = digits.replace(",", ".").partition(".")
    return min(len("".join(character for character in tail if character.isdigit())), 4)

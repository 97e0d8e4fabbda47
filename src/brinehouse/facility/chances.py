"""How often something fails, as a person writes it: by the hour, or by the start."""

from __future__ import annotations

import re
from typing import Literal

from brinehouse import units
from brinehouse.facility import amounts, hidden, model

_ONCE = re.compile(r"\s*(?:once|1)\s+in\s+(?P<span>.+?)\s*", re.IGNORECASE | re.DOTALL)
_STARTS = re.compile(r"(?P<count>\S+)\s*(?:starts?|demands?|calls?)", re.IGNORECASE)
HINT = "write '3e-5 1/h', 'once in 33000 h', '0.5 %' or 'once in 200 starts'"
RUNNING, RESTING, STARTING, CHANGING = "fails running", "fails at rest", "fails to start", "change-over fails"
MODES = (RUNNING, RESTING, STARTING, CHANGING)
BY: dict[str, tuple[str, ...]] = {
    RUNNING: ("time",),
    RESTING: ("time",),
    STARTING: ("start",),
    CHANGING: ("time", "start"),
}
"""By what each mode may be counted: a change-over that fails unseen in time, or at each call."""
KINDS = ("pump", "duty", "board", "power", "sump")
"""Kinds of part a rate may be for; else it is for the one part whose id it names."""


def read(text: str) -> model.Chance | amounts.Fault:
    """A chance to fail, in one second or at one start.

    >>> read("once in 200 starts")
    Chance(value=0.005, by='start')
    >>> read("3.6e-5 1/h")
    Chance(value=1e-08, by='time')
    """
    once = _ONCE.fullmatch(text)
    got = _once(once["span"]) if once else _plain(text)
    if isinstance(got, amounts.Fault):
        return got
    value, by = got
    if not 0.0 < value < (1.0 if by == "start" else 1e3):
        why = f"is '{hidden.visible(text.strip())}', which is none or more than all"
        return amounts.Fault("facility/rate", why, HINT)
    return model.Chance(value=value, by=by)


_Got = tuple[float, Literal["time", "start"]]


def _once(span: str) -> _Got | amounts.Fault:
    starts = _STARTS.fullmatch(span)
    if starts is None:
        seconds = amounts.read(span, "time")
        return seconds if isinstance(seconds, amounts.Fault) else _over(seconds, "time")
    count = units.read_plain(starts["count"])
    if count is None:
        why = f"is 'once in {hidden.visible(span)}': how many starts is not understood"
        return amounts.Fault("facility/rate", why, HINT)
    return _over(count, "start")


def _over(count: float, by: Literal["time", "start"]) -> _Got:
    return (1.0 / count if count > 0.0 else 0.0), by


def _plain(text: str) -> _Got | amounts.Fault:
    share = amounts.amount(text, "percent")
    if not isinstance(share, amounts.Fault):
        return share.value / 100.0, "start"
    rate = amounts.amount(text, "rate")
    if not isinstance(rate, amounts.Fault):
        return rate.si(), "time"
    return amounts.Fault(
        "facility/rate", f"is '{hidden.visible(text.strip())}', not how often it fails", HINT
    )

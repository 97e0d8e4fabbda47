"""What is asked of duty groups, what is known of their pumps' running, and by what they are lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from brinehouse import answers, records

HOUR = 3600.0
WEEK = 7.0 * 24.0 * HOUR
SAMPLES = ((40, 200), (150, 80))
"""Draws of all rates together for the 95 % interval, by the greatest number of states; none for more."""
MOST = 16  # pumps of one group that are reckoned with
RARE = 1.01  # a measure that gains less than this many times is not told

INDEPENDENT = "pumps failing one by one"
DORMANT = "a standby dead and nobody knew"
CHANGE_OVER = "the change-over not working"
BY_HAND = "waiting for a start by hand"
COMMON = "a cause that takes all at once"

QUESTION = answers.Question(
    name="standby",
    title="What are the standby pumps worth: how often do too few run, why, and what would help most?",
    inputs=(),
    outputs=(
        answers.Output(name="years", label="mean time until it first happens", unit="years", decimals=1),
        answers.Output(name="out", label="out of service", unit="h/year", decimals=2),
        answers.Output(name="availability", label="availability", unit="%", decimals=4),
    ),
    cautions=(
        "A figure for planning: it says nothing of tonight. Rates are the facility's own beliefs and counts.",
        "Trial starts and change-overs are plant work: by the people and the procedure of the house, with "
        "somebody at the tanks; electrical boards belong to the licensed trade.",
    ),
)


Turn = records.Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """Starts and stops of pumps in order of time, and until when they were written down."""

    turns: Sequence[Turn] = field(default_factory=tuple[Turn, ...])
    until: datetime | None = None

"""What is asked of flows: the question, what counts as a measurement, and how far each is trusted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from brinehouse import answers, records

M3H = 3600.0  # m³/h in one m³/s
STATED = 0.10
"""Standard uncertainty of a house-file flow beside measured ones, as a share: pumps foul, valves are turned,
and nobody rewrites the file. Common practice, no source."""
COMPUTED = 0.08  # of a computed flow, where its solver gives none: common practice, no source
UNIFORM = 3.0**-0.5  # a maker's ± as a standard uncertainty: JCGM 100:2008, 4.3.7
UNSTATED = 0.05  # ± of a flow meter whose accuracy nobody stated: common practice, no source
SHARED = 0.5  # correlation between readings of one instrument in different places: common practice, no source
LEAST = 0.005  # m³/h: no measured flow is known better than this
EVAPORATION = 0.15e-3  # m³/h from a square metre of indoor water: common practice, no source
HELD = 0.02  # m a day by which an overflow's crest lets the level move: common practice, no source
DRIFT = 0.10  # m a day by which a sump's unread level may move, its top-up being drawn: common practice
BAND = (
    3.841458820694124  # chi-square, one degree of freedom, 95 %: causes nearer than this are not told apart
)
DOUBTFUL = 0.05  # probability below which the flows do not agree
SPLIT = 0.01  # probability of the rest below which one cause is not enough
SLIPS: tuple[tuple[float, str], ...] = (
    (1000.0 / 60.0, "litres a minute written down as m³/h"),
    (60.0 / 1000.0, "m³/h written down as litres a minute"),
    (1.0 / 3.6, "m³/h written down as litres a second"),
    (3.6, "litres a second counted as 1 m³/h each, or the other way round"),
    (1000.0, "litres an hour written down as m³/h"),
    (0.001, "m³/h written down as litres an hour"),
    (60.0, "a flow a minute written down as one an hour"),
    (1.0 / 60.0, "a flow an hour written down as one a minute"),
    (4.4029, "US gallons a minute written down as m³/h"),
    (3.6662, "imperial gallons a minute written down as m³/h"),
)
"""How many times too large a slip makes a flow, and in words."""
EMPTIED = 3.0  # times the sump's water: a leak that took more since the change-over would have been seen
NEAR_A_SLIP = 0.06  # how near a ratio must be to a slip's, beside its own uncertainty

QUESTION = answers.Question(
    name="flows",
    title="What are the flows really, and which meter or figure does not fit?",
    inputs=(),
    outputs=(
        answers.Output(name="misfit", label="misfit of the balances, chi-square", unit="1", decimals=1),
        answers.Output(name="freedom", label="balances that check something", unit="1", decimals=0),
        answers.Output(name="probability", label="chance of a misfit this large", unit="1", decimals=3),
    ),
    cautions=(
        "A meter named here is a suspect, not a culprit: read again before anything is opened or reset.",
        "Pressurised pipes and confined sumps: isolate by your own procedure; local codes rule.",
    ),
)


Turn = records.Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One statement about flow: what it says of which runs, and how far it is trusted, in m³/h.

    Attributes
    ----------
    key : str
        The point, instrument or run it is known by.
    kind : str
        ``measured``, ``stated`` or ``computed``.
    runs : tuple of (str, float)
        The runs whose flows it sums, each with its share.
    value, u : float
    instrument, name : str
        The meter, and what a person calls it.
    count : int
        Readings it is the mean of.
    at : datetime or None
        The newest of them.
    """

    key: str
    kind: str
    runs: tuple[tuple[str, float], ...]
    value: float
    u: float
    instrument: str = ""
    name: str = ""
    count: int = 1
    at: datetime | None = None

    @property
    def run(self) -> str:
        """The run it is about, where it is one."""
        return self.runs[0][0] if len(self.runs) == 1 else ""

"""What is asked of pumps and gas: the question, its samples, and the ways gas can get in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from brinehouse import answers, records

FEWEST = 8  # samples below which no pump is ever named

Mechanism = tuple[str, float, float, float, str, str]
MECHANISMS: tuple[Mechanism, ...] = (
    (
        "changes/air-at-suction",
        0.7,
        1.15,
        1.97,
        "air drawn in at a pump's suction and dissolved under pressure",
        "read oxygen and total gas pressure before and after {pump}, ten minutes after it starts",
    ),
    (
        "changes/carried-under",
        0.15,
        0.93,
        1.07,
        "bubbles carried under where water falls or a skimmer mixes",
        "read at the fall and one metre away, with the fall slowed",
    ),
    (
        "changes/warming",
        0.1,
        0.86,
        0.91,
        "water warmed after it last met the air",
        "read temperature on both sides of the pump and the chiller",
    ),
    (
        "changes/daylight",
        0.05,
        -0.1,
        0.1,
        "oxygen made by plants in light",
        "read at dawn and at dusk on the same day",
    ),
)
"""Code, weight before any reading, lowest and highest rise of nitrogen per rise of oxygen (both % of
saturation), words, next reading.

The weights and the widths are elicited: pumps of one group move the same water, so bubbles at a fall, warmth
and daylight should not care which of them runs.

1.97: air dissolved whole (N2 8.77, O2 4.46 % per mL/L, Henry's law, S 35, 25.5 °C); 1: gas brought to balance
at depth; 0.88: heating 20 to 25 °C (8.1 against 9.2 %); 0: photosynthesis.
"""

QUESTION = answers.Question(
    name="gas changes",
    title="Which pump's running goes with the gas pressure, and what kind of gas comes in?",
    inputs=(
        answers.Input(
            name="hours",
            label="hours",
            kind="series",
            unit="h",
            required=True,
            help="time of each sample",
        ),
        answers.Input(
            name="running",
            label="pump running",
            kind="series",
            unit="1",
            required=True,
            help="1 while the pump ran, 0 while it rested",
        ),
        answers.Input(
            name="delta_p",
            label="ΔP",
            kind="series",
            word="delta p",
            unit="mmHg",
            required=True,
            help="excess gas pressure",
        ),
        answers.Input(
            name="oxygen",
            label="oxygen",
            kind="series",
            word="oxygen saturation",
            unit="%",
            required=True,
            help="of local saturation",
        ),
        answers.Input(
            name="nitrogen",
            label="nitrogen and argon",
            kind="series",
            unit="%",
            required=True,
            help="of local saturation",
        ),
    ),
    outputs=(
        answers.Output(name="rise", label="ΔP higher while it runs", unit="mmHg", decimals=1),
        answers.Output(name="oxygen_rise", label="oxygen higher while it runs", unit="%", decimals=2),
        answers.Output(
            name="nitrogen_rise", label="nitrogen and argon higher while it runs", unit="%", decimals=2
        ),
        answers.Output(name="ratio", label="nitrogen's rise over oxygen's", unit="1", decimals=2),
    ),
    cautions=(
        "Isolate a pump by your own procedure before its strainer is opened.",
        "Electricity by water and confined sumps: local codes rule.",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """What a visit found at one place: ΔP [mmHg], oxygen and nitrogen with argon [% of saturation]."""

    at: datetime
    place: str
    delta_p: float
    oxygen: float
    nitrogen: float
    u: float = 4.0
    meter: str = ""


Turn = records.Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A dated change of plant, such as a new column."""

    at: datetime
    text: str

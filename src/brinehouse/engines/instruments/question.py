"""What is asked of a comparison of meters, and everything it rests on."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from brinehouse import answers, findings
from brinehouse.science import statistics_meters

SITTING = timedelta(minutes=90)
"""Readings within this of a sitting's first belong to it."""

GAP = timedelta(minutes=45)
"""A longer pause begins a new sitting."""

FRESH = timedelta(days=28)
"""Deployments of 2 to 4 weeks stay within ±1 % of a standard: USGS SIR 2004-5249, OFR 2007-1408."""

CHECKED: Mapping[str, float] = {"%": 0.4, "mmHg": 3.0, "hPa": 4.1, "kPa": 0.41, "mg/L": 0.1, "°C": 0.1}
"""± of a check in air, under pressure or by wet chemistry: ±0.4 % of an atmosphere is USGS laboratory
practice (SIR 2004-5249); oxygen and temperature: common practice, no source."""

SCATTER: Mapping[str, float] = {"%": 0.2, "mmHg": 1.5, "hPa": 2.0, "kPa": 0.2, "mg/L": 0.05, "°C": 0.05}
"""Standard uncertainty of one settled reading where the readings cannot tell. common practice, no source."""

PRESSURES = ("%", "mmHg", "hPa", "kPa", "mbar")
"""Units of gas pressure: air is the reference."""

SOURCE_FIT = "weighted least squares; Searle (1971), Linear Models, ch. 5 and 7 (estimable functions)"
SOURCE_BOUND = "JCGM 100:2008, 4.3.7: ± a read as bounds, u = a/√3"

NOTE, ASK, STOP = findings.Level.NOTE, findings.Level.ASK, findings.Level.STOP

QUESTION = answers.Question(
    name="instruments",
    title="Which meter is off, by how much, and what does each place really read?",
    inputs=(
        answers.Input(
            name="meter",
            label="Meter",
            kind="series",
            example="A B A B",
            required=True,
            help="One a reading.",
        ),
        answers.Input(
            name="place",
            label="Place",
            kind="series",
            example="tank-1 tank-2 tank-2 tank-1",
            required=True,
            help="One a reading.",
        ),
        answers.Input(
            name="sitting",
            label="Sitting",
            kind="series",
            example="1 1 2 2",
            help="Readings taken together; empty: all of them.",
        ),
        answers.Input(
            name="value",
            label="Reading",
            kind="series",
            word="total gas pressure",
            unit="%",
            example="103.4 101.1 102.5 102.3",
            required=True,
            help="Settled readings, all in one unit.",
        ),
        answers.Input(
            name="hours",
            label="Hours",
            kind="series",
            unit="h",
            example="0 0 0.5 0.5",
            help="When each was read; empty: an hour from sitting to sitting.",
        ),
        answers.Input(name="unit", label="Unit of the readings", kind="text", example="%"),
        answers.Input(
            name="u",
            label="Standard uncertainty of one reading",
            unit="%",
            example="0.2 %",
            help="Empty: from meters that stood side by side, where there are enough.",
        ),
        answers.Input(
            name="drift",
            label="How far a place wanders in an hour",
            unit="%",
            example="0.2 %",
            help="As a standard uncertainty. Empty: as far as one reading scatters. 0: places hold still.",
        ),
        answers.Input(
            name="accuracy",
            label="Stated accuracy of the meters, ±",
            unit="%",
            example="1 %",
            help="For all, or each: 'A 0.7 %; B 1 %'.",
        ),
        answers.Input(
            name="checked",
            label="Read too high in a check",
            kind="text",
            example="A 0.3 %",
            help="Reads less should read, in air, under pressure or by wet chemistry: 'A 0.3 %; B -0.1 %'.",
        ),
    ),
    outputs=(
        answers.Output(name="largest_difference", label="Largest difference of two meters", unit=""),
        answers.Output(name="common_level", label="Doubt about the level common to all, ±", unit=""),
        answers.Output(name="scatter", label="Scatter of one reading", unit=""),
    ),
    cautions=("Comparing meters never shows an error that all of them share.",),
)

UNSEEN = (
    answers.Open(
        code="instruments/shared",
        text="An error that all meters share: the same barometer, standard or salinity.",
        next_reading="A check of one meter against something absolute: air, a known pressure, wet chemistry.",
    ),
    answers.Open(
        code="instruments/wet-check",
        text="An air check with a wet membrane reads 4 to 12 mmHg low and looks like an offset.",
        next_reading="The air check again after the membrane has dried.",
    ),
    answers.Open(
        code="instruments/meter-suits-place",
        text="A meter that is off only at one place (depth, flow, bubbles) looks like that place's level.",
        next_reading="A second meter beside it at that place.",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """Everything a comparison rests on, whichever way it came in.

    Attributes
    ----------
    readings : Readings
        Meters are named by the span between zeroings they belong to.
    unit : str
        Of everything.
    accuracies : mapping
        Meter to ± a.
    checks : tuple of (meter, what)
        What fixed a level.
    dof : float
        Degrees of freedom of the scatter.
    found : tuple of Finding
        What was said on the way in.
    labels : tuple of Spot
        Where each reading is.
    as_of : datetime or None
        The newest reading.
    order : tuple of str
        Meters as they stand now, for the next sitting.
    """

    readings: statistics_meters.Readings
    unit: str
    accuracies: Mapping[str, float]
    checks: tuple[tuple[str, str], ...] = ()
    dof: float = math.inf
    found: tuple[findings.Finding, ...] = ()
    labels: tuple[str, ...] = ()
    as_of: datetime | None = None
    order: tuple[str, ...] = ()
    inputs: Mapping[str, str] = field(default_factory=dict[str, str])

    @property
    def priors(self) -> dict[str, float]:
        """Standard uncertainty of each meter's offset before any reading."""
        return {meter: width / math.sqrt(3) for meter, width in self.accuracies.items() if width > 0}


def said(code: str, level: findings.Level, text: str, hint: str, **spot: Any) -> findings.Finding:
    """One finding."""
    return findings.Finding(code=code, level=level, text=text, hint=hint, spot=findings.Spot(**spot))

"""Gas meters over all their visits: which settings to doubt, since when."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from brinehouse import answers, findings, records
from brinehouse.engines.gas_budget import (
    comparing,
    completing,
    explaining,
    persistence,
    understanding,
    visits,
)
from brinehouse.facility import model

MMHG = understanding.MMHG
SURE = 0.8
"""Share at which an explanation is used to put values right."""
RIVALS = ("gas/meter-salinity-zero", "gas/residual-salinity-zero")
NEAR = timedelta(days=14)
"""How far apart in time two oxygen figures of one place may be and still settle between the rivals."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """One gas meter's course: its triples, and what they say."""

    name: str
    triples: tuple[visits.Visit, ...]
    course: persistence.Course

    @property
    def now(self) -> persistence.Segment:
        """What holds since the last change."""
        return self.course.segments[-1]

    @property
    def trouble(self) -> bool:
        """Whether something is wrong now, surely enough to put values right."""
        return (
            self.now.best not in ("gas/closes", persistence.UNEXPLAINED)
            and self.now.weights.get(self.now.best, 0.0) >= SURE
        )


def gather(found: Sequence[visits.Visit]) -> list[Meter]:
    """Every gas meter that showed total, oxygen and nitrogen together, with its course.

    A closure cannot tell a meter at salinity 0 from one whose nitrogen alone was worked out at 0. The oxygen
    of its fellows in the same water can, or its own from a stretch that closes.
    """
    by_meter: dict[tuple[str, str], list[visits.Visit]] = {}
    for visit in found:
        if visit.triple and visit.ready is not None and visit.ready.oxygen.value > 0.0:
            by_meter.setdefault((visit.instrument, visit.known.total_kind), []).append(visit)
    meters = [
        Meter(name=name, triples=tuple(rows), course=persistence.course(visits.as_case(rows)))
        for (name, _), rows in by_meter.items()
    ]
    sound = _sound(meters)
    return [_weigh_rivals(meter, sound) for meter in meters]


def _sound(meters: Sequence[Meter]) -> dict[str, list[tuple[visits.Visit, float]]]:
    """Place to visits whose closure holds over many visits, with ln of their oxygen's share of saturation."""
    out: dict[str, list[tuple[visits.Visit, float]]] = {}
    for meter in meters:
        for segment in meter.course.segments:
            if segment.best != "gas/closes":
                continue
            for visit in meter.triples[segment.first : segment.last + 1]:
                out.setdefault(visit.place, []).append((visit, _share(visit)))
    return out


def _share(visit: visits.Visit) -> float:
    """The logarithm of oxygen shown over what this water would hold in balance with air."""
    assert visit.ready is not None
    place = visit.ready.place
    return math.log(place.values(visit.ready.oxygen.value)["oxygen_percent"])


def _weigh_rivals(meter: Meter, sound: Mapping[str, Sequence[tuple[visits.Visit, float]]]) -> Meter:
    segments = tuple(_weigh_segment(meter, segment, sound) for segment in meter.course.segments)
    return replace(meter, course=replace(meter.course, segments=segments))


def _weigh_segment(
    meter: Meter, segment: persistence.Segment, sound: Mapping[str, Sequence[tuple[visits.Visit, float]]]
) -> persistence.Segment:
    """The two rivals' shares, after a look at other oxygen in the same water."""
    zero, residual = RIVALS
    held = segment.weights.get(zero, 0.0) + segment.weights.get(residual, 0.0)
    apart: list[float] = []
    for visit in meter.triples[segment.first : segment.last + 1] if held > 0.5 else ():
        near = [
            share
            for other, share in sound.get(visit.place, ())
            if other is not visit and abs(other.when - visit.when) < NEAR
        ]
        if near:
            apart.append(_share(visit) - float(np.median(near)))
    if not apart:
        return segment
    ready = meter.triples[segment.last].ready
    assert ready is not None
    place = ready.place
    salt = place.salinity.value if ready.known.meter_salinity is None else ready.known.meter_salinity
    expected = -math.log(explaining.corrected_oxygen_factor(place.temperature.value, salt, 0.0))
    middle = float(np.median(apart))
    odds = ((middle / 0.05) ** 2 - ((middle - expected) / 0.05) ** 2) / 2.0
    raised = {
        code: weight * math.exp(min(odds, 50.0)) if code == zero else weight
        for code, weight in segment.weights.items()
    }
    total = sum(raised.values())
    weights = {code: weight / total for code, weight in raised.items()}
    return replace(segment, weights=weights, best=max(weights, key=lambda code: weights[code]))


def factors(meters: Sequence[Meter]) -> dict[str, float]:
    """Gas meter to what puts its mg/L right, where its setting is wrong for sure throughout."""
    out: dict[str, float] = {}
    for meter in meters:
        if meter.now.best == "gas/meter-salinity-zero" and meter.trouble:
            ready = meter.triples[-1].ready
            if ready is not None:
                setting = ready.known.meter_salinity
                place = ready.place
                salt = place.salinity.value if setting is None else setting
                out[meter.name] = explaining.corrected_oxygen_factor(place.temperature.value, salt, 0.0)
    return out


def explanations(meters: Sequence[Meter]) -> tuple[answers.Explanation, ...]:
    """Of every meter whose latest stretch does not simply close; else of the one looked at most."""
    wanted = [meter for meter in meters if meter.now.best != "gas/closes"]
    if not wanted:
        wanted = sorted(meters, key=lambda meter: -len(meter.triples))[:1]
    found: list[answers.Explanation] = []
    for meter in wanted:
        last = meter.triples[meter.now.last]
        assert last.ready is not None
        state = completing.state(last.ready)
        case = completing.as_case(last.ready, state)
        if case is None:
            continue
        count = meter.now.last - meter.now.first + 1
        for one in explaining.explain(state, case, known=meter.now.weights):
            fits = meter.now.fits.get(one.code, 0)
            text = f"{meter.name}: {one.text}"
            found.append(replace(one, text=text, visits=(fits, count)))
    found = [one for one in found if one.weight > 1e-3]
    return tuple(sorted(found, key=lambda one: -one.weight))


def meter_findings(meter: Meter) -> list[findings.Finding]:
    """What one gas meter's numbers say about its settings, then and now."""
    found: list[findings.Finding] = []
    for number, segment in enumerate(meter.course.segments):
        weight = segment.weights.get(segment.best, 0.0)
        unexplained = segment.best == persistence.UNEXPLAINED
        if segment.best == "gas/closes" or (weight < 0.5 and not unexplained):
            continue
        now = number == len(meter.course.segments) - 1
        first, last = meter.triples[segment.first], meter.triples[segment.last]
        when = f"since {first.when:%d %B %Y}" if now else f"until {last.when:%d %B %Y}"
        count, fits = segment.last - segment.first + 1, segment.fits.get(segment.best, 0)
        if unexplained:
            words = explaining.Words(
                "its numbers cannot be true together, and no setting tried here explains them.",
                f"read all of {meter.name}'s numbers and settings at one time, and write them as shown",
            )
            text = f"{meter.name} {when}, {count} visits: {words.text}"
        else:
            words = explaining.WORDS[segment.best]
            text = f"{meter.name} {when}, {fits} of {count} visits ({weight:.0%}): {words.text}"
        found.append(
            findings.Finding(
                code=segment.best,
                level=findings.Level.ASK if now else findings.Level.WATCH,
                text=text,
                hint=words.next_reading,
                spot=findings.Spot(thing=meter.name),
                data={
                    "visits": count,
                    "fits": fits,
                    "weight": weight,
                    "instrument": meter.name,
                    "since": first.when.isoformat(),
                },
            )
        )
    if len(meter.course.segments) == 2:
        found.append(_changed(meter))
    return found


def _changed(meter: Meter) -> findings.Finding:
    course = meter.course
    early = meter.triples[max(course.earliest - 1, 0)].when
    late = meter.triples[course.latest].when
    text = f"{meter.name}'s settings changed between {early:%d %B %Y %H:%M} and {late:%d %B %Y %H:%M} UTC"
    return findings.Finding(
        code="gas/setting-changed",
        level=findings.Level.NOTE,
        text=text,
        hint="write the change down as an instrument setting",
        spot=findings.Spot(thing=meter.name),
        data={"earliest": early.isoformat(), "latest": late.isoformat(), "instrument": meter.name},
    )


def held_findings(held: comparing.Held, facts: Sequence[records.Fact]) -> list[findings.Finding]:
    """What an oxygen meter held against the gas meters says about its setting."""
    if not held.wrong:
        return []
    step, name, count = held.step, held.instrument, len(held.wrong)
    if held.changed is None:
        when, level = "stands at salinity 0", findings.Level.ASK
    elif step.before:
        when, level = f"stood at salinity 0 until {held.wrong[-1].measured:%d %B %Y}", findings.Level.WATCH
    else:
        when, level = f"stands at salinity 0 since {held.wrong[0].measured:%d %B %Y}", findings.Level.ASK
    text = f"{name} {when}: {count} readings show {step.factor:.2f} times the true mg/L"
    hint = f"look up {name}'s salinity setting; titrate oxygen by wet chemistry once"
    written = [
        fact for fact in facts if fact.kind == "instrument-setting" and fact.details.get("instrument") == name
    ]
    if held.changed is not None:
        hint = "the readings stay as they are; use the corrected values beside them"
        if not written:
            hint = "nobody wrote the change of setting down: do so, and leave the readings as they are"
    data: dict[str, object] = {
        "instrument": name,
        "readings": count,
        "factor": step.factor,
        "u_factor": step.u_factor,
        "compared": len(held.times),
        "since": held.wrong[0].measured.isoformat(),
    }
    if held.changed is not None:
        data |= {"earliest": held.changed[0].isoformat(), "latest": held.changed[1].isoformat()}
    return [
        findings.Finding(
            code="gas/meter-salinity-zero",
            level=level,
            text=text,
            hint=hint,
            spot=findings.Spot(thing=name),
            data=data,
        )
    ]


def barometer_findings(facility: model.Facility, around: visits.Surroundings) -> list[findings.Finding]:
    """Barometers that give sea-level pressure though nobody said so."""
    found: list[findings.Finding] = []
    for one in around.barometers.values():
        if one.stated or not one.sea_level or facility.altitude is None:
            continue
        name = one.instrument or "a barometer without a name"
        text = (
            f"{name} stands {one.apart / MMHG:.0f} mmHg above what the air is at {facility.altitude:g} m: it"
            " gives sea-level pressure, and was reduced to the hall's altitude"
        )
        found.append(
            findings.Finding(
                code="gas/barometer-sea-level",
                level=findings.Level.ASK,
                text=text,
                hint="write barometer = 'sea level' for it in the facility file, or ask its source",
                spot=findings.Spot(thing=one.instrument),
                data={"instrument": one.instrument, "apart_mmhg": one.apart / MMHG},
            )
        )
    return found


def meter_table(meters: Sequence[Meter]) -> answers.Table:
    """A row for every stretch of every gas meter."""
    rows = tuple(
        {
            "meter": meter.name,
            "since": meter.triples[segment.first].when.isoformat(),
            "until": meter.triples[segment.last].when.isoformat(),
            "explanation": segment.best,
            "weight": segment.weights.get(segment.best, 0.0),
            "fits": segment.fits.get(segment.best, 0),
            "visits": segment.last - segment.first + 1,
        }
        for meter in meters
        for segment in meter.course.segments
    )
    labels = ("Meter", "Since", "Until", "Explanation", "Share", "Visits it fits", "Visits")
    names = ("meter", "since", "until", "explanation", "weight", "fits", "visits")
    return answers.Table(
        name="meters",
        title="Which meters' numbers can be true together",
        columns=tuple(
            answers.Output(name=n, label=label, unit="") for n, label in zip(names, labels, strict=True)
        ),
        rows=rows,
    )

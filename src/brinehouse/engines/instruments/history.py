"""A comparison of meters from the logbook: readings, checks, zeroings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np

from brinehouse import answers, findings, records
from brinehouse.engines.instruments import concluding, question
from brinehouse.science import statistics_meters


def survey(
    readings: Sequence[records.Reading],
    checks: Sequence[records.Fact],
    accuracies: Mapping[str, Any],
    quantity: str,
    unit: str,
    *,
    u: float | None = None,
    drift: float | None = None,
) -> answers.Answer:
    """Offsets of meters and levels of places, from the logbook.

    Parameters
    ----------
    readings : sequence of Reading
        Any; those of `quantity` with a value, a meter and no doubt are used.
    checks : sequence of Fact
        Instrument checks, settings and events; those about these meters are used.
    accuracies : mapping
        Instrument to ± a, an amount or a number in `unit`.
    quantity, unit : str
        What is compared, and in which unit.
    u, drift : float, optional
        Standard uncertainty of one reading, and of a place's level over an hour; in `unit`.

    Returns
    -------
    Answer
        As `answer`.
    """
    usable, found = _usable(readings, quantity, unit)
    if len(usable) < 2:
        text = f"there are {len(usable)} usable readings of {quantity}"
        return concluding.refused(
            [
                question.said("instruments/too-few", question.STOP, text, "read two meters at one place"),
                *found,
            ],
            {},
        )
    stated = {name: width for name, given in accuracies.items() if (width := _width(given, unit)) is not None}
    study = _study(usable, checks, stated, quantity, unit)
    return concluding.conclude(replace(study, found=(*found, *study.found)), u, drift)


def _study(
    usable: Sequence[tuple[records.Reading, float]],
    checks: Sequence[records.Fact],
    stated: Mapping[str, float],
    quantity: str,
    unit: str,
) -> question.Study:
    """Readings and checks as columns, meters parted where they were zeroed."""
    zeroed = _zeroings(checks)
    kept = [r for r, _ in usable]
    meter = tuple(_epoch(r.instrument, r.measured, zeroed) for r in kept)
    ages = {name: [r.measured for r, at in zip(kept, meter, strict=True) if at == name] for name in meter}
    known = _Checks(ages, stated, quantity, unit)
    known.read(checks, zeroed)
    found = [*known.found, *known.old()]
    if since := sorted(name for name in ages if name != _plain(name)):
        found.append(
            question.said(
                "instruments/zeroed", question.NOTE, f"zeroed meanwhile: {', '.join(since)}", "nothing to do"
            )
        )
    data = statistics_meters.Readings(
        meter=meter,
        place=tuple(r.point or r.place for r in kept),
        sitting=_sittings(kept),
        values=np.array([value for _, value in usable]),
        hours=np.array([(r.measured - kept[0].measured).total_seconds() / 3600 for r in kept]),
        u=1.0,
        anchors=tuple(known.anchors),
        gains=known.gains(),
    )
    return question.Study(
        readings=data,
        unit=unit,
        accuracies={name: stated[_plain(name)] for name in ages if _plain(name) in stated},
        checks=tuple(known.told.items()),
        found=tuple(found),
        labels=tuple(r.id for r in kept),
        as_of=kept[-1].measured,
        order=tuple({_plain(name): name for name in meter}.values()),
        inputs={"quantity": quantity},
    )


def _usable(
    readings: Sequence[records.Reading], quantity: str, unit: str
) -> tuple[list[tuple[records.Reading, float]], list[findings.Finding]]:
    """Readings to compare with their values in the unit, oldest first; how many were left out."""
    from brinehouse import units

    mine = sorted((r for r in readings if r.quantity == quantity), key=lambda r: r.measured)
    last: dict[tuple[str, str, str, str], tuple[records.Reading, float]] = {}
    for r in mine:
        if r.value is None or r.bound or not r.instrument or r.quality in ("doubtful", "fault"):
            continue
        try:
            value = r.value if r.unit == unit else float(units.convert(r.value, r.unit, unit))
        except units.NotUnderstood:
            continue
        # Several readings of one trial are one reading: the last; the others were on their way.
        trial = r.sitting or r.id
        last[trial, r.instrument, r.point or r.place, r.measured.date().isoformat()] = (r, value)
    left = len(mine) - len(last)
    if not left:
        return list(last.values()), []
    text = (
        f"{left} of {len(mine)} readings were left out: bounds, doubtful, without a meter, or not yet settled"
    )
    return list(last.values()), [
        question.said("instruments/left-out", question.NOTE, text, "name the meter with each reading")
    ]


def _sittings(readings: Sequence[records.Reading]) -> tuple[str, ...]:
    """Which readings were taken together: no long pause, and not too long in all."""
    out: list[str] = []
    first = before = readings[0].measured
    for r in readings:
        if r.measured - before > question.GAP or r.measured - first > question.SITTING:
            first = r.measured
        before = r.measured
        out.append(first.isoformat(timespec="minutes")[:16].replace("T", " "))
    return tuple(out)


def _zeroings(facts: Iterable[records.Fact]) -> dict[str, list[datetime]]:
    """When each meter was zeroed: an event, a setting, or a check that says so."""
    out: dict[str, list[datetime]] = {}
    for fact in facts:
        about = fact.details
        said = about.get("what") == "zeroed" or about.get("setting") == "zero" or bool(about.get("zeroed"))
        if said and about.get("instrument"):
            out.setdefault(str(about["instrument"]), []).append(fact.measured)
    return {name: sorted(times) for name, times in out.items()}


def _epoch(instrument: str, time: datetime, zeroed: Mapping[str, list[datetime]]) -> str:
    since = [when for when in zeroed.get(instrument, ()) if when < time]
    return f"{instrument} from {since[-1]:%Y-%m-%d %H:%M}" if since else instrument


def _width(given: Any, unit: str) -> float | None:
    from brinehouse import units

    try:
        return float(given) if isinstance(given, (int, float)) else float(given.to(unit))
    except (units.NotUnderstood, ValueError):
        return None


def _plain(epoch: str) -> str:
    """The meter of a span between zeroings."""
    return epoch.split(" from ")[0]


class _Checks:
    """Checks and zeroings as observations of offsets (and, under pressure, of gains), the wider the older."""

    def __init__(
        self, ages: Mapping[str, list[datetime]], stated: Mapping[str, float], quantity: str, unit: str
    ) -> None:
        self.ages, self.stated, self.quantity, self.unit = ages, stated, quantity, unit
        self.anchors: list[statistics_meters.Anchor] = []
        self.told: dict[str, str] = {}
        self.found: list[findings.Finding] = []
        self.fixed: dict[str, float] = {}
        self.pressed: set[str] = set()
        self.latest: dict[str, datetime] = {}

    def read(self, facts: Sequence[records.Fact], zeroed: Mapping[str, list[datetime]]) -> None:
        """Take in every check and zeroing."""
        mine = [f for f in facts if f.kind == "instrument-check" and f.details.get("instrument")]
        mine = [f for f in mine if f.details.get("quantity", self.quantity) == self.quantity]
        self.pressed = {str(f.details["instrument"]) for f in mine if f.details.get("check") == "pressure"}
        for fact in sorted(mine, key=lambda f: (f.details.get("check") != "air", f.measured)):
            self._check(fact, _epoch(str(fact.details["instrument"]), fact.measured, zeroed))
        for name, times in zeroed.items():
            for time in times:
                self._zeroing(name, time)

    def gains(self) -> dict[str, tuple[str, float]]:
        """Meters whose gain a pressure check tells about."""
        known = self.pressed & set(self.fixed)
        return {e: (_plain(e), self.fixed[_plain(e)]) for e in self.ages if _plain(e) in known}

    def _check(self, fact: records.Fact, epoch: str) -> None:
        name, kind = _plain(epoch), str(fact.details.get("check", "plain"))
        pair = _pair(fact, self.unit)
        if pair is None or epoch not in self.ages:
            text = f"the {kind} check of {name} at {fact.measured:%Y-%m-%d %H:%M} tells nothing here"
            hint = "a check needs reads, should_read and unit, and readings since the meter was last zeroed"
            self.found.append(
                question.said("instruments/unused-check", question.NOTE, text, hint, thing=name)
            )
            return
        reads, should = pair
        given = fact.details.get("u")
        own = float(given) if isinstance(given, (int, float)) else self._own(name)
        self._anchor(epoch, reads - should, own, fact.measured, reads - self.fixed.setdefault(name, should))
        self._tell(epoch, f"{kind} check")
        self.latest[epoch] = max(fact.measured, self.latest.get(epoch, fact.measured))

    def old(self) -> list[findings.Finding]:
        """Meters whose last check is further than four weeks from their last reading."""
        out: list[findings.Finding] = []
        for epoch, when in self.latest.items():
            age = abs(self.ages[epoch][-1] - when)
            if age > question.FRESH:
                text = f"the last check of {epoch} was {age.days} days away from its last reading"
                hint = f"check {_plain(epoch)} again"
                out.append(question.said("instruments/old-check", question.ASK, text, hint, thing=epoch))
        return out

    def _zeroing(self, name: str, time: datetime) -> None:
        epoch = f"{name} from {time:%Y-%m-%d %H:%M}"
        if epoch in self.ages:
            self._anchor(epoch, 0.0, self._own(name), time, 0.0)
            self._tell(epoch, "zeroed")

    def _own(self, name: str) -> float:
        return question.CHECKED.get(self.unit, 0.4 * self.stated.get(name, 0.0)) / math.sqrt(3) or 1e-6

    def _middle(self, epoch: str) -> datetime:
        times = self.ages[epoch]
        return times[0] + (times[-1] - times[0]) / 2

    def _anchor(self, epoch: str, value: float, own: float, when: datetime, distance: float) -> None:
        """In four weeks a check's uncertainty grows by the meter's stated accuracy."""
        name = _plain(epoch)
        grows = self.stated.get(name, 2.5 * question.CHECKED.get(self.unit, 0.0)) / math.sqrt(3)
        width = math.hypot(own, grows * math.sqrt(abs(when - self._middle(epoch)) / question.FRESH))
        gain = name if name in self.pressed else ""
        self.anchors.append(
            statistics_meters.Anchor(
                meter=epoch, value=value, u=width, gain=gain, distance=distance if gain else 0.0
            )
        )

    def _tell(self, epoch: str, what: str) -> None:
        self.told[epoch] = f"{self.told[epoch]}, {what}" if epoch in self.told else what


def _pair(fact: records.Fact, unit: str) -> tuple[float, float] | None:
    """What the meter read and what it should have read, in the unit; None where it does not say."""
    from brinehouse import units

    about = fact.details
    try:
        reads, should = float(about["reads"]), float(about["should_read"])
        given = str(about.get("unit") or unit)
        if given == unit:
            return reads, should
        return float(units.convert(reads, given, unit)), float(units.convert(should, given, unit))
    except (KeyError, TypeError, ValueError):
        return None

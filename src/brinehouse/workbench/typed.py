"""One reading typed by hand: understood, unusual (asked once more), or impossible (not stored, and why)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from brinehouse import findings, glossary, records, units
from brinehouse.facility import model
from brinehouse.workbench import clock, hall, mishaps

AHEAD = timedelta(minutes=10)  # a phone's clock may run ahead by so much


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What became of it: a reading ready to store, or why not; `ask` holds what needs one more yes."""

    reading: records.Reading | None
    findings: Sequence[findings.Finding]

    @property
    def ask(self) -> bool:
        """Whether a person must say that it is so before it is kept."""
        return findings.worst(self.findings) is findings.Level.ASK

    @property
    def refused(self) -> bool:
        """Whether it cannot be stored at all."""
        return findings.worst(self.findings) is findings.Level.STOP


def understand(
    facility: model.Facility,
    *,
    place: str,
    quantity: str,
    text: str,
    at: datetime | None = None,
    instrument: str = "",
    depth: str = "",
    note: str = "",
    basis: str = "",
    sure: bool = False,
    reason: str = "",
    person: int | None = None,
) -> Typed:
    """Turn what was typed into a reading, or into findings.

    Parameters
    ----------
    facility : Facility
    place : str
        Id of a tank, sump, vessel, run or test point.
    quantity : str
        Glossary word or alias.
    text : str
        ``"104.5 %"``, ``"<0.02 mg/L"``, ``"not measured: tap closed"``.
    at : datetime, optional
        When it was taken; now where left out.
    sure : bool
        A person saw that it is unusual and keeps it, with `reason`.
    """
    now = clock.now()
    spot = findings.Spot(thing=f"{place} {quantity}")
    here, word = standing(facility, place), glossary.quantity(quantity)
    faults = names(facility, place=place, instrument=instrument, at=at, spot=spot)
    if not text.strip():
        way_out = "write the value with its unit, or 'not measured: why'"
        faults = (*faults, _stop("typed/nothing", "no value was written", way_out, spot))
    if word is None:
        faults = (*faults, _unknown("quantity", quantity, glossary.words(), spot))
    if faults or word is None or not here:
        return Typed(reading=None, findings=faults)
    point = facility.points.get(place)
    try:
        metres = _depth(depth, point)
        missing = units.read_missing(text)
        known = None if missing else word.understand(text, basis=basis)
    except units.NotUnderstood as fault:
        return Typed(reading=None, findings=(_not_understood(fault, spot),))
    doubts = _plausible(known, text, word, point, spot, sure=sure, reason=reason) if known else ()
    reading = records.Reading(
        id=hall.new_id(),
        measured=at or now,
        entered=now,
        place=here,
        point=place if point is not None else "",
        depth=metres,
        quantity=word.word,
        **_value(known, missing, word, unusual=any(one.code == "typed/unusual" for one in doubts)),
        text=text.strip(),
        instrument=instrument,
        person=person,
        note="; ".join(part for part in (note, reason) if part),
    )
    return Typed(reading=reading, findings=doubts)


def _value(
    known: glossary.Understood | None,
    missing: units.Missing | None,
    word: glossary.Quantity,
    *,
    unusual: bool,
) -> dict[str, Any]:
    """The fields of a reading that hold what it says."""
    marked: dict[str, Any] = {"quality": "unusual", "marks": ("typed/unusual",)} if unusual else {}
    if known is None:
        return {"value": None, "unit": word.unit, "missing": missing.why if missing else "", **marked}
    return {
        "value": known.value, "unit": known.unit, "bound": known.bound, "basis": known.basis, **marked
    }  # fmt: skip


def standing(facility: model.Facility, place: str) -> str:
    """Where a reading taken there belongs: its tank, sump or vessel, or the run a tap or a meter sits on."""
    vessel = facility.place(place)
    if vessel is not None:
        return vessel.id
    point = facility.points.get(place)
    at = point.at if point is not None else place
    return at if at in facility.runs else ""


def names(
    facility: model.Facility,
    *,
    place: str,
    instrument: str = "",
    at: datetime | None = None,
    spot: findings.Spot | None = None,
) -> tuple[findings.Finding, ...]:
    """Whether the facility has that place and that meter, and the time has come."""
    spot = spot or findings.Spot()
    found: list[findings.Finding] = []
    if not standing(facility, place):
        known = [*facility.vessels, *facility.points, *facility.runs]
        found.append(_unknown("place", place, known, spot))
    if instrument and instrument not in facility.instruments:
        found.append(_unknown("instrument", instrument, list(facility.instruments), spot))
    day = (at or clock.now()).astimezone(ZoneInfo(facility.timezone)).date().isoformat()
    gone = [name for name in (place, instrument) if not facility.in_use(name, day)]
    found += [_retired(facility, name, spot) for name in gone]
    return (*found, *future(at, spot))


def future(at: datetime | None, spot: findings.Spot | None = None) -> tuple[findings.Finding, ...]:
    """Whether a time is still to come; a phone's clock may run ahead a little."""
    if at is None or at <= clock.now() + AHEAD:
        return ()
    said = f"{at:%Y-%m-%d %H:%M} UTC is still to come"
    return (_stop("typed/future", said, "give the time it was so", spot or findings.Spot()),)


def _not_understood(fault: units.NotUnderstood, spot: findings.Spot) -> findings.Finding:
    return _stop(fault.code, mishaps.why(fault), fault.hint, spot)


def _depth(text: str, point: model.Point | None) -> float | None:
    """Metres below the surface: as typed, else where the point is."""
    if not text.strip():
        return point.depth if point else None
    return units.read_amount(text, "length").to("m")


def _plausible(
    known: glossary.Understood,
    text: str,
    word: glossary.Quantity,
    point: model.Point | None,
    spot: findings.Spot,
    *,
    sure: bool,
    reason: str,
) -> tuple[findings.Finding, ...]:
    """Whether it can be here, and whether it is what is expected: the point's own ranges rule."""
    form = word.form(known.unit)
    mine = point if point is not None and form is word.forms[0] else None
    possible = (mine.possible.low, mine.possible.high) if mine and mine.possible else form.possible
    expected = (mine.expected.low, mine.expected.high) if mine and mine.expected else form.plausible
    unit = "" if form.unit in ("1", "") else f" {form.unit}"
    low, high = possible
    if (known.value < low and known.bound != ">") or (known.value > high and known.bound != "<"):
        span = f"{possible[0]:g} to {possible[1]:g}{unit}"
        said = f"{text.strip()} cannot be: {word.word} lies within {span} here"
        return (_stop("typed/impossible", said, "look at the meter and its unit again", spot),)
    if known.bound or expected[0] <= known.value <= expected[1]:
        return ()
    usual = f"{expected[0]:g} to {expected[1]:g}{unit}"
    said = f"{text.strip()} is unusual for {word.word} here: {usual} is expected"
    if sure:
        said += f"; kept, because {reason}" if reason else "; kept"
    return (
        findings.Finding(
            code="typed/unusual",
            level=findings.Level.NOTE if sure else findings.Level.ASK,
            text=said,
            hint="" if sure else "keep it, with a reason, if it is so",
            spot=spot,
        ),
    )


def _retired(facility: model.Facility, name: str, spot: findings.Spot) -> findings.Finding:
    said = f"'{name}' is retired since {facility.retired(name)}"
    hint = "name what is in use in its place, or give the time it was taken"
    return _stop("typed/retired", said, hint, spot)


_UNKNOWN = {
    "place": "typed/unknown-place",
    "quantity": "typed/unknown-quantity",
    "instrument": "typed/unknown-instrument",
}


def _unknown(what: str, found: str, known: Sequence[str], spot: findings.Spot) -> findings.Finding:
    article = "an" if what == "instrument" else "a"
    whose = "known here" if what == "quantity" else "of this facility"
    said = f"'{found}' is not {article} {what} {whose}" if found else f"the {what} is missing"
    return _stop(_UNKNOWN[what], said, near(found, known), spot)


def near(found: str, known: Sequence[str]) -> str:
    """The way out where a name is not known.

    >>> near("mangroev", ["mangrove", "reef"])
    "did you mean 'mangrove'?"
    """
    close = glossary.nearest(found, list(known))
    if close:
        return f"did you mean {' or '.join(repr(name) for name in close)}?"
    return f"known: {', '.join(known[:12])}" if known else "the facility file names none yet"


def _stop(code: str, text: str, hint: str, spot: findings.Spot) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint, spot=spot)

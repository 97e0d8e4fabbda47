"""One reading typed by hand: understood, unusual (asked once more), or impossible (not stored, and why)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from brinehouse import findings, glossary, records, units
from brinehouse.facility import model
from brinehouse.workbench import clock, hall

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
        Id of a tank, sump, vessel or test point.
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
    found: list[findings.Finding] = []
    here = facility.place(place)
    if here is None:
        found.append(
            _unknown(
                "typed/unknown-place", "place", place, list(facility.vessels) + list(facility.points), spot
            )
        )
    word = glossary.quantity(quantity)
    if word is None:
        found.append(_unknown("typed/unknown-quantity", "quantity", quantity, glossary.words(), spot))
    if instrument and instrument not in facility.instruments:
        found.append(
            _unknown("typed/unknown-instrument", "instrument", instrument, list(facility.instruments), spot)
        )
    measured = at or now
    if measured > now + AHEAD:
        found.append(
            _stop(
                "typed/future",
                f"{measured:%Y-%m-%d %H:%M} UTC is still to come",
                "give the time it was taken",
                spot,
            )
        )
    if found or word is None or here is None:
        return Typed(reading=None, findings=tuple(found))
    point = facility.points.get(place)
    metres, fault = _depth(depth, point)
    if fault is not None:
        return Typed(reading=None, findings=(fault,))
    missing = units.read_missing(text)
    known = None if missing else _understood(text, word, basis, spot)
    if isinstance(known, findings.Finding):
        return Typed(reading=None, findings=(known,))
    if known is not None:
        found += _plausible(known, text, word, point, spot, sure=sure, reason=reason)
    unusual = any(finding.code == "typed/unusual" for finding in found)
    reading = records.Reading(
        id=hall.new_id(),
        measured=measured,
        entered=now,
        place=here.id,
        point=place if point is not None else "",
        depth=metres,
        quantity=word.word,
        value=known.value if known else None,
        unit=known.unit if known else word.unit,
        text=text.strip(),
        bound=known.bound if known else "",  # pyright: ignore[reportArgumentType] - one of its three
        missing=missing.why if missing else "",
        basis=known.basis if known else "",
        instrument=instrument,
        person=person,
        quality="unusual" if unusual else "good",
        marks=("typed/unusual",) if unusual else (),
        note="; ".join(part for part in (note, reason) if part),
    )
    return Typed(reading=reading, findings=tuple(found))


def _understood(
    text: str, word: glossary.Quantity, basis: str, spot: findings.Spot
) -> glossary.Understood | findings.Finding:
    try:
        return word.understand(text, basis=basis)
    except units.NotUnderstood as fault:
        return findings.Finding(
            code=fault.code, level=findings.Level.STOP, text=str(fault), hint=fault.hint, spot=spot
        )


def _depth(text: str, point: model.Point | None) -> tuple[float | None, findings.Finding | None]:
    if not text.strip():
        return (point.depth if point else None), None
    try:
        return units.read_amount(text, "length").to("m"), None
    except units.NotUnderstood as fault:
        spot = findings.Spot(thing="depth")
        return None, findings.Finding(
            code=fault.code, level=findings.Level.STOP, text=fault.why, hint=fault.hint, spot=spot
        )


def _plausible(
    known: glossary.Understood,
    text: str,
    word: glossary.Quantity,
    point: model.Point | None,
    spot: findings.Spot,
    *,
    sure: bool,
    reason: str,
) -> list[findings.Finding]:
    """Whether it can be here, and whether it is what is expected: the point's own ranges rule."""
    form = word.form(known.unit)
    mine = point if point is not None and form is word.forms[0] else None
    possible = (mine.possible.low, mine.possible.high) if mine and mine.possible else form.possible
    expected = (mine.expected.low, mine.expected.high) if mine and mine.expected else form.plausible
    unit = "" if form.unit in ("1", "") else f" {form.unit}"
    if not known.bound and not possible[0] <= known.value <= possible[1]:
        span = f"{possible[0]:g} to {possible[1]:g}{unit}"
        return [
            _stop(
                "typed/impossible",
                f"{text.strip()} cannot be: {word.word} lies within {span} here",
                "look at the meter and its unit again",
                spot,
            )
        ]
    if not known.bound and not expected[0] <= known.value <= expected[1]:
        usual = f"{expected[0]:g} to {expected[1]:g}{unit}"
        kept = f"kept, because {reason}" if reason else "kept"
        return [
            findings.Finding(
                code="typed/unusual",
                level=findings.Level.NOTE if sure else findings.Level.ASK,
                text=f"{text.strip()} is unusual for {word.word} here: {usual} is expected",
                hint=kept if sure else "keep it, with a reason, if it is so",
                spot=spot,
            )
        ]
    return []


def _unknown(code: str, what: str, found: str, known: Sequence[str], spot: findings.Spot) -> findings.Finding:
    near = glossary.nearest(found, list(known))
    hint = (
        f"did you mean {' or '.join(repr(name) for name in near)}?"
        if near
        else f"known: {', '.join(known[:12])}"
    )
    return _stop(
        code, f"'{found}' is not a {what} of this facility" if found else f"the {what} is missing", hint, spot
    )


def _stop(code: str, text: str, hint: str, spot: findings.Spot) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint, spot=spot)

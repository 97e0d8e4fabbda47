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
    amount = _amount(text, word, spot)
    if isinstance(amount, findings.Finding):
        return Typed(reading=None, findings=(amount,))
    missing = isinstance(amount, units.Missing)
    if not missing:
        found += _plausible(amount, word, point, spot, sure=sure, reason=reason)
        if word.needs_basis and not (basis or units.unit(amount.unit).basis):
            found.append(
                findings.Finding(
                    code="typed/basis",
                    level=findings.Level.STOP,
                    text=f"{word.word}: is {amount.text} given as N or as the ion?",
                    hint="add 'as N' or 'as ion' (for nitrate they differ by a factor of 4.43)",
                    spot=spot,
                )
            )
    unusual = any(finding.code == "typed/unusual" for finding in found)
    reading = records.Reading(
        id=hall.new_id(),
        measured=measured,
        entered=now,
        place=here.id,
        point=place if point is not None else "",
        depth=metres,
        quantity=word.word,
        value=None if missing else amount.value,
        unit=word.unit if missing else amount.unit,
        text=text.strip(),
        bound="" if missing else amount.bound,
        missing=amount.why if missing else "",
        basis=basis,
        instrument=instrument,
        person=person,
        quality="unusual" if unusual else "good",
        marks=("typed/unusual",) if unusual else (),
        note="; ".join(part for part in (note, reason) if part),
    )
    return Typed(reading=reading, findings=tuple(found))


def _amount(
    text: str, word: glossary.Quantity, spot: findings.Spot
) -> units.Amount | units.Missing | findings.Finding:
    try:
        missing = units.read_missing(text)
        if missing is not None:
            return missing
        if word.unit == "1":
            number = units.read_number(text)
            return units.Amount(
                value=number.value,
                unit="1",
                kind="ratio",
                text=number.text,
                bound=number.bound,
                decimals=number.decimals,
            )
        amount = units.read_amount(text)
    except units.NotUnderstood as fault:
        return findings.Finding(
            code=fault.code, level=findings.Level.STOP, text=fault.why, hint=fault.hint, spot=spot
        )
    if amount.kind not in word.kinds:
        return _stop(
            "typed/wrong-kind",
            f"{word.word} is not measured in {amount.unit}",
            f"give it in {word.unit}",
            spot,
        )
    return amount


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
    amount: units.Amount,
    word: glossary.Quantity,
    point: model.Point | None,
    spot: findings.Spot,
    *,
    sure: bool,
    reason: str,
) -> list[findings.Finding]:
    try:
        value = (
            amount.value
            if amount.unit == word.unit
            else float(units.convert(amount.value, amount.unit, word.unit))
        )
    except units.NotUnderstood:
        return []  # TGP as a pressure: judged once the barometer is known
    possible = (point.possible.low, point.possible.high) if point and point.possible else word.possible
    expected = (point.expected.low, point.expected.high) if point and point.expected else word.plausible
    if possible and not possible[0] <= value <= possible[1]:
        limits = f"{possible[0]:g} to {possible[1]:g} {word.unit}"
        return [
            _stop(
                "typed/impossible",
                f"{amount.text} cannot be: {word.word} lies within {limits}",
                "look at the meter and its unit again",
                spot,
            )
        ]
    if expected and not expected[0] <= value <= expected[1]:
        usual = f"{expected[0]:g} to {expected[1]:g} {word.unit}"
        return [
            findings.Finding(
                code="typed/unusual",
                level=findings.Level.NOTE if sure else findings.Level.ASK,
                text=f"{amount.text} is unusual for {word.word} here: {usual} is expected",
                hint="kept" + (f", because {reason}" if reason else "")
                if sure
                else "keep it, with a reason, if it is so",
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

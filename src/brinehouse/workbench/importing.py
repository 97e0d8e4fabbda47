"""Files of readings into the logbook: looked at first, stored in one transaction, taken back whole."""

from __future__ import annotations

import contextlib
import dataclasses
import gc
from collections.abc import Generator, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from brinehouse import findings, records
from brinehouse.logbook import kept
from brinehouse.logbook.intake import answering, decoding, plan, subjects
from brinehouse.workbench import clock, hall, mishaps

Examined = plan.Examined
_NEW = "person:"
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_TICK = timedelta(microseconds=1)
_SLICE = 50_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """What became of a file that was stored.

    Attributes
    ----------
    import_id : str
    new, same, conflicts, known : int
        Readings added; those this file had given before; those whose id holds something else (kept aside);
        those that another file or a person had written before, which were left out.
    findings : tuple of Finding
    """

    import_id: str
    new: int = 0
    same: int = 0
    conflicts: int = 0
    known: int = 0
    findings: tuple[findings.Finding, ...] = ()


def examine_file(place: hall.Hall, file: Path, answers: Mapping[str, str] | None = None) -> Examined:
    """Look at a file on disk and store nothing; refused where it is not there."""
    if not file.is_file():
        raise mishaps.Refused(
            _stop(
                "columns/no-file", f"there is no file {file.name}", "check the name and the folder", file.name
            )
        )
    if file.stat().st_size > decoding.LARGEST:
        text = f"{file.name} is larger than is read at once"
        raise mishaps.Refused(_stop("intake/too-large", text, "send it in parts", file.name))
    return examine_upload(place, file.name, file.read_bytes(), answers)


def examine_upload(
    place: hall.Hall, name: str, data: bytes, answers: Mapping[str, str] | None = None
) -> Examined:
    """Look at a file and store nothing.

    Parameters
    ----------
    place : Hall
    name : str
        As the sender calls it.
    data : bytes
    answers : mapping, optional
        Question to answer, as `Examined.questions` asks them; ``map:COLUMN`` says what a column is,
        ``at``, ``by``, ``with`` and ``method`` hold for the whole file.

    Returns
    -------
    Examined
        With a finding where the file was taken in before.
    """
    seen = plan.examine(
        data,
        name,
        facility=place.facility,
        people=_people(place),
        now=clock.now(),
        answers=answers,
        saved=place.book.remembered if place.has_book(place.folder) else None,
    )
    before = _before(place, seen)
    if before is None:
        return seen
    return dataclasses.replace(
        seen,
        findings=(_told_before(before, seen), *seen.findings),
        verdict="reject-file" if before.withdrawn and before.id == seen.import_id else seen.verdict,
    )


def store(place: hall.Hall, seen: Examined, *, by: str = "", keep_good: bool = False) -> Stored:
    """Store the good rows of a file that was looked at: all of them or none, with the file as it came.

    Parameters
    ----------
    place : Hall
    seen : Examined
        From `examine_upload`.
    by : str
        Who sends it.
    keep_good : bool
        A person saw the list of refused rows and stores the others.

    Raises
    ------
    mishaps.Refused
        Where the verdict does not let it be stored.
    """
    if not seen.count or not (seen.may_store or (keep_good and seen.verdict == "reject-rows")):
        raise mishaps.Refused(*seen.findings)
    seen = _with_new_people(place, seen)
    person = place.person(by) if by.strip() and not is_automatic(by) else None
    now = clock.now()
    counted = _Counted()
    there = _before(place, seen)
    readings = _without_known(place, seen, counted, again=there is not None)
    with _without_collecting():
        outcomes = place.take_import(seen.import_id, seen.name, seen.content, readings, at=now, person=person)
    remembered = place.book.remembered(seen.source)
    for key, answer in sorted(answering.lasting(seen.answers, subjects.AUTOMATIC).items()):
        if remembered.get(key) != answer:
            place.remember(seen.source, key, answer, at=now, person=person)
    return Stored(
        import_id=seen.import_id,
        new=outcomes.counts["new"],
        same=outcomes.counts["same"] + counted.same,
        conflicts=outcomes.counts["conflict"],
        known=counted.known,
    )


@contextlib.contextmanager
def _without_collecting() -> Generator[None]:
    """Rows come and go by the thousand and hold no rings: looking for rings among them costs a tenth."""
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


def is_automatic(name: str) -> bool:
    """Whether a name stands for a logger and not for a person."""
    return name.strip() in subjects.AUTOMATIC


def imports(place: hall.Hall) -> list[kept.ImportFile]:
    """Every file taken in, oldest first."""
    return place.book.imports() if place.has_book(place.folder) else []


def take_back(place: hall.Hall, name: str, reason: str, *, by: str = "") -> str:
    """Take back every row of an import, found by the beginning of its id; gives the whole id."""
    found = _find(place, name)
    if found.withdrawn:
        text = f"{found.name} was taken back already"
        raise mishaps.Refused(
            _stop("intake/taken-back", text, f"bring it back with --bring-back {found.id[:8]}")
        )
    person = place.person(by) if by.strip() else None
    place.withdraw(found.id, reason=reason, entered=clock.now(), person=person)
    return found.id


def bring_back(place: hall.Hall, name: str, reason: str, *, by: str = "") -> str:
    """Undo `take_back`; gives the whole id."""
    found = _find(place, name)
    taken = [fact for fact in place.book.facts(["withdrawal"]) if fact.details.get("target") == found.id]
    if not found.withdrawn or not taken:
        raise mishaps.Refused(
            _stop("intake/no-import", f"{found.name} was not taken back", "nothing is to be done")
        )
    person = place.person(by) if by.strip() else None
    place.withdraw(taken[-1].id, reason=reason, entered=clock.now(), person=person)
    return found.id


def _find(place: hall.Hall, name: str) -> kept.ImportFile:
    found = [one for one in imports(place) if one.id.startswith(name) and name]
    if len(found) != 1:
        text = (
            f"there is no import {name[:40]!r}"
            if not found
            else f"{len(found)} imports begin with {name[:40]!r}"
        )
        raise mishaps.Refused(_stop("intake/no-import", text, "'brinehouse imports' lists them"))
    return found[0]


def _people(place: hall.Hall) -> dict[str, int]:
    if not place.has_book(place.folder):
        return {}
    return {person.name: person.number for person in place.book.people() if not person.blanked}


def _before(place: hall.Hall, seen: Examined) -> kept.ImportFile | None:
    """The import of the same file: read with the same answers, or else the newest."""
    found = [one for one in imports(place) if one.sha256 == seen.sha256]
    return next((one for one in found if one.id == seen.import_id), found[-1] if found else None)


def _told_before(before: kept.ImportFile, seen: Examined) -> findings.Finding:
    day = f"{before.at:%Y-%m-%d %H:%M} UTC"
    if before.withdrawn and before.id == seen.import_id:
        text = f"the same file was taken in on {day} and taken back; nothing was added"
        hint = f"bring it back with 'brinehouse imports --bring-back {before.id[:8]}'"
        return _stop("intake/taken-back", text, hint, seen.name)
    then = "and taken back" if before.withdrawn else f"with {before.rows} readings; nothing is added twice"
    return findings.Finding(
        code="intake/same-file",
        level=findings.Level.NOTE,
        text=f"the same file was taken in on {day} {then}",
        spot=findings.Spot(file=seen.name),
        data={"import": before.id},
    )


def _with_new_people(place: hall.Hall, seen: Examined) -> Examined:
    """Add the people a person said are new, and look at the file once more with their numbers."""
    known = _people(place)
    new = [key[len(_NEW) :] for key, text in seen.answers.items() if key.startswith(_NEW) and text == "new"]
    missing = [name for name in new if name not in known]
    for name in missing:
        place.person(name)
    return examine_upload(place, seen.name, seen.content, seen.answers) if missing else seen


@dataclass(slots=True)
class _Counted:
    same: int = 0
    known: int = 0


def _without_known(
    place: hall.Hall, seen: Examined, counted: _Counted, *, again: bool
) -> Iterator[records.Reading]:
    """The readings that the logbook has not got: neither from this file nor, alike, from anywhere else."""
    known = _alike(place, seen)
    for reading in seen.readings(clock.now()):
        if not known or _key(reading) not in known:
            yield reading
        elif again:
            counted.same += 1
        else:
            counted.known += 1


def _key(reading: records.Reading) -> int:
    ticks = (reading.measured - _EPOCH) // _TICK
    return hash(
        (
            ticks,
            reading.value,
            reading.place,
            reading.point,
            reading.quantity,
            reading.instrument,
            reading.unit,
        )
    )


def _alike(place: hall.Hall, seen: Examined) -> set[int]:
    """What stands in the logbook for the same stretch of time, each reading as one number."""
    found: set[int] = set()
    if seen.span is None:
        return found
    words = {what for what, _, _, _ in seen.understood}
    columns: Any = place.book.columns(
        since=seen.span[0], until=seen.span[1] + plan.JUST_AFTER, quantities=words
    )
    names = ("place", "point", "quantity", "instrument", "unit")
    texts = [columns[f"{name}_names"].tolist() for name in names]
    wanted = ("time", "value", *names)
    for start in range(0, len(columns["time"]), _SLICE):
        part = [columns[name][start : start + _SLICE].tolist() for name in wanted]
        for ticks, value, *codes in zip(*part, strict=True):
            value = None if value != value else value
            found.add(hash((ticks, value, *(names[code] for names, code in zip(texts, codes, strict=True)))))
    return found


def preview(seen: Examined, count: int = 5) -> list[records.Reading]:
    """The first readings as they would be stored."""
    found: list[records.Reading] = []
    for reading in seen.readings(clock.now()):
        found.append(reading)
        if len(found) >= count:
            break
    return found


def as_json(seen: Examined, stored: Stored | None = None) -> dict[str, Any]:
    """Plain data about a file that was looked at, and what became of it."""
    return {
        "file": seen.name,
        "sha256": seen.sha256,
        "verdict": seen.verdict,
        "rows": seen.rows,
        "rows_ok": seen.rows_ok,
        "readings": seen.count,
        "stored": None if stored is None else {
            "import": stored.import_id, "new": stored.new, "same": stored.same,
            "known": stored.known, "conflicts": stored.conflicts,
        },
        "questions": [
            {"key": one.key, "text": one.text, "choices": list(one.choices), "rows": one.count}
            for one in seen.questions
        ],
        "understood": [
            {"quantity": what, "unit": typed, "kept": kept_as, "rows": count}
            for what, typed, kept_as, count in seen.understood
        ],
        "counts": dict(seen.counts),
        "findings": [finding.as_json() for finding in seen.findings],
    }  # fmt: skip


def _stop(code: str, text: str, hint: str, file: str = "") -> findings.Finding:
    return findings.Finding(
        code=code, level=findings.Level.STOP, text=text, hint=hint, spot=findings.Spot(file=file)
    )

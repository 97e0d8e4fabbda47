"""What a keeper should know of the machine and the folder a hall lives on, in plain words."""

from __future__ import annotations

import platform
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

from brinehouse import findings
from brinehouse.facility import reading
from brinehouse.workbench import (
    attachments,
    clock,
    copying,
    door_log,
    hall,
    keeping,
    mishaps,
    settings,
    tls,
)

AHEAD = timedelta(minutes=10)
ENDS_SOON = timedelta(days=30)
EARLIEST = 2026
FINE, NEEDS_A_PERSON, REFUSED = 0, 1, 2

_OTHER = {findings.Level.NOTE: FINE, findings.Level.STOP: REFUSED}


def look(folder: Path, *, whole: bool = True) -> list[findings.Finding]:
    """Everything about a hall's folder, heaviest first.

    Parameters
    ----------
    folder : Path
    whole : bool
        Also read every photo and the whole store; without it only what is known at once.
    """
    found = [finding("doctor/python", findings.Level.NOTE, f"Python {platform.python_version()}")]
    found += _store(folder, whole=whole)
    if (folder / hall.FACILITY_FILE).is_file():
        found += _facility(folder)
        try:
            with hall.open_hall(folder) as place:
                found += _of_hall(place, whole=whole)
                found += door_log.odd(
                    place
                )  # on the pages it stands at /people, for whoever looks after them
        except Exception as fault:  # noqa: BLE001 - each thing that cannot be looked at is one finding
            found += mishaps.told(fault)
    order = list(findings.Level)
    return sorted(_once(found), key=lambda one: -order.index(one.level))


def of_open(place: hall.Hall) -> list[findings.Finding]:
    """What is known at once of a hall that is served: for a page, so nothing is read through."""
    found = [*_store(place.folder, whole=False), *_facility(place.folder), *_of_hall(place, whole=False)]
    order = list(findings.Level)
    return sorted(_once(found), key=lambda one: -order.index(one.level))


def _once(found: list[findings.Finding]) -> Iterator[findings.Finding]:
    seen: set[tuple[str, str]] = set()
    for one in found:
        if (one.code, one.text) not in seen:
            seen.add((one.code, one.text))
            yield one


def status(found: list[findings.Finding]) -> int:
    """The exit status: 0 fine, 1 something needs a person, 2 something stops the hall."""
    return max((_OTHER.get(one.level, NEEDS_A_PERSON) for one in found), default=FINE)


def finding(code: str, level: findings.Level, text: str, hint: str = "") -> findings.Finding:
    """One thing that was seen."""
    return findings.Finding(code=code, level=level, text=text, hint=hint)


def _store(folder: Path, *, whole: bool) -> list[findings.Finding]:
    from brinehouse.logbook import health

    address = settings.database()
    if address:
        return health.server(address)
    return health.doctor(folder, whole=whole)


def _facility(folder: Path) -> list[findings.Finding]:
    checked = reading.read((folder / hall.FACILITY_FILE).read_bytes(), name=hall.FACILITY_FILE)
    stops = [one for one in checked.findings if one.level is findings.Level.STOP]
    if not stops:
        return [finding("doctor/facility", findings.Level.NOTE, "The facility file passes check")]
    return [
        finding(
            "doctor/facility-faults",
            findings.Level.STOP,
            f"The facility file has {len(stops)} fault{'s' if len(stops) > 1 else ''}",
            "see them with 'brinehouse check'",
        )
    ]


def _of_hall(place: hall.Hall, *, whole: bool) -> list[findings.Finding]:
    found = [*_clock(place), *_copies(place), *_certificates(place.folder)]
    if whole and hall.Hall.has_book(place.folder):
        found += place.book.verify()
        lost = attachments.look_over(place)
        count = len(place.book.files_kept())
        found += lost or [
            finding("doctor/files", findings.Level.NOTE, f"{count} photos and papers, all whole")
        ]
    return found


def _clock(place: hall.Hall) -> list[findings.Finding]:
    now = clock.now()
    if now.year < EARLIEST:
        return [
            finding(
                "doctor/clock-early",
                findings.Level.ACT,
                f"This machine's clock says {now:%Y-%m-%d}: it has lost its time",
                "set it before anything is written down",
            )
        ]
    newest = place.book.last_entered() if hall.Hall.has_book(place.folder) else None
    if newest is not None and newest > now + AHEAD:
        return [
            finding(
                "doctor/clock-behind",
                findings.Level.ACT,
                f"The newest entry was written at {newest:%Y-%m-%d %H:%M} UTC, and this clock says "
                f"{now:%Y-%m-%d %H:%M}: one of them was wrong",
                "set the clock; what was written under a wrong one can be corrected with a reason",
            )
        ]
    return [finding("doctor/clock", findings.Level.NOTE, f"The clock says {now:%Y-%m-%d %H:%M} UTC")]


def _copies(place: hall.Hall) -> list[findings.Finding]:
    stands = keeping.standing(place)
    if stands.asked is None:
        return [
            finding(
                "copy/none-asked",
                findings.Level.WATCH,
                "The facility file asks for no copies: with this disk the logbook would be lost",
                'write [backup] with to = "..." on another disk',
            )
        ]
    told = [
        finding(one.code, one.level, one.what, one.next)
        for one in keeping.concerns_of(place)
        if one.code.startswith("copy/")
    ]
    to = copying.place_for(place.folder, stands.asked)
    if to.is_dir() and to.stat().st_dev == place.folder.stat().st_dev:
        told.append(
            finding(
                "copy/same-disk",
                findings.Level.WATCH,
                "The copies lie on the same disk as the hall, and are lost with it",
                "let [backup] to name a folder on another disk or machine",
            )
        )
    if stands.made is not None:
        told.append(
            finding(
                "copy/newest",
                findings.Level.NOTE,
                f"The last copy was made and tried at {stands.made.measured:%Y-%m-%d %H:%M} UTC: "
                f"{stands.made.details.get('where', '')}",
            )
        )
    return told


def _certificates(folder: Path) -> list[findings.Finding]:
    try:
        found = tls.state(folder)
    except (mishaps.Refused, OSError, ValueError) as fault:
        return list(mishaps.told(fault))
    if found is None:
        return [finding("doctor/no-tls", findings.Level.NOTE, "The pages have no certificate of their own")]
    left = found.until - clock.now()
    if left < ENDS_SOON:
        return [
            finding(
                "doctor/tls-ends",
                findings.Level.ACT if left < timedelta(0) else findings.Level.WATCH,
                f"The hall's certificate authority ends on {found.until:%Y-%m-%d}",
                "make a new one, and trust it on each phone",
            )
        ]
    return [
        finding(
            "doctor/tls",
            findings.Level.NOTE,
            f"The hall's certificate authority holds until {found.until:%Y-%m-%d}",
        )
    ]

"""A hall from nothing: five answers make a folder with a facility file that passes check."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from brinehouse import findings
from brinehouse.facility import reading
from brinehouse.facility import starting as first_file
from brinehouse.facility import words as word_table
from brinehouse.workbench import hall


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What `begin` did: the file, whether it was written, and what stood in the way."""

    file: Path
    written: bool
    findings: Sequence[findings.Finding]


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """What `check` found, and what is in the file."""

    file: Path
    findings: Sequence[findings.Finding]
    accepted: bool
    counts: Mapping[str, int]

    @property
    def status(self) -> int:
        """0 accepted, 1 a person must answer something, 2 refused."""
        if not self.accepted:
            return 2
        return 1 if findings.worst(self.findings) is findings.Level.ASK else 0

    @property
    def sentence(self) -> str:
        """One line: what is there, or that nothing was taken."""
        if not self.accepted:
            stops = sum(found.level is findings.Level.STOP for found in self.findings)
            return f"{self.file}: refused, {stops} thing{'s' * (stops != 1)} to put right"
        parts = [
            f"{count} {word if count != 1 else word.rstrip('s')}"
            for word, count in self.counts.items()
            if count
        ]
        remarks = "" if self.findings else ": no remarks"
        return f"{self.file}: {', '.join(parts)}{remarks}"


def likely_zone() -> str:
    """The time zone of the machine, as a first guess to be confirmed by a person."""
    link = Path("/etc/localtime")
    name = str(link.resolve())
    if link.is_symlink() and "zoneinfo/" in name:
        return name.split("zoneinfo/", 1)[1]
    return os.environ.get("TZ", "") or "Etc/UTC"


def begin(
    folder: Path, *, name: str, altitude: str, zone: str, tanks: Sequence[str], meters: Sequence[str]
) -> Made:
    """Write a commented facility file from five answers, unless there is one already.

    The text is checked before it is written: what does not pass is not written, and every fault is named
    by the answer it came from.
    """
    file = folder / hall.FACILITY_FILE
    if file.exists():
        there = findings.Finding(
            code="workbench/already-there",
            level=findings.Level.STOP,
            text=f"{file} is there already",
            hint="name a new folder, or edit the file and run 'brinehouse check'",
        )
        return Made(file=file, written=False, findings=(there,))
    text, found = first_file.write(name=name, altitude=altitude, zone=zone, tanks=tanks, meters=meters)
    if text is None:
        return Made(file=file, written=False, findings=found)
    folder.mkdir(parents=True, exist_ok=True)
    with file.open("x", encoding="utf-8", newline="\n") as page:
        page.write(text)
        page.flush()
        os.fsync(page.fileno())
    return Made(file=file, written=True, findings=found)


def check(folder: Path) -> Check:
    """Read and check a folder's facility file, or a file named outright."""
    file = folder if folder.is_file() else folder / hall.FACILITY_FILE
    if not file.exists():
        missing = findings.Finding(
            code="workbench/no-facility",
            level=findings.Level.STOP,
            text=f"There is no {hall.FACILITY_FILE} in {folder}",
            hint=f"write 'brinehouse init {folder}' to make one from five questions",
        )
        return Check(file=file, findings=(missing,), accepted=False, counts={})
    checked = reading.read(file.read_bytes(), name=file.name)
    facility = checked.facility
    counts: dict[str, int] = {}
    if facility is not None:
        counts = {
            "systems": len(facility.systems),
            "tanks": len(facility.tanks),
            "pumps": len(facility.pumps),
            "runs": len(facility.runs),
            "points": len(facility.points),
            "instruments": len(facility.instruments),
            "limits": len(facility.limits),
        }
    return Check(file=file, findings=checked.findings, accepted=facility is not None, counts=counts)


def words() -> Mapping[str, Sequence[Mapping[str, Any]]]:
    """Every word a facility file knows, by table: word, kind, required, meaning, example."""
    return {
        table: [
            {
                "word": word.name,
                "kind": word.kind,
                "required": word.required,
                "meaning": word.meaning,
                "example": word.example,
            }
            for word in rows.values()
        ]
        for table, rows in word_table.tables().items()
    }

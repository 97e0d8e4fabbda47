"""Everything of a hall out, for whoever leaves or wants to read it without this program, and back in.

What goes out: every entry as CSV that any spreadsheet opens, the logbook as SQLite, each facility file that
ever held, every file that was taken in, photos and papers, and a page that explains each column. Who may
come in, with passwords and phones, stays behind.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
import secrets
import shutil
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from brinehouse import _version, findings, records
from brinehouse.logbook import kept
from brinehouse.workbench import (
    attachments,
    bringing_back,
    clock,
    copying,
    hall,
    mishaps,
    packing_list,
    settings,
    unpacking,
)

READINGS = {
    "entry": "number of the entry in the chain",
    "id": "the reading's own id, made where it was typed",
    "measured": "when it was so, UTC",
    "entered": "when it was written down, UTC",
    "place": "tank, sump, vessel or run, by its id in facility.toml",
    "point": "test point, where one was named",
    "depth_m": "depth below the surface, m",
    "quantity": "what was measured, in the glossary's word",
    "value": "the number, in the unit beside it; empty where it was not measured",
    "unit": "unit of the value",
    "text": "as it was typed, unit and all",
    "bound": "'<' or '>' where the value is only a bound",
    "missing": "why it was not measured",
    "basis": "what an amount is counted as, or what a pressure is against",
    "instrument": "the meter, by its id",
    "method": "how it was measured",
    "sitting": "the sitting or trial it belongs to",
    "person": "who took it, by number in people.csv",
    "quality": "good, unusual (kept by a person), doubtful or fault",
    "marks": "codes of what was remarked when it was written down",
    "source": "hand, sensor or import",
    "note": "a remark",
    "supersedes": "the id of the reading it replaces",
    "reason": "why it replaces that",
    "origin": "import and line, for a row that came from a file",
    "stands": "yes where it is what the logbook says today; no where it was replaced or taken back",
}
FACTS = {
    "entry": "number of the entry in the chain",
    "id": "the fact's own id",
    "kind": "what kind of thing happened",
    "measured": "when it was so, UTC",
    "entered": "when it was written down, UTC",
    "place": "where, or empty for the whole hall",
    "person": "who, by number in people.csv",
    "details": "what belongs to its kind, as JSON",
    "note": "a remark",
    "supersedes": "the id of the fact it replaces",
    "reason": "why it replaces or takes back something",
    "origin": "import and line, for a row that came from a file",
    "stands": "yes where it is what the logbook says today",
}
PEOPLE = {
    "person": "the number that stands in the other tables",
    "name": "the name; empty where it was taken out",
    "blanked": "yes where the name was taken out",
}
FILES = {
    "sha256": "hash of the content, and the file's name under files/",
    "name": "the name it was kept under",
    "type": "what it is",
    "size": "bytes",
    "about": "id of the entry it belongs to",
    "measured": "when it was taken, UTC",
}
IMPORTS = {
    "id": "the part before ':' in origin",
    "name": "its name as it came",
    "sha256": "hash of its content",
    "size": "bytes",
    "rows": "rows it gave",
    "person": "who sent it, by number",
    "at": "when, UTC",
    "withdrawn": "yes where all of it was taken back",
    "kept_as": "where its content lies",
}
TEXTS = {
    "since": "from when it held, UTC",
    "at": "when it was written down, UTC",
    "person": "who, by number",
    "sha256": "hash of the text",
    "kept_as": "where the text lies",
}
ASIDES = {
    "entry": "number of the entry in the chain",
    "id": "the id under which something else is kept",
    "offered": "what was offered later under that id, as JSON",
}
TABLES: dict[str, tuple[str, dict[str, str]]] = {
    "readings.csv": ("Every reading, in the order in which they were written down.", READINGS),
    "facts.csv": ("Everything else that was written down.", FACTS),
    "people.csv": ("The numbers of people.", PEOPLE),
    "files.csv": ("Photos and papers; the files themselves lie under files/.", FILES),
    "imports.csv": ("Files whose rows were taken in; they lie under imports/ as they came.", IMPORTS),
    "facility.csv": ("Every facility file that ever held; the texts lie under facility/.", TEXTS),
    "set-aside.csv": ("What was offered under an id that holds something else.", ASIDES),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Out:
    """What went out: where to, its list, how many rows of each table, and what was damaged."""

    path: Path
    list: packing_list.List
    rows: dict[str, int]
    findings: Sequence[findings.Finding] = ()


def cell(value: object) -> str:
    """A cell of CSV; what a spreadsheet would take for a formula is text.

    >>> cell("=1+2"), cell(-2.5), cell(float("nan")), cell(None), cell(True)
    ("'=1+2", '-2.5', '', '', 'yes')
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else ""
    if isinstance(value, int):
        return str(value)
    text = "" if value is None else str(value)
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r", "'")) else text


def move_out(place: hall.Hall, to: Path) -> Out:
    """Write everything of a hall into a folder of its own.

    Raises
    ------
    mishaps.Refused
        Where the folder holds something, or what was written does not hold what the logbook holds.
    """
    if to.exists() and (not to.is_dir() or any(to.iterdir())):
        raise unpacking.refuse(
            "copy/folder-used", f"{to} holds something already", "name a folder that is not there yet"
        )
    to.parent.mkdir(parents=True, exist_ok=True)
    work = to.with_name(f"{copying.UNFINISHED}{to.resolve().name}-{secrets.token_hex(4)}")
    try:
        work.mkdir()
        told, rows, lost = _fill(place, work)
        packing_list.write(work, told)
        packing_list.refuse_all(copying.tried(work, told))
        if to.exists():
            to.rmdir()
        work.rename(to)
    finally:
        shutil.rmtree(work, ignore_errors=True)
    return Out(path=to, list=told, rows=rows, findings=lost)


def move_in(out: Path, folder: Path) -> bringing_back.Back:
    """Bring what went out into an empty folder, or the empty database that is set: the same head."""
    return bringing_back.bring_back(out, folder, kind="export")


def _fill(place: hall.Hall, work: Path) -> tuple[packing_list.List, dict[str, int], list[findings.Finding]]:
    from brinehouse.logbook import copies, store

    head = place.book.copy(work / copying.LOGBOOK, without=copies.AT_DOOR)
    for name in copying.PLAIN:
        if (place.folder / name).is_file():
            shutil.copyfile(place.folder / name, work / name)
    with store.open_logbook(work) as book:  # of the moment of the copy, whatever is written meanwhile
        rows = _tables(book, work)
        lost = _photos(place.folder, work, book.files_kept())
        begins = book.begins()
    for left in work.glob("logbook.*"):
        if left.name != copying.LOGBOOK:
            left.unlink()
    (work / "README.md").write_text(explained(place.facility.name, head, rows), "utf-8")
    told = packing_list.List(
        kind="export",
        hall=place.facility.name,
        made=clock.now(),
        version=_version.__version__,
        begins=begins,
        head=head,
        kept_in="postgresql" if settings.database() else "file",
        files=packing_list.listed(work),
    )
    return told, rows, lost


def _tables(book: Any, work: Path) -> dict[str, int]:
    made = {
        "readings.csv": _readings(book),
        "facts.csv": _facts(book),
        "people.csv": ((one.number, one.name, one.blanked) for one in book.people()),
        "files.csv": _files(book),
        "imports.csv": _imports(book, work),
        "facility.csv": _texts(book, work),
        "set-aside.csv": (
            (one.seq, one.id, json.dumps(one.offered, ensure_ascii=False)) for one in book.asides()
        ),
    }
    return {name: _write(work / name, TABLES[name][1], rows) for name, rows in made.items()}


def _write(path: Path, columns: Iterable[str], rows: Iterable[Sequence[object]]) -> int:
    count = 0
    with path.open("w", encoding="utf-8", newline="") as page:
        out = csv.writer(page, lineterminator="\n")
        out.writerow(columns)
        for row in rows:
            out.writerow([cell(one) for one in row])
            count += 1
    return count


def _readings(book: Any) -> Iterator[Sequence[object]]:
    for seq, one, stands in book.everything():
        if isinstance(one, records.Reading):
            yield (
                seq, one.id, one.measured.isoformat(), one.entered.isoformat(), one.place, one.point,
                one.depth, one.quantity, one.value, one.unit, one.text, one.bound, one.missing, one.basis,
                one.instrument, one.method, one.sitting, one.person, one.quality,
                " ".join(one.marks), one.source, one.note,
                one.supersedes, one.reason, one.origin, stands,
            )  # fmt: skip


def _facts(book: Any) -> Iterator[Sequence[object]]:
    for seq, one, stands in book.everything():
        if isinstance(one, records.Fact):
            yield (
                seq, one.id, one.kind, one.measured.isoformat(), one.entered.isoformat(), one.place,
                one.person, json.dumps(dict(one.details), ensure_ascii=False), one.note, one.supersedes,
                one.reason,
                one.origin, stands,
            )  # fmt: skip


def _files(book: Any) -> Iterator[Sequence[object]]:
    for one in book.facts(["file"], superseded=True):
        told = one.details
        columns = [told.get(name, "") for name in ("sha256", "name", "type", "size", "about")]
        yield (*columns, one.measured.isoformat())


def _imports(book: Any, work: Path) -> Iterator[Sequence[object]]:
    for number, one in enumerate(book.imports(), 1):
        kept_as = f"imports/{number:05d}-{_safe(one.name)}"
        (work / "imports").mkdir(exist_ok=True)
        (work / kept_as).write_bytes(book.import_content(one.id))
        yield (
            one.id,
            one.name,
            one.sha256,
            one.size,
            one.rows,
            one.person,
            one.at.isoformat(),
            one.withdrawn,
            kept_as,
        )


def _texts(book: Any, work: Path) -> Iterator[Sequence[object]]:
    texts: list[kept.FacilityText] = book.facility_texts()
    for number, one in enumerate(texts, 1):
        kept_as = f"facility/{number:05d}-{one.since:%Y%m%dT%H%M%SZ}.toml"
        (work / "facility").mkdir(exist_ok=True)
        (work / kept_as).write_text(one.text, "utf-8", newline="")
        yield one.since.isoformat(), one.at.isoformat(), one.person, one.digest, kept_as


def _safe(name: str) -> str:
    return re.sub(r"[^\w.-]+", "-", name.replace("\\", "/").rpartition("/")[2]).strip(".-")[-60:] or "file"


def _photos(folder: Path, work: Path, wanted: dict[str, str]) -> list[findings.Finding]:
    lost: list[findings.Finding] = []
    for sha256, name in wanted.items():
        try:
            content = attachments.read(folder, sha256)
        except mishaps.Refused as refusal:
            lost.append(
                findings.Finding(
                    code="copy/damaged-file",
                    level=findings.Level.ACT,
                    text=f"{name} ({sha256[:12]}) did not go out: {refusal.findings[0].text}",
                    hint="bring it back from a copy, then export again",
                )
            )
            continue
        path = attachments.path_of(work, sha256)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return lost


def explained(name: str, head: tuple[int, str], rows: dict[str, int]) -> str:
    """The page that goes with it: what lies where, and what each column means."""
    page = io.StringIO()
    page.write(f"# {name}: all of it, as it was on {clock.now():%Y-%m-%d %H:%M} UTC\n\n")
    page.write(f"The chain of entries ends at {head[0]}:{head[1]}.\n\n")
    page.write(
        "* `logbook.sqlite`: the logbook itself, a SQLite database; its table `entry` is the chain.\n"
        "* `facility.toml`: the facility as it is today.\n"
        "* `copy.json`: every file here with its size and SHA-256.\n"
        "* the tables below: CSV, UTF-8, commas, a decimal point, times in UTC. A text that a spreadsheet\n"
        "  would take for a formula stands behind a `'`, and so does one that begins with `'`.\n\n"
        "Back in: `brinehouse move-in` with this folder and an empty one.\n"
    )
    for table, (meaning, columns) in TABLES.items():
        page.write(
            f"\n## {table}\n\n{meaning} Rows: {rows.get(table, 0)}.\n\n| column | meaning |\n|---|---|\n"
        )
        page.writelines(f"| `{column}` | {told} |\n" for column, told in columns.items())
    return page.getvalue()

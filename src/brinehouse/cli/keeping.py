"""``backup``, ``restore``, ``doctor``, ``export`` and ``move-in``: the ways out and back."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from brinehouse import findings
from brinehouse.cli import voice

if TYPE_CHECKING:
    from brinehouse.workbench import bringing_back, copying

_PATH = click.Path(path_type=Path)


@click.command()
@click.argument("folder", default=".", type=_PATH)
@click.option(
    "--to", type=_PATH, help="Where copies go; as [backup] in the facility file says where left out."
)
@click.option("--keys", is_flag=True, help="Copy the folder's secrets too.")
@click.option("--one-file", is_flag=True, help="One .tar in place of a folder.")
@click.option("--list", "listing", is_flag=True, help="Only list the copies that are there.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def backup(folder: Path, to: Path | None, keys: bool, one_file: bool, listing: bool, as_json: bool) -> int:
    """Copy the hall in FOLDER, also while it is served, and try the copy before it counts."""
    import dataclasses

    from brinehouse.facility import copies
    from brinehouse.workbench import copying, unpacking
    from brinehouse.workbench import hall as halls

    with halls.open_hall(folder) as hall:
        asked = hall.facility.backup
        if to is None and asked is None:
            raise unpacking.refuse(
                "copy/not-there",
                "It is not said where the copy is to go",
                "give --to with a folder on another disk, or write [backup] in the facility file",
            )
        goes = to or copying.place_for(hall.folder, asked or copies.Copies(to=""))
        if listing:
            return _list(copying.all_in(goes), as_json)
        wants = asked or copies.Copies(to=str(goes))
        wants = dataclasses.replace(wants, keys=wants.keys or keys, one_file=wants.one_file or one_file)
        made = copying.make(hall, goes, wants)
    if as_json:
        voice.say_json(
            {
                "copy": str(made.path),
                "head": f"{made.list.head[0]}:{made.list.head[1]}",
                "size": made.list.size,
                "files": len(made.list.files),
                "seconds": made.seconds,
                "removed": list(made.removed),
                "findings": [one.as_json() for one in made.findings],
            }
        )
    else:
        voice.say(
            f"{made.path}: {len(made.list.files)} files, {made.list.size / 1e6:.1f} MB, made and tried in "
            f"{made.seconds:.1f} s; head {made.list.head[0]}:{made.list.head[1][:12]}"
        )
        for name in made.removed:
            voice.say(f"let go: {name}")
        voice.show_findings(made.findings)
    return 1 if made.findings else 0


def _list(there: Sequence[copying.Copy], as_json: bool) -> int:
    from brinehouse.workbench import keeping

    rows = keeping.read_back(there)
    if as_json:
        voice.say_json(
            {"copies": [{"name": n, "made": at.isoformat(), "size": s, "head": h} for n, at, s, h in rows]}
        )
    elif rows:
        told = [
            [name, f"{at:%Y-%m-%d %H:%M} UTC", f"{size / 1e6:.1f}", head] for name, at, size, head in rows
        ]
        voice.say(voice.table(["copy", "made", "MB", "head"], told, frozenset({2})))
    else:
        voice.say("there is no copy there")
    return 0 if rows else 1


@click.command()
@click.argument("copy", type=_PATH)
@click.argument("folder", type=_PATH)
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def restore(copy: Path, folder: Path, as_json: bool) -> int:
    """Bring a hall back from COPY into FOLDER, which must be empty; every hash is looked at first."""
    from brinehouse.workbench import bringing_back

    return _back(bringing_back.bring_back(copy, folder), folder, as_json)


@click.command()
@click.argument("out", type=_PATH)
@click.argument("folder", type=_PATH)
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def move_in(out: Path, folder: Path, as_json: bool) -> int:
    """Bring what 'export' wrote to OUT into FOLDER, which must be empty, or into an empty database."""
    from brinehouse.workbench import moving_out

    return _back(moving_out.move_in(out, folder), folder, as_json)


def _back(back: bringing_back.Back, folder: Path, as_json: bool) -> int:
    told = back.list
    if as_json:
        voice.say_json(
            {"folder": str(folder), "hall": told.hall, "head": f"{back.head[0]}:{back.head[1]}",
             "made": told.made.isoformat(), "seconds": back.seconds}
        )  # fmt: skip
    else:
        voice.say(
            f"{told.hall} as of {told.made:%Y-%m-%d %H:%M} UTC is in {folder} after {back.seconds:.1f} s; "
            f"head {back.head[0]}:{back.head[1][:12]}"
        )
        voice.say("What was written after that copy is not in it; phones send again what they still keep.")
    return 0


@click.command()
@click.argument("folder", default=".", type=_PATH)
@click.option("--quick", is_flag=True, help="Without reading every photo and the whole store.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def doctor(folder: Path, quick: bool, as_json: bool) -> int:
    """Look at FOLDER: store, disk, clock, copies, certificates. 0 fine, 1 look at it, 2 it is broken."""
    from brinehouse.workbench import doctoring

    found = doctoring.look(folder, whole=not quick)
    status = doctoring.status(found)
    if as_json:
        voice.say_json({"status": status, "findings": [one.as_json() for one in found]})
        return status
    for one in found:
        voice.say(f"{voice.marked(one.level)} {one.text}" + (f"\n    try: {one.hint}" if one.hint else ""))
    needs = sum(one.level is not findings.Level.NOTE for one in found)
    voice.say()
    voice.say("all is well" if not needs else f"{needs} of these need a person")
    return status


@click.command()
@click.argument("folder", default=".", type=_PATH)
@click.option("--to", type=_PATH, required=True, help="A folder that is not there yet.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def export(folder: Path, to: Path, as_json: bool) -> int:
    """Everything of FOLDER out: CSV, SQLite, photos, facility files, and what each column means."""
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import moving_out

    with halls.open_hall(folder) as hall:
        out = moving_out.move_out(hall, to)
    if as_json:
        voice.say_json(
            {"folder": str(out.path), "head": f"{out.list.head[0]}:{out.list.head[1]}", "rows": out.rows,
             "findings": [one.as_json() for one in out.findings]}
        )  # fmt: skip
    else:
        rows = [[name, str(count)] for name, count in out.rows.items()]
        voice.say(voice.table(["table", "rows"], rows, frozenset({1})))
        voice.say(f"{out.path}: {len(out.list.files)} files; head {out.list.head[0]}:{out.list.head[1][:12]}")
        voice.show_findings(out.findings)
    return 1 if out.findings else 0

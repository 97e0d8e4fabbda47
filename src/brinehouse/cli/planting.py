"""``set``: one value of the facility file, looked at as a difference and written with its reason."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from pathlib import Path

import click

from brinehouse import findings
from brinehouse.cli import reading, voice
from brinehouse.facility import positions, writing
from brinehouse.workbench import hall as halls
from brinehouse.workbench import mishaps, plant_edit, plant_things


@click.command(name="set", cls=reading.Plain)
@click.argument("path")
@click.argument("value")
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--reason", default="", help="Why. Without it the difference is shown and nothing is written.")
@click.option(
    "--since", default="", help="From when it holds, in the hall's zone; from now on where left out."
)
@click.option("--by", default="", help="Who says so.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def set_(path: str, value: str, folder: Path, reason: str, since: str, by: str, as_json: bool) -> int:
    """Change one value: brinehouse set tank.mangrove.volume "57 m3" --reason "measured".

    PATH is as messages write it: tank.mangrove.volume, limit[0].act, facility.altitude. An empty VALUE takes
    the word out. Notes in the file stay, and every check is run before anything is written.
    """
    with halls.open_hall(folder) as hall:
        asked = _asked(hall, path, value, reason, since)
        looked = plant_edit.look(hall, asked)
        if not as_json:
            _show(looked)
        if looked.stopped or looked.nothing or not reason.strip():
            status = 2 if looked.stopped else 0 if looked.nothing else 1
            return _ended(looked, looked.findings, "", status, as_json)
        person = hall.person(by) if by.strip() else None
        done = plant_edit.write(hall, dataclasses.replace(asked, made_from=looked.digest), person)
    if done.written:
        return _ended(looked, looked.findings, done.written, 0, as_json)
    if not as_json:
        voice.show_findings(done.findings)
    return _ended(looked, done.findings, "", 2, as_json, late=True)


def _show(looked: plant_edit.Looked) -> None:
    """What would be different, line by line, and what the checks say of it."""
    for sentence in looked.said:
        voice.say(sentence)
    for line in looked.lines:
        if line.kind in ("old", "new"):
            voice.say(f"{'-' if line.kind == 'old' else '+'} {line.old or line.new}: {line.text}")
    voice.show_findings(looked.findings)


def _ended(
    looked: plant_edit.Looked,
    found: Sequence[findings.Finding],
    written: str,
    status: int,
    as_json: bool,
    *,
    late: bool = False,
) -> int:
    """How it ended, in a sentence or as JSON; gives the exit status back."""
    if as_json:
        changed = [
            {"kind": line.kind, "line": line.old or line.new, "text": line.text}
            for line in looked.lines
            if line.kind in ("old", "new")
        ]
        voice.say_json(
            {"said": list(looked.said), "lines": changed, "written": written,
             "findings": [one.as_json() for one in found]}
        )  # fmt: skip
    elif written:
        voice.say(f"written, and kept in the log as {written[:8]}")
    elif late:
        voice.say("nothing is written: the file is another one by now; look at it again")
    elif status == 1:
        voice.say("nothing is written yet: give a --reason to write it")
    elif status == 0:
        voice.say("nothing is different from the file")
    return status


def _asked(hall: halls.Hall, path: str, value: str, reason: str, since: str) -> plant_edit.Asked:
    """What a form would have sent: every box of the thing as it is, and the one that is changed."""
    steps = writing.split(path)
    table = plant_things.table_of(str(steps[0]) if steps else "")
    inner = steps[1:-1] if table.form != "single" else ()
    if len(steps) != (2 if table.form == "single" else 3) or steps[-1] not in table.words:
        raise mishaps.Refused(_no_path(path, table.name, list(table.words)))
    key = str(inner[0]) if inner else ""
    _, _, was = plant_things.form(hall, table.name, key)
    boxes = {**was, str(steps[-1]): value.strip()}
    return plant_edit.Asked(
        table=table.name, key=key, was=was, boxes=boxes, reason=reason.strip(), since=since.strip()
    )


def _no_path(path: str, table: str, known: list[str]) -> findings.Finding:
    """That a path names no value."""
    heading = positions.written((table, "ID"))
    return findings.Finding(
        code="plant/no-path",
        level=findings.Level.STOP,
        text=f"'{path}' names no value of the facility file",
        hint=f"write {heading}.WORD, or {table}[0].WORD in a list; the words are: {', '.join(known)}",
    )

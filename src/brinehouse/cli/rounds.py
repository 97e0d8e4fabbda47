"""``round``: which rounds there are and how they stand, one round's stops, and its sheet as text."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import click

from brinehouse.cli import voice
from brinehouse.workbench import hall as halls
from brinehouse.workbench import round_typing
from brinehouse.workbench import rounds as walking


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--of", "name", default="", help="One round, by its id: its stops and how each stands.")
@click.option("--sheet", is_flag=True, help="With --of: a blank sheet to write on.")
@click.option("--json", "as_json", is_flag=True, help="As JSON; with --of, the plan that phones take along.")
def round_(folder: Path, name: str, sheet: bool, as_json: bool) -> int:
    """Which rounds there are, when each is due, who walked it last, and what was missed."""
    with halls.open_hall(folder) as hall:
        if name:
            return _one(hall, name, sheet, as_json)
        looks, names = walking.look(hall), walking.people(hall)
        zone = ZoneInfo(hall.facility.timezone)
    overdue = any(one.state == "overdue" for one in looks)
    if as_json:
        voice.say_json({"rounds": [_plain(one, names) for one in looks]})
        return 1 if overdue else 0
    if any(one.round.made for one in looks):
        said = "No stops are named: they are made from the tanks, the cleanest zone first."
        voice.say(voice.paragraph(said))
    rows = [
        [
            one.round.id,
            one.round.name,
            one.state,
            _clock(one, zone),
            f"{len(one.missing)} of {len(one.screens)}",
        ]
        for one in looks
    ]
    voice.say(voice.table(["round", "", "state", "due", "missing"], rows))
    return 1 if overdue else 0


def _clock(one: walking.Look, zone: ZoneInfo) -> str:
    return f"{one.due.astimezone(zone):%d %b %H:%M}" if one.due else ""


def _plain(one: walking.Look, names: Any) -> dict[str, Any]:
    return {
        "round": one.round.id,
        "name": one.round.name,
        "made": one.round.made,
        "state": one.state,
        "due": one.due.isoformat() if one.due else None,
        "until": one.until.isoformat() if one.until else None,
        "stops": [screen.key for screen in one.screens],
        "missing": [screen.key for screen in one.missing],
        "walk": one.walk.id if one.walk else None,
        "last": one.last.ended.isoformat() if one.last and one.last.ended else None,
        "last_by": names.get(one.last.by, "") if one.last and one.last.by is not None else "",
    }


def _one(hall: halls.Hall, name: str, sheet: bool, as_json: bool) -> int:
    if as_json:
        voice.say_json(walking.plan(hall, name))
        return 0
    look = walking.look_at(hall, name)
    voice.say(f"{look.round.name}: {look.state}, {len(look.screens)} stops")
    if sheet:
        blanks = "date ________ time ________ who ________"
        voice.say(f"facility file {walking.version(hall.facility, look.round)}; {blanks}")
        voice.say(voice.table(["stop", "expected", "meter", "value", "note"], _lines(hall, name)))
        return 0
    passed = look.walk.passed if look.walk else set[str]()
    rows = [
        [
            str(number),
            screen.title,
            screen.zone.name if screen.zone else "",
            "passed" if screen.key in passed else "",
        ]
        for number, screen in enumerate(look.screens, 1)
    ]
    voice.say(voice.table(["", "stop", "zone", ""], rows, frozenset({0})))
    return 1 if look.state == "overdue" else 0


def _lines(hall: halls.Hall, name: str) -> list[list[str]]:
    rows: list[list[str]] = []
    for line in round_typing.blank(hall, name).lines:
        for ask in line.asks:
            if line.screen.kind == "reading":
                span = f"{ask['expected'][0]:g} to {ask['expected'][1]:g} {ask['unit']}"
                rows.append([line.screen.title, span, str(ask["instrument"]), "________", "________________"])
            else:
                said = f"{line.screen.title}: {ask['label']}"
                rows.append([said, " / ".join(ask["choices"]), "", "", "________________"])
    return rows

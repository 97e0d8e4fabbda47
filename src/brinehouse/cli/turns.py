"""``turns``: which pumps run tomorrow, and what is due; as a calendar too."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import click

from brinehouse import answers
from brinehouse.cli import voice
from brinehouse.workbench import hall as halls
from brinehouse.workbench import turns as bench

LONGEST = 366


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--days", default=14, type=click.IntRange(1, LONGEST), help="How many days ahead; 14.")
@click.option("--ics", is_flag=True, help="As a calendar (iCalendar), with upkeep and rounds.")
@click.option("--working", is_flag=True, help="Show how each number came about.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def turns(folder: Path, days: int, ics: bool, working: bool, as_json: bool) -> int:
    """Which pumps run tomorrow, when they change over, and when each is due for its overhaul."""
    with halls.open_hall(folder) as hall:
        if ics:
            from brinehouse.workbench import turns_calendar

            click.echo(turns_calendar.calendar(hall, days=days).decode(), nl=False)
            return 0
        made = bench.survey(hall, days=days)
        name, zone = hall.facility.name, hall.facility.timezone
    if as_json:
        voice.say_json(made.answer.as_json())
    else:
        tell(name, zone, made.answer)
        if working:
            voice.show_working(made.answer)
    return bench.status(made)


def tell(name: str, zone: str, answer: answers.Answer) -> None:
    """The plan in the terminal."""
    voice.say(f"{name}: turns")
    voice.say(voice.paragraph(answer.sentence))
    for group in voice.rows(answer, "groups"):
        _group(answer, group, ZoneInfo(zone))
    voice.show_said(answer)


def _group(answer: answers.Answer, group: Mapping[str, Any], zone: ZoneInfo) -> None:
    voice.say(f"\n{group['name']}: {group['keep']} of {group['pumps']} run")
    pumps = [row for row in voice.rows(answer, "pumps") if row["duty"] == group["duty"]]
    voice.say(
        voice.table(
            ["pump", "now", "run, h", "of its hours", "overhaul due", "95 %"],
            [_pump(row, zone) for row in pumps],
            frozenset({2, 3}),
        )
    )
    changes = [row for row in voice.rows(answer, "changes") if row["duty"] == group["duty"]]
    if changes:
        rows = [
            [_clock(row["at"], zone), str(row["start"]), str(row["stop"]), str(row["why"])] for row in changes
        ]
        voice.say(voice.table(["at", "starts", "then stops", "why"], rows))
    if group["test_due"]:
        voice.say(f"the automatic change-over is to be tried by {_clock(group['test_due'], zone)[:10]}")


def _pump(row: Mapping[str, Any], zone: ZoneInfo) -> list[str]:
    share = "" if row["share"] is None else f"{row['share']:.0f} %"
    due = _clock(row["due"], zone)[:10] if row["due"] else ""
    ends = f"{_clock(row['due_low'], zone)[:10]} to {_clock(row['due_high'], zone)[:10]}" if due else ""
    hours = voice.number(row["wear"].value, 0) + ("" if row["counted"] else " as logged")
    return [str(row["pump"]), str(row["state"]), hours, share, due, ends]


def _clock(stamp: str, zone: ZoneInfo) -> str:
    return datetime.fromisoformat(stamp).astimezone(zone).strftime("%Y-%m-%d %H:%M")

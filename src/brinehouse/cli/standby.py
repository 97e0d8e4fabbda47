"""``standby``: how often too few pumps run, why, and what would help most."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from brinehouse import answers
from brinehouse.cli import voice
from brinehouse.workbench import hall as halls
from brinehouse.workbench import standby as bench

MOST = 5  # measures told of each group
LEAST = 0.005  # share of a cause that is told


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--working", is_flag=True, help="Show how each number came about.")
@click.option(
    "--hours", is_flag=True, help="Join the hours each loss leaves, from the worst hour of the day."
)
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def standby(folder: Path, working: bool, hours: bool, as_json: bool) -> int:
    """How often too few pumps of a duty group run, by what, and what would help most."""
    with halls.open_hall(folder) as hall:
        answer = bench.with_hours(hall) if hours else bench.survey(hall)
        name = hall.facility.name
    if as_json:
        voice.say_json(answer.as_json())
    else:
        tell(name, answer)
        if working:
            voice.show_working(answer)
    return bench.status(answer)


def tell(name: str, answer: answers.Answer) -> None:
    """The answer in the terminal."""
    voice.say(f"{name}: standby")
    voice.say(voice.paragraph(answer.sentence))
    for row in voice.rows(answer, "groups"):
        _group(answer, row)
    _rates(answer)
    voice.show_said(answer)


def _group(answer: answers.Answer, row: Mapping[str, Any]) -> None:
    voice.say(f"\n{row['name']}: {row['lost']}")
    if isinstance(hand := row.get("hand"), answers.Value):
        left = f"{voice.number(hand.value, 1)} h until {row['hand_limit']}" if hand.value else hand.text
        voice.say(voice.paragraph(f"and then, from the worst hour of the day: {left}", 2))
    if not row["told"]:
        missing = [str(one["word"]) for one in voice.rows(answer, "missing") if one["duty"] == row["duty"]]
        voice.say(voice.paragraph("not told; the facility file lacks " + "; ".join(missing), 2))
        return
    lines = [["", "first after, years", "out, h a year"]]
    lines.append(["all causes", voice.with_interval(row["years"], 1), voice.with_interval(row["out"], 2)])
    alone = row["years_without"].value or 0.0
    flattered = f"{alone:.0f}" if alone < 1e5 else "over 100000"
    lines.append(["without shared causes", flattered, voice.number(row["out_without"].value, 2)])
    voice.say(voice.table(lines[0], lines[1:], frozenset({1, 2})))
    here = (row["duty"], row["least"])
    causes = [one for one in voice.rows(answer, "causes") if (one["duty"], one["least"]) == here]
    causes = [one for one in causes if one["share"] >= LEAST]
    for one in sorted(causes, key=lambda one: -one["share"]):
        voice.say(voice.hanging(f"{one['share']:>5.0%}  ", str(one["cause"])))
    _helps(answer, row)


def _helps(answer: answers.Answer, row: Mapping[str, Any]) -> None:
    key = "rarer_none" if row["least"] == 1 else "rarer"
    times = "times_none" if row["least"] == 1 else "times"
    helps = [one for one in voice.rows(answer, "helps") if one["duty"] == row["duty"] and one[times] > 1.005]
    for one in sorted(helps, key=lambda one: -one[times])[:MOST]:
        voice.say(voice.hanging(f"{one[key]:>17}  ", str(one["measure"])))


def _rates(answer: answers.Answer) -> None:
    rows: list[list[str]] = []
    for row in voice.rows(answer, "rates"):
        seen = f"{row['seen']} in {row['span']}" if row["seen"] is not None else ""
        ends = f"{row['now_high']} to {row['now_low']}".replace("once in ", "") if row["now_low"] else ""
        rows.append([str(row["of"]), str(row["mode"]), str(row["believed"]), seen, str(row["now"]), ends])
    if rows:
        voice.say("\nReckoned with")
        voice.say(voice.table(["part", "", "believed", "seen here", "now", "95 %"], rows))
        for row in voice.rows(answer, "rates"):
            voice.say(voice.hanging(f"{row['of']}, {row['mode']}: ", str(row["source"])))

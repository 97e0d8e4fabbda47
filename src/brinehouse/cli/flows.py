"""``flows``: what the flows of a hall are, and what does not fit."""

from __future__ import annotations

from pathlib import Path

import click

from brinehouse import answers
from brinehouse.cli import voice
from brinehouse.workbench import flows as bench
from brinehouse.workbench import hall as halls

COLUMNS = (("stated", "stated"), ("measured", "measured"), ("flow", "reconciled"))


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--working", is_flag=True, help="Show how each number came about.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def flows(folder: Path, working: bool, as_json: bool) -> int:
    """The flow of every run, stated, measured and reconciled; which meter, figure or leak does not fit."""
    with halls.open_hall(folder) as hall:
        answer = bench.survey(hall)
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
    voice.say(f"{name}: flows")
    voice.say(voice.paragraph(answer.sentence))
    voice.say()
    voice.say(_table(answer))
    voice.say("  ± is 95 %; m³/h")
    _suspects(answer)
    if answer.findings:
        voice.say("\nWhat is to be said about them")
    for finding in answer.findings:
        voice.say(voice.hanging(f"{voice.marked(finding.level)} ", finding.text))
    voice.show_advice(answer)


def _table(answer: answers.Answer) -> str:
    rows: list[list[str]] = []
    table = next(table for table in answer.tables if table.name == "flows")
    for row in table.rows:
        cells = [_cell(row[key]) for key, _ in COLUMNS]
        rows.append([str(row["name"]), *cells, str(row["mark"])])
    return voice.table(["", *(label for _, label in COLUMNS), ""], rows, frozenset({1, 2, 3}))


def _cell(value: answers.Value | None) -> str:
    return "" if value is None else voice.with_interval(value, 1 if abs(value.value or 0.0) >= 10 else 2)


def _suspects(answer: answers.Answer) -> None:
    if not answer.explanations:
        return
    voice.say("\nWhat would explain it")
    for number, item in enumerate(answer.explanations, 1):
        fits, of = item.visits
        right = ", ".join(f"{voice.with_interval(v, 2)} m³/h" for v in item.corrected.values())
        said = f"{item.text}: by the others {right}"
        if of > 1:
            said += f"; fits {fits} of {of} times between change-overs"
        voice.say(voice.hanging(f"{number}  {item.weight:>4.0%}  ", said))
    for item in answer.not_excluded:
        voice.say(voice.hanging("not believed: ", f"{item.text} ({item.next_reading})"))

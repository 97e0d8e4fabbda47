"""``gas sources``: where in the loop the excess gas comes from, and what a change would do."""

from __future__ import annotations

from pathlib import Path

import click

from brinehouse import answers, findings
from brinehouse.cli import voice
from brinehouse.workbench import balance as lists
from brinehouse.workbench import gas_sources as sources_of
from brinehouse.workbench import hall as halls

HEAVY = (findings.Level.ACT, findings.Level.ASK, findings.Level.WATCH)


@click.command("sources")
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--place", "wanted", metavar="PLACE", help="Only this place, by its id.")
@click.option(
    "--what-if",
    "listed",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A list of changes of your own, told among the what-ifs.",
)
@click.option("--working", is_flag=True, help="How each number came about.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def sources(folder: Path, wanted: str | None, listed: Path | None, working: bool, as_json: bool) -> int:
    """Where in the loop the excess gas comes from, what takes it out, and what a change would do.

    Nothing is changed: neither the facility file nor the plant.
    """
    changes = lists.read(listed) if listed is not None else None
    with halls.open_hall(folder) as hall:
        names = {one.id: one.name or one.id for one in hall.facility.places}
        if wanted is not None:
            wanted = sources_of.known_place(hall.facility, wanted)
        answer = sources_of.survey(hall, changes)
    if as_json:
        voice.say_json(answer.as_json())
    else:
        show(answer, names, wanted)
        if working:
            voice.show_working(answer)
    return sources_of.status(answer)


def show(answer: answers.Answer, names: dict[str, str], wanted: str | None = None) -> None:
    """The answer in the terminal's voice."""
    voice.say(voice.paragraph(answer.sentence))
    tables = {table.name: table for table in answer.tables}
    for place in _places(tables, wanted):
        _place(tables, place, names)
    if "pumps" in tables:
        _pumps(tables["pumps"])
    told = [found for found in answer.findings if found.level in HEAVY]
    if told:
        voice.say()
        for finding in told:
            voice.say(voice.hanging(f"{voice.MARKS[finding.level.value]} ", finding.text))
    if answer.next_readings:
        voice.say("\nRead next")
        for number, text in enumerate(answer.next_readings, 1):
            voice.say(voice.hanging(f"{number}. ", text))
    voice.say("\nAdvice, not a command.")
    for text in answer.question.cautions:
        voice.say(voice.paragraph(text))


def _places(tables: dict[str, answers.Table], wanted: str | None) -> list[str]:
    if "sources" not in tables:
        return []
    found = list(dict.fromkeys(str(row["place"]) for row in tables["sources"].rows))
    return [place for place in found if wanted in (None, place)]


def _place(tables: dict[str, answers.Table], place: str, names: dict[str, str]) -> None:
    voice.say(f"\nWhere the excess at {names.get(place, place)} comes from")
    rows: list[list[str]] = []
    for table, words in (("sources", "source"), ("removals", "removal")):
        rows += [
            [str(row[words]), *_figures(row["size"]), str(row["how"])]
            for row in tables[table].rows
            if row["place"] == place
        ]
    voice.say(voice.table(["", "mmHg", "95 % interval", "how known"], rows))
    told = [row for row in tables["what_ifs"].rows if row["place"] == place]
    if told:
        voice.say(f"\nWhat if: ΔP at {names.get(place, place)}")
        rows = [
            [
                str(row["change"]),
                *_figures(row["then"]),
                str(row.get("verdict", "")),
                f"{row['settles']:.0f} h",
            ]
            for row in told
        ]
        voice.say(voice.table(["", "mmHg", "95 % interval", "animals", "settles in"], rows))


def _figures(value: answers.Value) -> tuple[str, str]:
    low, high = value.interval() or (0.0, 0.0)
    return _whole(value.value or 0.0), f"{_whole(low)} … {_whole(high)}"


def _whole(value: float) -> str:
    """A whole number, and never minus nought."""
    return f"{round(value) + 0:d}".replace("-", "−")


def _pumps(table: answers.Table) -> None:
    voice.say("\nWhich pump")
    rows = [[str(row["pump"]), str(row["below_air"]), f"{row['weight']:.0%}"] for row in table.rows]
    voice.say(voice.table(["", "air can come in", "weight"], rows))

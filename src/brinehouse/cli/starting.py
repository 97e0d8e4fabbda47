"""``init``, ``check`` and ``words``: the facility file from nothing to accepted."""

from __future__ import annotations

from pathlib import Path

import click

from brinehouse.cli import voice
from brinehouse.workbench import starting


@click.command()
@click.option("--name", help="What the hall is called.")
@click.option("--altitude", help="Metres above the sea, e.g. '412 m'.")
@click.option("--zone", help="The time zone, e.g. 'Europe/London'.")
@click.option(
    "--tank", "tanks", multiple=True, help="'name, volume, depth', e.g. 'mangrove, 58 m3, 2.6 m'. Repeat."
)
@click.option(
    "--meter", "meters", multiple=True, help="'name: what it measures', e.g. 'meter A: oxygen'. Repeat."
)
@click.option("--json", "as_json", is_flag=True, help="Findings as JSON.")
@click.argument("folder", default=".", type=click.Path(path_type=Path))
def init(name: str | None, altitude: str | None, zone: str | None, tanks: tuple[str, ...],
         meters: tuple[str, ...], as_json: bool, folder: Path) -> int:  # fmt: skip
    """Ask five questions and write a commented facility.toml that passes check."""
    if name is None:
        name = _one("1 of 5  What is the hall called")
    if altitude is None:
        altitude = _one("2 of 5  How high above the sea is it (with unit)", "0 m")
    if zone is None:
        zone = _one("3 of 5  Which time zone", starting.likely_zone())
    if not tanks:
        tanks = _several("4 of 5  Tanks, one a line: name, volume, depth (an empty line ends)")
    if not meters:
        meters = _several("5 of 5  Meters, one a line: name: what it measures (an empty line if none)")
    made = starting.begin(
        folder, name=name or "", altitude=altitude or "", zone=zone or "", tanks=tanks, meters=meters
    )
    if as_json:
        voice.say_json({"file": str(made.file), "findings": [finding.as_json() for finding in made.findings]})
    elif made.written:
        voice.say(f"Wrote {made.file}. It passes 'brinehouse check {folder}'.")
        voice.say(f"Next: brinehouse read TANK QUANTITY 'VALUE UNIT' {folder}, or brinehouse serve {folder}")
    else:
        voice.show_findings(made.findings)
    return 0 if made.written else 2


def _one(question: str, usual: str | None = None) -> str:
    """One answer; questions go to the other stream, so that JSON stays alone."""
    return click.prompt(question, default=usual, err=True)


def _several(question: str) -> tuple[str, ...]:
    click.echo(question, err=True)
    lines: list[str] = []
    while line := click.prompt("  ", default="", show_default=False, prompt_suffix="", err=True):
        lines.append(line)
    return tuple(lines)


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Findings as JSON.")
@click.argument("folder", default=".", type=click.Path(path_type=Path))
def check(as_json: bool, folder: Path) -> int:
    """List every fault of FOLDER's facility file: file, line, column, the thing, and what would be right."""
    checked = starting.check(folder)
    if as_json:
        voice.say_json(
            {
                "file": str(checked.file),
                "accepted": checked.accepted,
                "counts": dict(checked.counts),
                "findings": [finding.as_json() for finding in checked.findings],
            }
        )
    else:
        voice.show_findings(checked.findings)
        voice.say(checked.sentence)
    return checked.status


@click.command()
@click.option("--json", "as_json", is_flag=True, help="The table as JSON.")
def words(as_json: bool) -> int:
    """Every word a facility file knows, table by table."""
    if as_json:
        voice.say_json(starting.words())
        return 0
    for table, rows in starting.words().items():
        voice.say(f"\n[{table}]")
        body = [
            [row["word"], row["kind"], "needed" if row["required"] else "", row["meaning"]] for row in rows
        ]
        voice.say(voice.table(["word", "kind", "", "meaning"], body))
    return 0

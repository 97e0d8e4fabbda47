"""``sweep``: intervals of time in hand over many samples, on every core or on a cluster."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import click

from brinehouse.cli import time_in_hand as told
from brinehouse.cli import voice
from brinehouse.facility import model
from brinehouse.workbench import hall as halls
from brinehouse.workbench import sweep as sweeping
from brinehouse.workbench import time_told

ADDRESS = re.compile(r"tcp://(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+):[0-9]{1,5}")
MOST = 30
MANY = 20_000


def _address(_ctx: click.Context, _option: click.Parameter, value: str | None) -> str:
    if value is not None and not ADDRESS.fullmatch(value):
        raise click.BadParameter("a scheduler's address is tcp://HOST:PORT, such as tcp://10.0.0.5:8786")
    return value or ""


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option(
    "--samples",
    type=click.IntRange(sweeping.FEWEST, MANY),
    default=sweeping.SAMPLES,
    show_default=True,
    metavar="N",
    help="How many samples; those that are there already are taken.",
)
@click.option(
    "--from",
    "begin",
    type=click.Choice(["now", "worst"]),
    default="now",
    help="From the water as it is now, or from the worst hour of the day.",
)
@click.option("--pairs", is_flag=True, help="Also the hundred pairs of failures that leave least.")
@click.option(
    "--on", callback=_address, metavar="tcp://HOST:PORT", help="A Dask scheduler whose workers do it."
)
@click.option(
    "--cores", type=click.IntRange(1, 1024), metavar="N", help="Cores of this machine; all where left out."
)
@click.option("--json", "as_json", is_flag=True, help="As JSON, and nothing on the way.")
def sweep(
    folder: Path, samples: int, begin: time_told.Begin, pairs: bool, on: str, cores: int | None, as_json: bool
) -> int:
    """Work out how sure the hours of every failure are, piece by piece; broken off, it goes on where it was.

    What is worked out is kept in the folder `sweeps` of the hall, also as result.json and result.csv, and the
    sheet shows it.
    """
    if on and cores is not None:
        raise click.UsageError("--on and --cores do not go together: a cluster has its own cores")
    with halls.open_hall(folder) as hall:
        wanted = time_told.Wanted(begin=begin, pairs=pairs)
        done = sweeping.sweep(
            hall, wanted, samples, on=on, cores=cores, progress=None if as_json else Progress()
        )
        facility = hall.facility
    if as_json:
        voice.say_json(done.as_json(facility))
    else:
        show(done, facility)
    heavy = [*done.findings, *done.found.table.findings]
    return 1 if any(one.level in told.HEAVY for one in heavy) else 0


class Progress:
    """How far it is, on standard error: a line that changes on a terminal, one for each tenth elsewhere."""

    def __init__(self) -> None:
        self._tenth = -1

    def __call__(self, there: int, of: int) -> None:
        """Tell how many samples there are, and of how many."""
        text = f"{there} of {of} samples"
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{text}" + ("\n" if there == of else ""))
            sys.stderr.flush()
        elif (tenth := there * 10 // of) > self._tenth:
            self._tenth = tenth
            sys.stderr.write(f"{text}\n")
            sys.stderr.flush()


def show(done: sweeping.Swept, facility: model.Facility) -> None:
    """The shortest failures with their intervals."""
    table = done.found.table
    voice.say(voice.paragraph(done.found.sentence))
    rows = [
        [
            row.title,
            told.span(row.hours),
            told.interval(row.first, table) if row.first else "",
            time_told.limit_at(row.first.line, facility) if row.first else "",
        ]
        for row in sweeping.chosen([*table.rows, *table.pairs], MOST)
    ]
    if rows:
        voice.say()
        voice.say(voice.table(["", "in hand", "95 %", "first limit"], rows, frozenset({1, 2})))
    for one in done.findings:
        voice.say(voice.hanging(f"{voice.marked(one.level)} ", one.text))
    kept = f", {done.kept} of them kept from before" if done.kept else ""
    voice.say()
    voice.say(
        voice.paragraph(
            f"{done.samples} samples of {done.failures} failures{kept}; all of it is in {done.folder}."
        )
    )
    voice.show_advice(done.found.answer)

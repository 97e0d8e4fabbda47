"""``serve`` and ``demo``: the pages on this machine, and the invented hall."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from brinehouse import findings
from brinehouse.cli import voice

LOOPBACK = ("127.0.0.1", "localhost", "::1")


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--port", default=8750, show_default=True, help="Where the pages are.")
@click.option(
    "--host", default="127.0.0.1", show_default=True, help="Loopback only, until people and roles exist."
)
@click.option("--json", "as_json", is_flag=True, help="The address as JSON, once it is served.")
def serve(folder: Path, port: int, host: str, as_json: bool) -> int:
    """Serve the pages of FOLDER on this machine; an empty folder opens with five questions."""
    if host not in LOOPBACK:
        from brinehouse.workbench import mishaps

        raise mishaps.Refused(
            findings.Finding(
                code="serve/loopback-only",
                level=findings.Level.STOP,
                text=f"{host} is not this machine: until people and roles exist, pages stay on loopback",
                hint="brinehouse serve, and open the address on this machine",
            )
        )
    from brinehouse.web import serving

    return serving.serve(folder, host=host, port=port, told=lambda address: _told(address, as_json))


def _told(address: str, as_json: bool) -> None:
    if as_json:
        voice.say_json({"address": address})
    else:
        voice.say(f"The pages are at {address}  (Ctrl-C ends)")
    sys.stdout.flush()  # whoever waits for the address may read it through a pipe


@click.command()
@click.argument("folder", default="demo-hall", type=click.Path(path_type=Path))
@click.option(
    "--seed", default=1, show_default=True, help="Another seed, another history with other hidden faults."
)
@click.option("--days", default=90, show_default=True, help="How many days of history.")
@click.option("--end", help="When the history ends, '2026-03-14 06:40'; the present where left out.")
@click.option("--serve/--no-serve", "serving", default=True, help="Serve the pages afterwards.")
@click.option("--port", default=8750, show_default=True, help="Where the pages are.")
@click.option("--json", "as_json", is_flag=True, help="The investigation as JSON.")
def demo(folder: Path, seed: int, days: int, end: str | None, serving: bool, port: int, as_json: bool) -> int:
    """Build Highmoor Sea Hall in FOLDER, investigate its gas in the terminal, and serve its pages.

    The hall, its people and its history are invented; nothing of it is ever mixed with a hall of yours.
    """
    from brinehouse.cli import telling
    from brinehouse.demo import building
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import investigation

    built = building.build(folder, seed=seed, days=days, end=end)
    if not as_json:
        voice.say(built.sentence)
        voice.say()
    with halls.open_hall(folder) as hall:
        found = investigation.investigate(hall)
    if as_json:
        voice.say_json(found.as_json())
    else:
        telling.investigation(found)
    if not serving:
        return 0
    from brinehouse.web import serving as pages

    voice.say()
    return pages.serve(folder, host="127.0.0.1", port=port, told=lambda address: _told(address, as_json))

"""``ask``, ``settle`` and ``instruments``: one engine's question."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click

from brinehouse import answers, findings
from brinehouse.cli import voice
from brinehouse.workbench import asking, columns


def status(answer: answers.Answer) -> int:
    """The exit status of an answer."""
    return weigh(answer.findings)


def weigh(found: Iterable[findings.Finding]) -> int:
    """0 fine, 1 a finding needs a person, 2 refused."""
    worst = findings.worst(found)
    if worst is findings.Level.STOP:
        return 2
    return 1 if worst in (findings.Level.ACT, findings.Level.ASK) else 0


def show(answer: answers.Answer, as_json: bool, working: bool = False) -> int:
    """Print an answer; the exit status."""
    if as_json:
        voice.say_json(answer.as_json())
    else:
        voice.show_answer(answer)
        if working:
            voice.show_working(answer)
    return status(answer)


class Engine(click.Command):
    """A command made from what an engine declares: one option an input."""

    def __init__(self, name: str, engine: str) -> None:
        asked = asking.question(engine)
        options: list[click.Parameter] = [
            click.Option(
                [f"--{item.name.replace('_', '-')}", item.name],
                help=f"{item.label}{f' [{item.unit}]' if item.unit else ''}. {item.help}".strip(),
                metavar=item.example or "TEXT",
            )
            for item in asked.inputs
        ]
        options += [
            click.Option(["--working"], is_flag=True, help="Show how each number came about."),
            click.Option(["--json", "as_json"], is_flag=True, help="As JSON."),
        ]
        super().__init__(name, params=options, help=asked.title, callback=self._answer)
        self.engine = engine

    def _answer(self, as_json: bool, working: bool, **given: str | None) -> int:
        typed = {name: value for name, value in given.items() if value is not None}
        return show(asking.ask(self.engine, typed), as_json, working)


class Engines(click.Group):
    """Every engine as a command of its own, made when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names with hyphens."""
        return [name.replace(" ", "-") for name in asking.names()]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """One engine."""
        name = cmd_name.replace("-", " ")
        return Engine(cmd_name, name) if name in asking.names() else None


@click.group(cls=Engines)
def ask() -> None:
    """Any engine's question, from what it declares."""


_TRIAL = ("minutes", "value")


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--start", help="The value at minute 0, where it is known for certain.")
@click.option("--unit", help="Unit of the values, e.g. '%'.")
@click.option("--resolution", help="The step of the display, e.g. '0.1 %'.")
@click.option("--tolerance", help="Settled means less than this is left, e.g. '0.3 %'.")
@click.option("--working", is_flag=True, help="Show how each number came about.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def settle(file: Path, working: bool, as_json: bool, **options: str | None) -> int:
    """What a gas trial will settle at: FILE has the columns minutes and value."""
    table = columns.read(file, text=True, numbers=_TRIAL)
    given: dict[str, Any] = {name: columns.one(table, name, file.name) for name in _TRIAL}
    given |= {name: text for name, text in options.items() if text is not None}
    return show(asking.ask("settling", given), as_json, working)


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--quantity", default="total gas pressure", help="Which quantity's meters.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def instruments(folder: Path, quantity: str, as_json: bool) -> int:
    """Which meter is off, by how much, and what each place really reads."""
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import investigation

    with halls.open_hall(folder) as hall:
        return show(investigation.instruments(hall, quantity), as_json)

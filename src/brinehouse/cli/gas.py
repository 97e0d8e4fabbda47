"""``gas``: the investigation of a hall, and its parts."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from brinehouse import glossary
from brinehouse.cli import asking as engines
from brinehouse.cli import voice
from brinehouse.workbench import asking, bulk
from brinehouse.workbench import hall as halls


class Gas(click.Group):
    """``gas FOLDER`` investigates; ``gas budget`` and the others are its parts."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The parts."""
        return ["investigate", "budget", "changes", "sources"]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """One part; ``budget`` and ``changes`` are made from what their engines declare."""
        if cmd_name == "budget":
            return Budget()
        if cmd_name == "changes":
            return engines.Engine("changes", "gas changes")
        if cmd_name == "sources":
            from brinehouse.cli import gas_sources

            return gas_sources.sources
        return investigate if cmd_name == "investigate" else None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Anything that is not a part is a folder to investigate."""
        parts = self.list_commands(ctx)
        if args and args[0] in parts:
            return super().resolve_command(ctx, args)
        if args and not args[0].startswith("-") and not Path(args[0]).exists():
            near = glossary.nearest(args[0], parts)
            if near:
                said = f"'{args[0]}' is neither a folder nor a part of gas"
                raise click.UsageError(f"{said}\n    try: did you mean 'gas {near[0]}'?", ctx)
        return "investigate", investigate, args


@click.group(cls=Gas, invoke_without_command=True, context_settings={"ignore_unknown_options": True})
@click.pass_context
def gas(ctx: click.Context) -> int | None:
    """Investigate a hall's gas: which meters to believe, what the water holds, what would explain it.

    brinehouse gas FOLDER investigates; brinehouse gas budget answers one reading typed by hand.
    """
    return ctx.invoke(investigate, folder=Path(), as_json=False) if ctx.invoked_subcommand is None else None


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def investigate(folder: Path, as_json: bool) -> int:
    """Which meters to believe, what the water holds, what would explain it, what to read next."""
    from brinehouse.cli import telling
    from brinehouse.workbench import investigation

    with halls.open_hall(folder) as hall:
        found = investigation.investigate(hall)
    if as_json:
        voice.say_json(found.as_json())
    else:
        telling.investigation(found)
    return found.status


class Budget(engines.Engine):
    """``gas budget``: one reading by options, or a whole file with --input and --output."""

    def __init__(self) -> None:
        super().__init__("budget", "gas budget")
        self.params[-2:-2] = [
            click.Option(["--input", "source"], type=click.Path(path_type=Path), metavar="FILE.csv",
                         help="Rows instead of options: headers 'name (unit)'."),
            click.Option(["--output", "target"], type=click.Path(path_type=Path), metavar="FILE.csv|parquet",
                         help="Where the rows go with the values added."),
        ]  # fmt: skip

    def _answer(self, as_json: bool, working: bool, **given: Any) -> int:
        source, target = given.pop("source"), given.pop("target")
        if source is None and target is None:
            typed = {name: value for name, value in given.items() if value is not None}
            return engines.show(asking.ask("gas budget", typed), as_json, working)
        if source is None or target is None:
            raise click.UsageError(
                "--input and --output go together: rows come from one file and go to another"
            )
        done = bulk.gas_budget(
            source, target, {name: value for name, value in given.items() if value is not None}
        )
        if as_json:
            voice.say_json(
                {"rows": done.rows, "output": str(target), "findings": [f.as_json() for f in done.findings]}
            )
        else:
            voice.show_findings(done.findings)
            voice.say(f"{done.rows} rows written to {target}")
        return engines.weigh(done.findings)

"""``read`` and ``note``: one thing written into the logbook by hand."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import click

from brinehouse.cli import voice
from brinehouse.workbench import hall as halls
from brinehouse.workbench import logging_book, times, typed

_BELOW_ZERO = re.compile(r"-[.,]?\d")
_KEPT = "\ue000"  # a sign that nobody types


class Plain(click.Command):
    """A command whose arguments may begin with a minus sign: ``-1.2 °C`` is a value and no option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Hide such values from the search for options."""
        hidden = [_KEPT + text if _BELOW_ZERO.match(text) else text for text in args]
        rest = super().parse_args(ctx, hidden)
        for name, value in ctx.params.items():
            if isinstance(value, str | Path):
                ctx.params[name] = type(value)(str(value).removeprefix(_KEPT))
        return rest


@click.command(cls=Plain)
@click.argument("place")
@click.argument("quantity")
@click.argument("value")
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--at", help="When it was taken, in the hall's zone: '2026-03-14 06:40'. Now where left out.")
@click.option("--with", "instrument", default="", help="The meter, by its id in the facility file.")
@click.option("--depth", default="", help="Depth below the surface, e.g. '0.4 m'.")
@click.option("--basis", default="", help="As 'N' or as 'ion'; a barometer's 'air' or 'sea level'.")
@click.option("--by", default="", help="Who took it.")
@click.option("--note", default="", help="A remark.")
@click.option("--keep", "reason", help="Keep an unusual value, with the reason why it is so.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def read(place: str, quantity: str, value: str, folder: Path, at: str | None, instrument: str, depth: str,
         basis: str, by: str, note: str, reason: str | None, as_json: bool) -> int:  # fmt: skip
    """Write one reading: brinehouse read mangrove temperature "25.4 °C" --by Lark.

    VALUE is a number with its unit, a bound ("<0.02 mg/L") or "not measured: why".
    """
    with halls.open_hall(folder) as hall:
        made = typed.understand(
            hall.facility,
            place=place,
            quantity=quantity,
            text=value,
            at=times.local(at, hall.facility.timezone) if at else None,
            instrument=instrument,
            depth=depth,
            basis=basis,
            note=note,
            sure=bool(reason and reason.strip()),
            reason=reason or "",
        )
        stored = None
        if made.reading is not None and not made.ask and not made.refused:
            person = logging_book.person(hall, by)
            stored = hall.write([dataclasses.replace(made.reading, person=person)], person=person)[0]
    if as_json:
        voice.say_json(
            {
                "stored": stored is not None,
                "id": stored.id if stored else None,
                "findings": [finding.as_json() for finding in made.findings],
            }
        )
    else:
        voice.show_findings(made.findings)
        if stored is not None and (kept := made.reading) is not None:
            voice.say(f"stored: {kept.place} {kept.quantity} {kept.text}  (entry {stored.seq})")
        elif made.ask:
            voice.say("not stored yet: say --keep 'the reason' if it is so")
    return 0 if stored is not None else 1 if made.ask else 2


@click.command(cls=Plain)
@click.argument("text")
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--place", default="", help="The tank or sump it is about.")
@click.option(
    "--kind", default="note", type=click.Choice(["note", "event", "observation"]), help="What it is."
)
@click.option("--at", help="When it was so, in the hall's zone. Now where left out.")
@click.option("--by", default="", help="Who wrote it.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def note(text: str, folder: Path, place: str, kind: str, at: str | None, by: str, as_json: bool) -> int:
    """Write a note, an event or an observation: brinehouse note "strainer cleaned" --kind event."""
    with halls.open_hall(folder) as hall:
        when = times.local(at, hall.facility.timezone) if at else None
        stored = logging_book.note(hall, text, kind=kind, at=when, about=place, by=by)
    if as_json:
        voice.say_json({"stored": True, "id": stored.id})
    else:
        voice.say(f"stored: {kind} (entry {stored.seq})")
    return 0

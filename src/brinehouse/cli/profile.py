"""``profile``: each system drawn the way its water goes, as a table or as an SVG file."""

from __future__ import annotations

from pathlib import Path

import click

from brinehouse import findings
from brinehouse.cli import voice


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--system", default="", help="One system; the one that matters most where left out.")
@click.option(
    "--what-if", "what_if", type=click.Path(path_type=Path), metavar="FILE", help="A list of changes."
)
@click.option(
    "--svg", "target", type=click.Path(path_type=Path), metavar="OUT.svg", help="Where the drawing goes."
)
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def profile(folder: Path, system: str, what_if: Path | None, target: Path | None, as_json: bool) -> int:
    """The loop profile: heights, static head, gas line, and which animals stand above it."""
    from brinehouse.web import catalogue, loop_sheet, loop_words
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import loop, mishaps

    with halls.open_hall(folder) as hall:
        changes = _text(what_if) if what_if is not None else ""
        name = str(what_if or "what-if")
        look = loop.look(hall, what_if=changes, name=name)
        if changes.strip() and any(one.then for one in look.systems):
            predicted = loop.foreseen(loop.sources(hall, changes, name), changes, name)
            look = loop.look(hall, what_if=changes, name=name, predicted=predicted)
        facility = hall.facility
    say = loop_words.Say(catalogue.Words(facility.language), look.display, facility.timezone)
    if system and system not in {one.profile.system for one in look.systems}:
        raise mishaps.Refused(_unknown(system, [one.profile.system for one in look.systems]))
    shown = [
        one for one in sorted(look.systems, key=lambda one: one.weight) if system in ("", one.profile.system)
    ]
    if target is not None and shown:
        from brinehouse.web import loop_file, sheets

        as_of = sheets.clocktime(look.as_of, facility.timezone) or "–"
        target.write_text(loop_file.drawing(shown[0], say, facility.name, as_of), "utf-8")
    if as_json:
        voice.say_json(look.as_json())
    else:
        voice.show_findings((*look.met, *look.findings))
        for text in look.said:
            voice.say(text)
        for one in shown[:1] if target is not None else shown:
            voice.say(voice.paragraph(loop_sheet.title(one, say.t, say)))
            if target is None:
                voice.say(_table(one, say))
        if target is not None and shown:
            voice.say(f"drawn to {target}")
    heavy = any(one.above is not None and one.above > 0.0 for one in shown)
    return 2 if any(one.level is findings.Level.STOP for one in look.met) else 1 if heavy else 0


def _text(path: Path) -> str:
    from brinehouse.workbench import mishaps

    try:
        return path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        why = getattr(fault, "strerror", None) or "it is no text in UTF-8"
        raise mishaps.Refused(
            findings.Finding(
                code="loop/no-list",
                level=findings.Level.STOP,
                text=f"{path} could not be read: {why}",
                hint="name a text file with one change a line",
            )
        ) from fault


def _unknown(system: str, known: list[str]) -> findings.Finding:
    return findings.Finding(
        code="loop/no-system",
        level=findings.Level.STOP,
        text=f"'{system}' is not a system that can be drawn",
        hint=f"write one of: {', '.join(known)}" if known else "write the runs between its places first",
    )


def _table(one: object, say: object) -> str:
    from brinehouse.web import loop_sheet

    rows = loop_sheet.lines(one, say)  # pyright: ignore[reportArgumentType]
    heads = ["", "", "pipe m", "static head m", "gas line m", "ΔP", ""]
    body = [
        [
            row.what,
            row.where,
            row.pipe,
            row.head,
            row.line,
            row.gas,
            f"{voice.MARKS[row.level]} {row.verdict}" if row.level else row.verdict,
        ]
        for row in rows
    ]
    return voice.table(heads, body, frozenset({2, 3, 4, 5}))

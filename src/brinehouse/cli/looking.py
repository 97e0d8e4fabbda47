"""``now``, ``log`` and ``verify``: what stands."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import click

from brinehouse.cli import voice
from brinehouse.workbench import clock, concerns, logging_book, mishaps
from brinehouse.workbench import hall as halls
from brinehouse.workbench import now as looking


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def now(folder: Path, as_json: bool) -> int:
    """What is not as it should be, oldest first; then the water, each tank in one line."""
    with halls.open_hall(folder) as hall:
        zone = ZoneInfo(hall.facility.timezone)
        sheet = looking.look(hall, concerns.of(hall))
    if as_json:
        voice.say_json(looking.as_json(sheet))
        return 1 if sheet.concerns else 0
    voice.say(looking.title(sheet))
    this_year = f"{clock.now().astimezone(zone):%Y}"
    for concern in sheet.concerns:
        since = concern.since.astimezone(zone)
        when = f"{since:%d %b %H:%M}" if f"{since:%Y}" == this_year else f"{since:%d %b %Y %H:%M}"
        voice.say(f"\n{voice.marked(concern.level)} {when}  {concern.what} {concern.value}".rstrip())
        for line in (concern.why, f"do next: {concern.next}" if concern.next else ""):
            if line:
                voice.say(voice.paragraph(line, 2))
    for system, lines in sheet.lines.items():
        voice.say(f"\n{system}")
        voice.say(_water(lines))
    return 1 if sheet.concerns else 0


def _water(lines: Sequence[looking.Line]) -> str:
    """The tanks of one system, with a column for what was read in any of them."""
    shown = [quantity for quantity in looking.WATER if any(quantity in line.cells for line in lines)]
    if not shown:
        names = ", ".join(line.name for line in lines)
        return voice.paragraph(f"{names}: nothing read in the last {looking.LOOK_BACK.days} days", 2)
    rows = [[line.name, *(_cell(line, quantity) for quantity in shown)] for line in lines]
    return voice.table(["tank", *shown], rows, frozenset(range(1, 1 + len(shown))))


def _cell(line: looking.Line, quantity: str) -> str:
    cell = line.cells.get(quantity)
    if cell is None:
        return ""
    unit = "" if cell.unit == "1" else f" {cell.unit}"
    mark = f"{voice.MARKS[cell.level.value]} " if cell.level else ""
    return f"{mark}{voice.number(cell.value, cell.decimals)}{unit}{' (old)' if cell.stale else ''}"


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--place", default="", help="One place.")
@click.option("--quantity", default="", help="One quantity.")
@click.option("--instrument", default="", help="One meter.")
@click.option("--kind", default="", help="reading, event, gas-trial, instrument-check, feeding ...")
@click.option("--since", default="", help="From this day on.")
@click.option("--until", default="", help="Up to this day.")
@click.option("--all-versions", is_flag=True, help="Also what was superseded or taken back.")
@click.option(
    "--rows", default=40, show_default=True, type=click.IntRange(1, 100_000), help="How many, newest first."
)
@click.option("--trail", "trail_of", help="Every version of one entry, by its id.")
@click.option("--supersede", "corrected", help="Correct the entry of this id; needs --reason.")
@click.option("--value", help="With --supersede: the right value with its unit.")
@click.option("--at", help="With --supersede: the right time.")
@click.option("--to-place", help="With --supersede: the right place.")
@click.option("--taken-by", help="With --supersede: who took it.")
@click.option("--keep", is_flag=True, help="With --supersede: the value is unusual and it is so.")
@click.option("--withdraw", is_flag=True, help="With --supersede: take the entry back.")
@click.option("--reason", default="", help="Why.")
@click.option("--by", default="", help="Who corrects.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def log(folder: Path, trail_of: str | None, corrected: str | None, rows: int, as_json: bool,
        all_versions: bool, withdraw: bool, keep: bool, value: str | None, at: str | None,
        to_place: str | None, taken_by: str | None, reason: str, by: str, **filters: str) -> int:  # fmt: skip
    """Show the logbook: what was written down, every version of it; correct an entry with a reason."""
    with halls.open_hall(folder) as hall:
        if trail_of:
            return _trail(hall, trail_of, as_json)
        if corrected:
            given = {"value": value, "at": at, "place": to_place, "taken_by": taken_by, "by": by,
                     "reason": reason, "withdraw": withdraw, "sure": keep}  # fmt: skip
            return _correct(
                hall, corrected, {name: str(text) for name, text in given.items() if text}, as_json
            )
        wanted = logging_book.Wanted(**filters, all_versions=all_versions)  # pyright: ignore[reportArgumentType]
        if found := logging_book.faults(hall, wanted):
            raise mishaps.Refused(*found)
        shown = logging_book.look(hall, wanted, size=rows)
        zone = ZoneInfo(hall.facility.timezone)
    if as_json:
        voice.say_json({"rows": [logging_book.row_json(row) for row in shown.rows], "more": shown.more})
        return 0
    body = [
        [f"{row.measured.astimezone(zone):%Y-%m-%d %H:%M}", row.place, row.what, row.text, row.instrument,
         row.by, "" if row.quality == "good" else row.quality, row.id[:8]]
        for row in shown.rows
    ]  # fmt: skip
    voice.say(voice.table(["when", "place", "what", "reads", "with", "by", "", "id"], body))
    if shown.more:
        voice.say(f"and more: --rows {rows * 2}")
    return 0


def _trail(hall: halls.Hall, id: str, as_json: bool) -> int:
    found = logging_book.trail(hall, logging_book.whole_id(hall, id))
    if as_json:
        voice.say_json(
            {"versions": [logging_book.version_json(version, found.names) for version in found.versions]}
        )
        return 0
    zone = ZoneInfo(hall.facility.timezone)
    rows = [
        [str(version.seq), f"{version.entered.astimezone(zone):%Y-%m-%d %H:%M}",
         found.names.get(version.person or 0, ""), logging_book.says(version.fact), version.reason,
         "stands" if version.stands else "superseded"]
        for version in found.versions
    ]  # fmt: skip
    voice.say(voice.table(["entry", "written", "by", "says", "why", ""], rows))
    return 0


def _correct(hall: halls.Hall, id: str, given: dict[str, str], as_json: bool) -> int:
    from brinehouse.workbench import times

    at = times.local(given["at"], hall.facility.timezone) if "at" in given else None
    done = logging_book.supersede(hall, logging_book.whole_id(hall, id), given, at)
    if as_json:
        voice.say_json({"id": done.id, "findings": [finding.as_json() for finding in done.findings]})
    elif done.findings:
        voice.show_findings(done.findings)
    else:
        voice.say(f"stored as {done.id[:8]}; the old version stays in the trail")
    return 2 if done.findings else 0


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--against", help="A head printed earlier, 'number:hash' (the first 12 digits will do).")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def verify(folder: Path, against: str | None, as_json: bool) -> int:
    """Walk the chain of the logbook: was anything changed, taken out or cut off."""
    with halls.open_hall(folder) as hall:
        found, (seq, digest) = logging_book.verify(hall, against)
    if as_json:
        voice.say_json({"head": f"{seq}:{digest}", "findings": [finding.as_json() for finding in found]})
    else:
        voice.show_findings(found)
        whole = "" if found else "every entry is as it was written; "
        voice.say(f"{whole}head {seq}:{digest[:12]}")
    return 1 if found else 0

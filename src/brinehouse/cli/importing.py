"""``import`` and ``imports``: files of readings, looked at first, and taken back whole."""

from __future__ import annotations

from pathlib import Path

import click

from brinehouse.cli import voice
from brinehouse.workbench import hall as halls
from brinehouse.workbench import importing

_STATUS = {"accept": 0, "accept-with-note": 0, "ask": 1, "reject-rows": 1, "reject-file": 2}


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Look at the file and store nothing.")
@click.option("--map", "maps", multiple=True, metavar="COLUMN=QUANTITY[, at PLACE][, with METER]",
              help="What a column holds; 'COLUMN=leave out' leaves it out.")  # fmt: skip
@click.option("--answer", "answers", multiple=True, metavar="KEY=VALUE", help="An answer to what was asked.")
@click.option("--at", default="", help="Where, for a file that does not say.")
@click.option("--with", "meter", default="", help="The meter, for a file that does not say.")
@click.option("--by", default="", help="Who sends it; also who read, for a file that does not say.")
@click.option("--keep-good", is_flag=True, help="Store the good rows although others are refused.")
@click.option("--json", "as_json", is_flag=True, help="As JSON, with every finding.")
def import_(file: Path, folder: Path, dry_run: bool, maps: tuple[str, ...], answers: tuple[str, ...], at: str,
            meter: str, by: str, keep_good: bool, as_json: bool) -> int:  # fmt: skip
    """Readings from a CSV, XLSX or JSON file: brinehouse import march.csv --dry-run.

    All or nothing: every fault is shown with its line, and nothing is stored while one stands. Exit status:
    0 accepted, 1 a question is open or rows are refused, 2 the file is refused.

    A question names its KEY: decimal, encoding, time, dates, hour, fold, gap, zone, sheet, hidden, unit:C,
    basis:nitrate, person:NAME, unit@6-8, value@5. Answers are kept for later files of the same kind.
    """
    told = _told(maps, answers, {"at": at, "with": meter, "by": by})
    if by and not importing.is_automatic(by):
        told.setdefault(f"person:{by}", "new")
    stored = None
    with halls.open_hall(folder) as hall:
        seen = importing.examine_file(hall, file, told)
        kept = seen.count and (seen.may_store or (keep_good and seen.verdict == "reject-rows"))
        if kept and not dry_run:
            stored = importing.store(hall, seen, by=by, keep_good=keep_good)
    if as_json:
        voice.say_json(importing.as_json(seen, stored))
    else:
        _show(seen, stored, dry_run=dry_run)
    return _STATUS[seen.verdict]


def _told(maps: tuple[str, ...], answers: tuple[str, ...], whole: dict[str, str]) -> dict[str, str]:
    told = {key: text for key, text in whole.items() if text}
    for prefix, given, option in (("map:", maps, "--map"), ("", answers, "--answer")):
        for text in given:
            key, sign, value = text.rpartition("=") if prefix else text.partition("=")
            if not sign or not key:
                raise click.UsageError(f"{option} is written like {option} 'NAME=VALUE'; got {text[:60]!r}")
            told[prefix + key.strip()] = value.strip()
    return told


def _show(seen: importing.Examined, stored: importing.Stored | None, *, dry_run: bool) -> None:
    voice.show_findings(seen.findings)
    rest = {
        code: count
        for code, count in seen.counts.items()
        if count > sum(f.code == code for f in seen.findings)
    }
    for code, count in rest.items():
        voice.say(f"{count} of this kind in all  [{code}]")
    rows = "row" if seen.rows == 1 else "rows"
    if stored is None:
        what = {
            "accept": "all may be stored", "accept-with-note": f"{seen.rows_ok} may be stored",
            "ask": f"nothing is stored before the questions are answered ({seen.rows_ok} are not in doubt)",
            "reject-rows": f"{seen.rows_ok} are good; nothing is stored unless you say --keep-good",
            "reject-file": "the file is refused and nothing is stored",
        }[seen.verdict]  # fmt: skip
        voice.say(f"{seen.rows} {rows} read, {what}{' (dry run)' if dry_run else ''}")
        return
    more = "" if seen.count == seen.rows_ok else f" as {seen.count} readings"
    parts = [f"{seen.rows} {rows} read{more}, {stored.new} stored"]
    if stored.same:
        parts.append(f"{stored.same} stored before from this file")
    if stored.known:
        parts.append(f"{stored.known} left out: the logbook has the same reading from elsewhere")
    if stored.conflicts:
        parts.append(f"{stored.conflicts} kept aside: their id holds something else")
    voice.say("; ".join(parts) + ("" if not stored.new else f"  (import {stored.import_id[:8]})"))


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--withdraw", "taken", metavar="ID", help="Take back every row of an import.")
@click.option("--bring-back", "back", metavar="ID", help="Undo taking one back.")
@click.option("--reason", default="", help="Why.")
@click.option("--by", default="", help="Who does it.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def imports(folder: Path, taken: str | None, back: str | None, reason: str, by: str, as_json: bool) -> int:
    """What was imported; --withdraw ID --reason "wrong tank" takes one back whole."""
    if (taken or back) and not reason.strip():
        raise click.UsageError("say why with --reason")
    with halls.open_hall(folder) as hall:
        if taken:
            done = importing.take_back(hall, taken, reason, by=by)
            _say_done(done, "taken back; its rows stay in the trail", as_json=as_json)
            return 0
        if back:
            done = importing.bring_back(hall, back, reason, by=by)
            _say_done(done, "brought back", as_json=as_json)
            return 0
        found = importing.imports(hall)
    if as_json:
        voice.say_json(
            [
                {"id": one.id, "file": one.name, "sha256": one.sha256, "bytes": one.size,
                 "readings": one.rows, "at": one.at.isoformat(), "withdrawn": one.withdrawn}
                for one in found
            ]
        )  # fmt: skip
    elif not found:
        voice.say("nothing was imported yet")
    else:
        rows = [
            [
                one.id[:8],
                f"{one.at:%Y-%m-%d %H:%M}",
                str(one.rows),
                "taken back" if one.withdrawn else "",
                one.name,
            ]
            for one in found
        ]
        voice.say(voice.table(["import", "taken in (UTC)", "readings", "", "file"], rows, frozenset({2})))
    return 0


def _say_done(import_id: str, what: str, *, as_json: bool) -> None:
    if as_json:
        voice.say_json({"import": import_id, "done": what})
    else:
        voice.say(f"import {import_id[:8]} {what}")

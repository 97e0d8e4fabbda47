"""``balance``: where the water settles, and what a change would do, today beside then."""

from __future__ import annotations

from pathlib import Path

import click

from brinehouse import answers, findings
from brinehouse.cli import voice
from brinehouse.workbench import balance as balances
from brinehouse.workbench import hall as halls
from brinehouse.workbench import mishaps

SHOWN = ("temperature", "oxygen", "tgp", "ph", "ammonia", "nitrate")
SHORT = {
    "temperature ": "",
    "total gas pressure": "TGP",
    ", as N": "",
    "un-ionised ammonia": "NH3-N",
    "nitrate": "NO3-N",
}
MOST = 14
HEAVY = (findings.Level.ACT, findings.Level.ASK, findings.Level.WATCH)


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option(
    "--what-if",
    "listed",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A list of changes: [[set]], [[add]], [[remove]], [[reroute]], or one typed change a line.",
)
@click.option(
    "--change",
    "typed",
    multiple=True,
    metavar="CHANGE",
    help="One change as typed, e.g. 'remove column-m'; may be given several times.",
)
@click.option("--working", is_flag=True, help="How each number came about.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def balance(folder: Path, listed: Path | None, typed: tuple[str, ...], working: bool, as_json: bool) -> int:
    """Where the water settles, how long it takes and what holds it there; with changes, today beside then.

    Nothing is changed: neither the facility file nor the plant.
    """  # fmt: skip
    if listed is not None and typed:
        raise click.UsageError("--what-if and --change do not go together: write all changes in the file")
    changes = balances.read(listed) if listed is not None else None
    if typed:
        changes = balances.parse("\n".join(typed), "change")
    with halls.open_hall(folder) as hall:
        answer = balances.survey(hall, changes)
        names = {vessel.id: vessel.name for vessel in hall.facility.places}
    stopped = [found for found in answer.findings if found.level is findings.Level.STOP]
    if stopped:
        raise mishaps.Refused(*stopped)
    if as_json:
        voice.say_json(answer.as_json())
    else:
        show(answer, names)
        if working:
            voice.show_working(answer)
    return 1 if any(found.level in HEAVY for found in answer.findings) else 0


def show(answer: answers.Answer, names: dict[str, str]) -> None:
    """The balance in the terminal's voice."""
    voice.say(voice.paragraph(answer.sentence))
    tables = {table.name: table for table in answer.tables}
    if "said" in tables:
        voice.say("\nWhat would be different")
        for row in tables["said"].rows:
            voice.say(voice.hanging("", str(row["sentence"])))
    if "differences" in tables:
        _differences(answer, tables["differences"], names)
    _places(answer, tables["places"], names)
    heavy = [found for found in answer.findings if found.level in HEAVY]
    light = [found for found in answer.findings if found.level not in HEAVY]
    if answer.findings:
        voice.say()
    for found in (*heavy, *light):
        voice.say(voice.hanging(f"{voice.marked(found.level)} ", found.text))
    _assumed(tables["assumptions"])
    voice.show_advice(answer)


def _label(answer: answers.Answer, quantity: str) -> answers.Output:
    return next(output for output in answer.question.outputs if output.name == quantity)


def _cell(value: object, decimals: int) -> str:
    return voice.with_interval(value, decimals) if isinstance(value, answers.Value) else ""


def _mark(level: object) -> str:
    return f"{voice.MARKS[str(level)]} " if level else ""


def _differences(answer: answers.Answer, table: answers.Table, names: dict[str, str]) -> None:
    rows: list[list[str]] = []
    for row in table.rows[:MOST]:
        output = _label(answer, str(row["quantity"]))
        unit = "" if output.unit == "1" else f" {output.unit}"
        settles = row.get("settles")
        rows.append(
            [
                _mark(row["level"]) + names.get(str(row["place"]), str(row["place"])),
                output.label + unit,
                *(_cell(row.get(name), output.decimals) for name in ("today", "then", "difference")),
                span(settles.value) if isinstance(settles, answers.Value) else "",
            ]
        )
    voice.say("\nWhat the change moves")
    if rows:
        head = ["", "", "today", "then", "difference", "settles in"]
        voice.say(voice.table(head, rows, frozenset({2, 3, 4, 5})))
    else:
        voice.say(voice.hanging("", "no quantity by more than these numbers can tell"))


def _places(answer: answers.Answer, table: answers.Table, names: dict[str, str]) -> None:
    by_place: dict[str, dict[str, dict[str, object]]] = {}
    for row in table.rows:
        by_place.setdefault(str(row["place"]), {})[str(row["quantity"])] = dict(row)
    outputs = [_label(answer, name) for name in SHOWN]
    rows: list[list[str]] = []
    for place, told in by_place.items():
        levels = {str(row["level"]) for row in told.values()}
        level = "act" if "act" in levels else "watch" if "watch" in levels else ""
        cells = [
            _cell((told[output.name].get("then") or told[output.name]["today"]), output.decimals)
            if output.name in told
            else ""
            for output in outputs
        ]
        rows.append([_mark(level) + names.get(place, place), *cells])
    heads = ["", *(f"{output.label} {output.unit}".removesuffix(" 1") for output in outputs)]
    for long, short in SHORT.items():
        heads = [head.replace(long, short) for head in heads]
    voice.say(
        "\nWhere the water settles" if answer.state != "compared" else "\nWhere all the water would settle"
    )
    voice.say(voice.table(heads, rows, frozenset(range(1, len(heads)))))


def span(hours: float | None) -> str:
    """A time in the unit that suits it.

    >>> span(3.2), span(72.0)
    ('3 h', '3 d')
    """
    if hours is None:
        return ""
    return f"{hours:.1f} h" if hours < 1.5 else f"{hours:.0f} h" if hours < 48.0 else f"{hours / 24.0:.0f} d"


def _assumed(table: answers.Table) -> None:
    told = [row for row in table.rows if row["bears"]][:3]
    if told:
        voice.say("\nWhat was assumed and matters most")
    for row in told:
        value = row["value"]
        unit = value.unit if isinstance(value, answers.Value) and value.unit != "1" else ""
        shown = f"{_cell(value, 2)} {unit}".rstrip()
        voice.say(voice.hanging("", f"{row['assumed']}, {shown}: {row['bears']} ({row['source']})"))

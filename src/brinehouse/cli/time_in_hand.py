"""``time-in-hand``: every failure, how long the animals have, what to do first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import click

from brinehouse import findings
from brinehouse.cli import voice
from brinehouse.facility import model
from brinehouse.workbench import hall as halls
from brinehouse.workbench import time_in_hand as hands
from brinehouse.workbench import time_told

MOST = 20
HEAVY = (findings.Level.ACT, findings.Level.ASK, findings.Level.WATCH)


@click.command("time-in-hand")
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--pairs", is_flag=True, help="All pairs of failures as well.")
@click.option(
    "--from",
    "begin",
    type=click.Choice(["now", "worst"]),
    default="now",
    help="From the water as it is now, or from the worst hour of the day.",
)
@click.option(
    "--within",
    type=click.FloatRange(0.0, time_told.HOURS, min_open=True),
    default=time_told.LESS_THAN,
    show_default=True,
    metavar="HOURS",
    help="Tell the sets of failures that leave less than this.",
)
@click.option("--failure", metavar="ID", help="One failure, or two joined by ' + ': its limits and steps.")
@click.option("--intervals", is_flag=True, help="Wait until the intervals are computed.")
@click.option("--all", "whole", is_flag=True, help="Every failure, also those that cross no limit.")
@click.option("--working", is_flag=True, help="How the hours came about.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def time_in_hand(
    folder: Path,
    pairs: bool,
    begin: time_told.Begin,
    within: float,
    failure: str | None,
    intervals: bool,
    whole: bool,
    working: bool,
    as_json: bool,
) -> int:
    """Every failure: hours until the first limit if nobody does anything, and what to do first.

    Shortest first. Times count from the failure; what helps counts from when somebody stands at the plant.
    """
    wanted = time_told.Wanted(begin=begin, pairs=pairs or " + " in (failure or ""), within=within)
    with halls.open_hall(folder) as hall:
        found = hands.survey(hall, wanted, ahead=False, wait=intervals)
        facility = hall.facility
    one = time_told.needed(found.table, failure) if failure else None
    if as_json:
        voice.say_json(time_told.as_json(found.table, found.sentence, facility, only=one))
    elif one is not None:
        show_one(found, one, facility)
    else:
        show(found, facility, pairs=pairs, whole=whole)
    if working and not as_json:
        voice.show_working(found.answer)
    return 1 if any(told.level in HEAVY for told in found.table.findings) else 0


def show(found: hands.Found, facility: model.Facility, *, pairs: bool, whole: bool) -> None:
    """The table in the terminal's voice."""
    table = found.table
    voice.say(voice.paragraph(found.sentence))
    voice.say(voice.paragraph(f"Worked out {table.start.text}, with nobody doing anything."))
    voice.say(voice.paragraph(f"{span(time_told.lost(table))} pass until somebody stands at the plant."))
    _rows("One failure, shortest first", found, table.rows, facility, whole)
    if pairs:
        _rows("Two at once, shortest first", found, table.pairs, facility, whole)
    _unseen(table)
    _sets(table, facility)
    quiet = [row for row in table.rows if row.first is None and row.noticed]
    if quiet and not whole:
        voice.say(
            voice.paragraph(
                f"\n{_count(len(quiet))} no limit within {table.asked.hours:.0f} h; --all shows them."
            )
        )
    _told(found)


def _count(number: int) -> str:
    return "1 failure crosses" if number == 1 else f"{number} failures cross"


def _rows(
    title: str, found: hands.Found, rows: Sequence[time_told.Row], facility: model.Facility, whole: bool
) -> None:
    shown = [row for row in rows if row.noticed and (whole or row.first is not None)]
    voice.say(f"\n{title}")
    if not shown:
        voice.say(voice.hanging("", f"none crosses a limit within {found.table.asked.hours:.0f} h"))
        return
    cells = [_row(found.table, row, facility) for row in (shown if whole else shown[:MOST])]
    head = ["", "in hand", "95 %", "first limit", "helps most", ""]
    if not any(row[2] for row in cells):  # intervals are not there
        head, cells = [*head[:2], *head[3:]], [[*row[:2], *row[3:]] for row in cells]
    voice.say(voice.table(head, cells, frozenset({1, 2} if len(head) == 6 else {1})))
    if len(cells) < len(shown):
        voice.say(
            voice.hanging("", f"and {len(shown) - len(cells)} more, which leave longer; --all shows them")
        )


def _row(table: time_told.Table, row: time_told.Row, facility: model.Facility) -> list[str]:
    level = time_told.level(row, table)
    best = row.helps[0] if row.helps else None
    first = row.first
    margin = row.least_margins[0] if row.least_margins else None
    if first is not None:
        limit = time_told.limit_at(first.line, facility)
    else:
        limit = f"({time_told.limit_at(margin.line, facility)})" if margin else ""
    return [
        (f"{voice.MARKS[level]} " if level else "") + row.title,
        span(row.hours) if first else f"> {table.asked.hours:.0f} h",
        interval(first, table) if first else "",
        limit,
        best.title if best else "",
        gain(best.gained) if best else "",
    ]


def _unseen(table: time_told.Table) -> None:
    hidden = [row for row in table.rows if not row.noticed]
    if not hidden:
        return
    voice.say("\nWhat nobody would notice")
    titles = {row.id: row.title for row in table.rows}
    for row in hidden:
        bites = "; ".join(titles.get(id, id) for id in row.bites_with)
        voice.say(
            voice.hanging("", f"{row.title}: " + (f"bites when {bites}" if bites else "bites with nothing"))
        )


def _sets(table: time_told.Table, facility: model.Facility) -> None:
    pairs = time_told.sets_of_two(table)
    voice.say(f"\nWhat leaves less than {table.asked.less_than:g} h")
    voice.say(voice.hanging("", f"{len(table.cut_sets) - len(pairs)} failures alone, as above"))
    if not table.asked.pairs:
        voice.say(voice.hanging("", "--pairs looks at every two at once"))
    rows = [
        [" and ".join(one.titles), span(one.hours), time_told.limit_at(one.crossing.line, facility)]
        for one in pairs[:MOST]
    ]
    if rows:
        voice.say(voice.table(["two at once", "in hand", "first limit"], rows, frozenset({1})))
    if len(pairs) > MOST:
        voice.say(voice.hanging("", f"and {len(pairs) - MOST} more"))
    parts = ", ".join(f"{one.name} ({one.sets} of {one.of})" for one in list(table.parts)[:5])
    if parts:
        voice.say(voice.hanging("", f"parts that stand in most of them: {parts}"))


def _told(found: hands.Found) -> None:
    table = found.table
    heavy = [one for one in table.findings if one.level in HEAVY]
    if heavy:
        voice.say()
    for one in heavy:
        voice.say(voice.hanging(f"{voice.marked(one.level)} ", one.text))
    if table.intervals != "ready":
        voice.say("\nIntervals are not computed; --intervals waits for them.")
    voice.say("\nWhat was assumed")
    for assumed in table.assumed:
        unit = "" if assumed.unit in ("", "1", "-") else f" {assumed.unit}"
        voice.say(voice.hanging("", f"{assumed.what}: {assumed.value:.4g}{unit} ({assumed.source})"))
    voice.show_advice(found.answer)


def show_one(found: hands.Found, row: time_told.Row, facility: model.Facility) -> None:
    """One failure: what is reached when, and what to do first."""
    table = found.table
    voice.say(voice.paragraph(f"{row.title}: {first_said(table, row, facility)}"))
    voice.say(voice.paragraph(f"Worked out {table.start.text}, with nobody doing anything."))
    voice.say("\nWhat to do first")
    for number, step in enumerate(time_told.first_steps(table, row), 1):
        brings = f" ({gain(step.gained)})" if step.gained is not None else ""
        voice.say(voice.hanging(f"{number}  ", f"{step.text}{brings}"))
    reached = sorted([*row.crossings, *row.signs], key=lambda one: one.hours)
    if reached:
        voice.say("\nWhat is reached, and when")
        cells = [
            [time_told.limit_at(one.line, facility), span(one.hours), interval(one, table), _remark(one)]
            for one in reached
        ]
        voice.say(voice.table(["", "after", "95 %", ""], cells, frozenset({1, 2})))
    if row.least_margins:
        voice.say("\nHow near the other limits come")
        cells = [
            [time_told.limit_at(one.line, facility), f"{one.margin:.3g} {one.line.unit}", span(one.hours)]
            for one in row.least_margins[:MOST]
        ]
        voice.say(voice.table(["", "away", "after"], cells, frozenset({1, 2})))
    _told(found)


def _remark(one: time_told.Crossing) -> str:
    if one.anyway:
        return "comes without this failure too"
    return "a first sign" if one.line.band == "watch" else ""


def first_said(table: time_told.Table, row: time_told.Row, facility: model.Facility) -> str:
    """Hours and first limit of a failure in words."""
    if row.first is None:
        return f"no limit is reached within {table.asked.hours:.0f} h."
    return f"{span(row.hours)} until {time_told.limit_at(row.first.line, facility)}."


def interval(one: time_told.Crossing, table: time_told.Table) -> str:
    """The 95 % interval of a crossing, empty where it is not computed."""
    if one.low is None:
        return ""
    if one.high is None or math.isinf(one.high):
        return f"{span(one.low)} … > {table.asked.hours:.0f} h"
    return f"{span(one.low)} … {span(one.high)}"


def gain(hours: float | None) -> str:
    """What a step brings.

    >>> gain(3.2), gain(float("inf")), gain(None)
    ('gains 3.2 h', 'then none is reached', '')
    """
    if hours is None:
        return ""
    return f"gains {span(hours)}" if math.isfinite(hours) else "then none is reached"


def span(hours: float) -> str:
    """A time in hand: minutes below an hour.

    >>> span(0.2), span(2.34), span(26.0), span(float("inf"))
    ('12 min', '2.3 h', '26 h', '')
    """
    if not math.isfinite(hours):
        return ""
    if hours < 0.99:
        return f"{hours * 60.0:.{1 if 0.0 < hours * 60.0 < 9.95 else 0}f} min"
    return f"{hours:.1f} h" if hours < 10.0 else f"{hours:.0f} h"

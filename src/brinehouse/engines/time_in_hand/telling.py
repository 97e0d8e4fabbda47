"""The table told as an answer: a sentence, tables any face can show, findings, working, what was assumed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from brinehouse import answers, findings
from brinehouse.engines.time_in_hand import helping, limits, question, sampling, tabling
from brinehouse.facility import model

COMMON = "common practice, no source"
MOST = 12  # findings of one kind; the rest is counted
_ACT, _NOTE, _WATCH = findings.Level.ACT, findings.Level.NOTE, findings.Level.WATCH


def span(hours: float) -> str:
    """A time as a keeper says it.

    >>> span(0.004), span(0.3), span(3.26), span(30.4), span(math.inf)
    ('at once', '18 min', '3 h 16 min', '30 h', 'not within the time looked at')
    """
    if math.isinf(hours):
        return "not within the time looked at"
    minutes = round(hours * 60.0)
    if minutes < 1:
        return "at once"
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 600:
        return f"{minutes // 60} h {minutes % 60} min" if minutes % 60 else f"{minutes // 60} h"
    return f"{hours:.0f} h"


def crossing_said(facility: model.Facility, one: question.Crossing) -> str:
    """A crossing in a few words: oxygen at Mangrove is below 4.5 mg/L."""
    return line_said(facility, one.line)


def line_said(facility: model.Facility, line: question.Line) -> str:
    """A limit in a few words, with what and where.

    For levels: that a place runs over, is dry, or lies bare.
    """
    if line.quantity == "level":
        return f"{facility.vessels[line.place].name} {_LEVELS[line.band]} {line.text}"
    return f"{limits.WORDS[line.quantity].label} at {facility.vessels[line.place].name} is {line.text}"


_LEVELS = {"spills": "runs", "dry": "is", "uncovered": "is", "act": "is", "watch": "is"}

# -- sentence and state ----------------------------------------------------------------------------------


def sentence(table: question.Table) -> str:
    """The answer in one sentence."""
    facility, rows = table.asked.facility, table.rows
    if not rows:
        return "No failure of this plant could be worked through: the drawing holds nothing that can fail."
    first = rows[0]
    if first.first is None:
        return f"No single failure crosses a limit within {table.asked.hours:.0f} h{_bare(table)}."
    return (
        f"Least time is left when {tabling.inside(first.title)}: after {span(first.hours)} "
        f"{crossing_said(facility, first.first)}{_bare(table)}."
    )


def _bare(table: question.Table) -> str:
    missing = [
        one for one in table.findings if one.code == "time/no-limit" and one.level is findings.Level.ASK
    ]
    whats = " and ".join(str(one.data["quantity"]) for one in missing)
    return f"; for {whats} it cannot be told everywhere, for a limit is missing" if whats else ""


def state(table: question.Table) -> str:
    """The engine's short verdict."""
    if not table.rows:
        return "cannot-say"
    return "short" if table.rows[0].hours < table.asked.less_than else "in hand"


# -- findings --------------------------------------------------------------------------------------------


def findings_of(table: question.Table, harms: Sequence[tuple[str, str]]) -> list[findings.Finding]:
    """What is worth a keeper's word beside the rows."""
    found = [_already(table, line) for line in table.start.crossed]
    found += [_anyway(table, one) for one in table.base.crossings if one.hours > 0.0]
    found += [_silent(table, row) for row in table.rows if not row.noticed]
    found += [_harm(table, *one) for one in harms[:MOST]]
    if not any(line.band == "act" for line in table.lines):
        found.append(_no_act())
    return found


def _already(table: question.Table, line: question.Line) -> findings.Finding:
    return findings.Finding(
        code="time/already",
        level=_ACT,
        text=f"At the start already {line_said(table.asked.facility, line)}: no failure is needed, and no "
        "time is left for it.",
        hint="mend that first; see 'now'. The rows tell of the other limits",
        spot=findings.Spot(thing=line.place),
        data={"place": line.place, "quantity": line.quantity},
    )


def _anyway(table: question.Table, one: question.Crossing) -> findings.Finding:
    return findings.Finding(
        code="time/anyway",
        level=_WATCH,
        text=f"When nothing fails, after {span(one.hours)} {line_said(table.asked.facility, one.line)}: "
        "so the equations say from this start.",
        hint="look at the balance: a reading is far from where the water settles, or the limit lies within "
        "the day's swing. No failure is blamed for it",
        spot=findings.Spot(thing=one.place),
        data={"place": one.place, "quantity": one.quantity, "hours": one.hours},
    )


def _silent(table: question.Table, row: question.Row) -> findings.Finding:
    by = {one.id: one for one in table.rows}
    named = [by[name].title for name in row.bites_with if name in by]
    shown = "; ".join(named[:3]) + (f" and {len(named) - 3} more" if len(named) > 3 else "")
    tail = f" It takes time away when it comes with: {shown}." if named else ""
    return findings.Finding(
        code="time/not-noticed",
        level=_WATCH if named else _NOTE,
        text=f"{row.title}: nothing at the plant shows it as long as nothing else fails.{tail}",
        hint="start it by hand on a set day, or let the pumps take turns, and write it down",
        data={"failure": row.id, "bites_with": list(row.bites_with)},
    )


def _harm(table: question.Table, works: str, other: str) -> findings.Finding:
    titles = {row.id: tabling.inside(row.title) for row in table.rows}
    return findings.Finding(
        code="time/spare-harms",
        level=_NOTE,
        text=f"When {titles.get(other, other)} and {titles.get(works, works)}, a standby that takes over "
        "leaves less time than one that does not: it pumps on what is running out, or runs its sump dry.",
        hint="where water is being lost, let pumps rest until the leak is found",
        data={"failures": [works, other]},
    )


def _no_act() -> findings.Finding:
    return findings.Finding(
        code="time/no-limits",
        level=findings.Level.ASK,
        text="The facility file states no act limit at all: only floods and dry places can be told.",
        hint='write [[limit]] with quantity = "oxygen" and act = "below ... mg/L", then temperature',
    )


# -- assumed and working ---------------------------------------------------------------------------------


def assumed(asked: question.Asked) -> tuple[question.Assumed, ...]:
    """What the table rests on beside what the bodies of water assumed."""
    stated = (asked.facility.detection, asked.facility.travel)
    sources = ["the facility file" if one is not None else COMMON for one in stated]
    told = [
        question.Assumed(what="until it is noticed", value=asked.notice, unit="h", source=sources[0]),
        question.Assumed(what="until somebody is there", value=asked.travel, unit="h", source=sources[1]),
        question.Assumed(what="gas exchange with air stones, over that of the surface", value=helping.STONES,
                         unit="times", source=COMMON),
        question.Assumed(what="water changed in an hour while the store lasts", value=helping.CHANGE,
                         unit="share", source=COMMON),
        question.Assumed(what="water left that counts as bare, where no depth is stated", value=limits.BARE,
                         unit="share", source=COMMON),
    ]  # fmt: skip
    leaks = getattr(asked.conditions, "leaks", {})
    told += [
        question.Assumed(what=f"air drawn in at {pump}, in a litre of its water", value=leak.air, unit="mL",
                         source="keeps the gas as it was read, drawn in by all running pumps alike")
        for pump, leak in leaks.items()
    ]  # fmt: skip
    for name, doubt in sampling.DOUBTS.items():
        one = asked.doubts.get(name, doubt)
        told.append(
            question.Assumed(what=f"{one.label}, standard uncertainty", value=one.u, unit="share",
                             source=one.source)
        )  # fmt: skip
    if any(limit.quantity == "pH" and not limit.basis for limit in asked.facility.limits):
        told.append(
            question.Assumed(what="pH limits without a scale are on this many pH above the total scale",
                             value=0.0, unit="pH", source="the file states no scale")
        )  # fmt: skip
    return tuple(told)


def working(table: question.Table) -> tuple[answers.Step, ...]:
    """How the hours came about."""
    asked = table.asked
    steps = [
        answers.Step(
            name="courses",
            equation="V dx/dt = flows in - flows out + surface + machines + animals, from the start on, "
            "once for each failure and each body of water that it reaches",
            inputs={"start": (table.start.text, ""), "hours": (asked.hours, "h"),
                    "failures": (float(len(table.rows)), "1"), "pairs": (float(len(table.pairs)), "1"),
                    "limits": (float(len(table.lines)), "1")},
            result=None, unit="", source="the equations of transients; Rosenbrock steps, each checked",
        ),
        answers.Step(
            name="time in hand", equation="the first time at which an act limit, or one that holds by "
            "itself, is crossed, and not about as soon when nothing fails",
            inputs={"notice": (asked.notice, "h"), "travel": (asked.travel, "h")},
            result=table.rows[0].hours if table.rows and table.rows[0].first else None, unit="h",
            source="definition", note="left = time in hand - notice - travel",
        ),
        answers.Step(
            name="least sets", equation="single and double failures that leave less than asked for, and hold "
            "no other such set",
            inputs={"less than": (asked.less_than, "h")}, result=float(len(table.cut_sets)), unit="1",
            source="IEC 61025, from memory",
        ),
    ]  # fmt: skip
    return tuple(steps)


# -- the answer ------------------------------------------------------------------------------------------

_COLUMNS = (
    answers.Output(name="title", label="failure", unit=""),
    answers.Output(name="hours", label="time in hand", unit="h", decimals=1),
    answers.Output(name="limit", label="first limit", unit=""),
    answers.Output(name="where", label="where", unit=""),
    answers.Output(name="left", label="left once somebody is there", unit="h", decimals=1),
    answers.Output(name="help", label="helps most", unit=""),
    answers.Output(name="gained", label="gained", unit="h", decimals=1),
)


def answer(table: question.Table) -> answers.Answer:
    """The table as an answer."""
    tables = [answers.Table(name="failures", title="By failure, shortest first", columns=_COLUMNS,
                            rows=tuple(_cells(table, row) for row in table.rows))]  # fmt: skip
    if table.asked.pairs:
        short = [row for row in table.pairs if row.hours < table.asked.less_than]
        tables.append(
            answers.Table(
                name="pairs", title=f"Two at a time that leave less than {table.asked.less_than:g} h",
                columns=_COLUMNS[:5], rows=tuple(_cells(table, row) for row in short),
            )
        )  # fmt: skip
    tables += [_sets(table), _parts(table), _assumed(table)]
    first = table.rows[0] if table.rows else None
    return answers.Answer(
        question=question.QUESTION,
        sentence=sentence(table),
        state=state(table),
        values=_values(first),
        tables=tuple(one for one in tables if one.rows),
        findings=tuple(table.findings),
        working=tuple(table.working),
        inputs={"from": table.start.text},
        used=sum(len(one) for one in table.asked.known.values()),
    )


def _values(row: question.Row | None) -> dict[str, answers.Value]:
    """Hours, what is left of them, and what is gained, of the row that is shortest."""
    found = {"hours": _value(row.first if row is not None else None)}
    if row is not None and row.first is not None:
        found["left"] = answers.Value(value=row.left, unit="h")
        if row.helps:
            found["gained"] = _gained(row.helps[0])
    return found


def _gained(one: question.Help) -> answers.Value:
    clears = "" if math.isfinite(one.gained) else "no limit is crossed there then"
    return answers.Value(value=question.finite(one.gained), unit="h", text=clears)


def _value(one: question.Crossing | None) -> answers.Value:
    if one is None:
        return answers.Value(value=None, unit="h", text="no limit crossed")
    return answers.Value(
        value=question.finite(one.hours),
        unit="h",
        low=question.finite(one.low),
        high=question.finite(one.high),
    )


def _cells(table: question.Table, row: question.Row) -> dict[str, object]:
    facility, first = table.asked.facility, row.first
    best = row.helps[0] if row.helps else None
    return {
        "title": row.title,
        "hours": _value(first),
        "limit": f"{limits.WORDS[first.quantity].label} {first.line.text}" if first else "",
        "where": facility.vessels[first.place].name if first else "",
        "left": answers.Value(value=row.left, unit="h"),
        "help": best.title if best else "",
        "gained": _gained(best) if best else answers.Value(value=None, unit="h"),
    }  # fmt: skip


def _sets(table: question.Table) -> answers.Table:
    columns = (answers.Output(name="failures", label="fail together", unit=""),
               answers.Output(name="hours", label="time in hand", unit="h", decimals=1),
               answers.Output(name="limit", label="first limit", unit=""))  # fmt: skip
    rows = tuple(
        {"failures": "; ".join(one.titles), "hours": one.hours,
         "limit": crossing_said(table.asked.facility, one.crossing)}
        for one in table.cut_sets
    )  # fmt: skip
    title = f"Least sets that leave less than {table.asked.less_than:g} h"
    return answers.Table(name="cut-sets", title=title, columns=columns, rows=rows)


def _parts(table: question.Table) -> answers.Table:
    columns = (answers.Output(name="part", label="part", unit=""),
               answers.Output(name="sets", label="least sets it stands in", unit="", decimals=0),
               answers.Output(name="shortest", label="shortest of them", unit="h", decimals=1))  # fmt: skip
    rows = tuple({"part": one.name, "sets": one.sets, "shortest": one.shortest} for one in table.parts)
    return answers.Table(
        name="parts", title="Parts by the least sets they stand in", columns=columns, rows=rows
    )


def _assumed(table: question.Table) -> answers.Table:
    columns = (answers.Output(name="what", label="assumed", unit=""),
               answers.Output(name="value", label="value", unit=""),
               answers.Output(name="source", label="from where", unit=""))  # fmt: skip
    rows = tuple(
        {"what": one.what, "value": f"{one.value:.3g} {one.unit}", "source": one.source}
        for one in table.assumed
    )
    return answers.Table(name="assumed", title="What this rests on", columns=columns, rows=rows)

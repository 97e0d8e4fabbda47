"""How the terminal speaks: aligned tables, nothing boxed, colour only for the abnormal and never alone."""

from __future__ import annotations

import json
import os
import shutil
import sys
import textwrap
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from brinehouse import answers, findings
from brinehouse.workbench import plain as tidy

MARKS = {"watch": "▲", "act": "◆", "ask": "?", "stop": "■", "note": "·"}
COLOURS = {"watch": "33", "act": "31", "stop": "31"}


def plain(text: object) -> str:
    r"""Text with control and direction characters made visible, so that a note cannot drive the terminal.

    >>> print(plain("ok" + chr(27) + "[2J"))
    ok\x1b[2J
    """
    return "".join(
        character if character == "\n" or unicodedata.category(character)[0] != "C" else repr(character)[1:-1]
        for character in str(text)
    )


def say(text: object = "") -> None:
    """One line or more to standard output."""
    sys.stdout.write(plain(text) + "\n")


def say_json(data: Any) -> None:
    """One JSON object, never NaN or infinity."""
    sys.stdout.write(json.dumps(tidy.finite(data), ensure_ascii=False, indent=1, allow_nan=False) + "\n")


def marked(level: findings.Level | str) -> str:
    """The mark of a level, coloured where the terminal shows colour."""
    name = str(level)
    mark = MARKS.get(name, " ")
    colour = COLOURS.get(name)
    if colour and sys.stdout.isatty() and "NO_COLOR" not in os.environ:
        return f"\x1b[{colour}m{mark}\x1b[0m"
    return mark


def width() -> int:
    """Columns to write in."""
    return max(60, min(110, shutil.get_terminal_size((100, 24)).columns))


def paragraph(text: str, indent: int = 0) -> str:
    """Text filled to the terminal's width."""
    pad = " " * indent
    return textwrap.fill(plain(text), width(), initial_indent=pad, subsequent_indent=pad)


def hanging(head: str, text: str) -> str:
    """A head, then text filled beside it."""
    pad = "  " + head
    return textwrap.fill(plain(text), width(), initial_indent=pad, subsequent_indent=" " * len(pad))


def table(
    headings: Sequence[str], rows: Iterable[Sequence[str]], numbers: frozenset[int] = frozenset()
) -> str:
    """An aligned table; columns in `numbers` stand to the right.

    >>> print(table(["tank", "TGP %"], [["mangrove", "102.9"], ["pipefish", "99.7"]], frozenset({1})))
      tank      TGP %
      mangrove  102.9
      pipefish   99.7
    """
    body = [[plain(cell) for cell in row] for row in rows]
    lines = [list(headings), *body]
    widths = [max(len(line[column]) for line in lines) for column in range(len(headings))]
    out: list[str] = []
    for line in lines:
        cells = [
            cell.rjust(widths[column]) if column in numbers else cell.ljust(widths[column])
            for column, cell in enumerate(line)
        ]
        mark = ""
        if cells and cells[0][:2] in ("▲ ", "◆ "):
            mark, cells[0] = cells[0][0], cells[0][2:] + "  "
        out.append(f"{mark or ' '} {'  '.join(cells)}".rstrip())
    return "\n".join(out)


def number(value: float | None, decimals: int) -> str:
    """A number as it is printed: a true minus sign, nothing for None."""
    if value is None or value != value:
        return ""
    return f"{value:.{decimals}f}".replace("-", "−")


def with_interval(value: answers.Value, decimals: int) -> str:
    """``102.9 ± 0.3``, or ``104.9 … 105.1`` where the interval is lopsided or open.

    >>> with_interval(answers.Value(value=102.9, unit="%", u=0.15), 1)
    '102.9 ± 0.3'
    """
    if value.value is None:
        return value.text or "not known"
    span = value.interval()
    if span is None:
        return number(value.value, decimals)
    low, high = span
    up, down = high - value.value, value.value - low
    if max(up, down) == float("inf"):
        return f"{number(value.value, decimals)} (from {number(low, decimals)})"
    if abs(up - down) <= 0.25 * max(up, down, 1e-12):
        return f"{number(value.value, decimals)} ± {number(max(up, down), decimals)}"
    return f"{number(value.value, decimals)} ({number(low, decimals)} … {number(high, decimals)})"


def show_findings(found: Iterable[findings.Finding], limit: int = 100) -> None:
    """Findings, up to a number of one kind; the rest are counted."""
    counts: dict[str, int] = {}
    for finding in found:
        counts[finding.code] = counts.get(finding.code, 0) + 1
        if counts[finding.code] <= limit:
            say(finding)
    for code, count in counts.items():
        if count > limit:
            say(f"and {count - limit} more of this kind  [{code}]")


def show_answer(answer: answers.Answer) -> None:
    """Any engine's answer, drawn from what its question declares."""
    say(answer.sentence)
    labels = {output.name: output for output in answer.question.outputs}
    rows: list[list[str]] = []
    for name, value in answer.values.items():
        output = labels.get(name)
        decimals = output.decimals if output else 2
        rows.append([output.label if output else name, with_interval(value, decimals), value.unit])
    if rows:
        say()
        say(table(["", "", ""], rows, frozenset({1})).split("\n", 1)[1])
    for block in answer.tables:
        say()
        say(block.title)
        say(answer_table(block))
    show_explanations(answer)
    show_advice(answer)


def answer_table(block: answers.Table) -> str:
    """A table of an answer as text."""
    headings = [f"{column.label} {column.unit}".strip() for column in block.columns]
    numbers: set[int] = set()
    rows: list[list[str]] = []
    for row in block.rows:
        cells: list[str] = []
        for position, column in enumerate(block.columns):
            cell = row.get(column.name)
            if isinstance(cell, answers.Value):
                numbers.add(position)
                cells.append(with_interval(cell, column.decimals))
            elif isinstance(cell, float):
                numbers.add(position)
                cells.append(number(cell, column.decimals))
            else:
                cells.append("" if cell is None else str(cell))
        rows.append(cells)
    return table(headings, rows, frozenset(numbers))


def show_explanations(answer: answers.Answer) -> None:
    """What would explain it, what is not excluded, what was found."""
    if answer.explanations:
        say("\nWhat would explain it")
        for place, item in enumerate(answer.explanations, 1):
            if item.weight >= 0.005 or place <= 2:
                fit = "" if item.fit is None else f"  (fit p {item.fit:.2g})"
                say(hanging(f"{place}  {item.weight:>4.0%}  ", f"{item.text}{fit}"))
        say()
    for item in answer.not_excluded:
        say(paragraph(f"not excluded: {item.text} ({item.next_reading})", 2))
    if answer.findings:
        say()
        for finding in answer.findings:
            say(f"{marked(finding.level)} {finding.text}" + (f"\n    {finding.hint}" if finding.hint else ""))


def show_working(answer: answers.Answer) -> None:
    """How each number came about: equation, inputs, source."""
    say("\nWorking")
    for step in answer.working:
        result = "" if step.result is None else f" = {step.result:.6g} {step.unit}".rstrip()
        say(f"  {step.name}{result}")
        inputs = ", ".join(
            f"{name} {value:.6g} {unit}".rstrip()
            if isinstance(value, float)
            else f"{name} {value} {unit}".rstrip()
            for name, (value, unit) in step.inputs.items()
        )
        for line in (step.equation, inputs, step.note, step.source):
            if line:
                say(paragraph(line, 6))


def rows(answer: answers.Answer, name: str) -> Sequence[Mapping[str, Any]]:
    """The rows of one of an answer's tables."""
    return next(table.rows for table in answer.tables if table.name == name)


def show_said(answer: answers.Answer) -> None:
    """What is to be said about an answer, each with its way out; and whose advice it is."""
    if answer.findings:
        say("\nWhat is to be said about them")
    for finding in answer.findings:
        say(hanging(f"{marked(finding.level)} ", finding.text))
        if finding.hint:
            say(hanging("  ", finding.hint))
    show_advice(answer)


def show_advice(answer: answers.Answer) -> None:
    """What to read next, and whose advice this is."""
    if answer.next_readings:
        say()
        say(paragraph("Read next: " + answer.next_readings[0]))
    say()
    say(paragraph(" ".join(("Advice, not a command.", *answer.question.cautions))))

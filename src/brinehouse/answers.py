"""What every engine takes and gives: a question declared once, and an answer that says how sure it is.

A face draws any answer from the question alone: title, inputs, columns with units.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

from brinehouse import findings

COVERAGE = 1.959963984540054  # 95 % of a normal distribution, two-sided


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One thing an engine asks for.

    Attributes
    ----------
    name : str
        The argument's name and the command's option (``--name``).
    word : str
        The glossary word it is a value of, or empty.
    label : str
        What a person reads beside the box.
    kind : str
        ``amount`` (text with a unit), ``text``, ``choice`` or ``series`` (a column of a file).
    unit : str
        The unit shown as an example, and the one of a file's column without its own.
    example : str
        A value that works.
    choices : tuple of str
        For ``choice``.
    required : bool
        Whether the question cannot be asked without it.
    help : str
        One line.
    """

    name: str
    label: str
    kind: Literal["amount", "text", "choice", "series"] = "amount"
    word: str = ""
    unit: str = ""
    example: str = ""
    choices: tuple[str, ...] = ()
    required: bool = False
    help: str = ""

    def refused(self, code: str, text: str, hint: str = "") -> findings.Finding:
        """Why what was typed for it cannot be taken; its example where no other way out is told."""
        return findings.Finding(
            code=code,
            level=findings.Level.STOP,
            text=text,
            hint=hint or f"for example {self.example}",
            spot=findings.Spot(field=self.name),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One value an engine gives: name, unit, and the label a person reads."""

    name: str
    label: str
    unit: str
    decimals: int = 2
    help: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What an engine answers, declared once.

    Attributes
    ----------
    name : str
        The engine's name, as in the command: ``gas budget``.
    title : str
        The question in a keeper's words.
    inputs, outputs : tuples
        What goes in and what comes out, with units.
    cautions : tuple of str
        The usual cautions, shown wherever the answer is.
    """

    name: str
    title: str
    inputs: tuple[Input, ...]
    outputs: tuple[Output, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A number, its unit and how sure it is: ``low``, ``high`` are 95 %, ``u`` a standard uncertainty."""

    value: float | None
    unit: str
    u: float | None = None
    low: float | None = None
    high: float | None = None
    text: str = ""

    def interval(self) -> tuple[float, float] | None:
        """The 95 % interval: as given, else from ``u``.

        >>> low, high = Value(value=10.0, unit="%", u=1.0).interval()
        >>> round(low, 2), round(high, 2)
        (8.04, 11.96)
        """
        if self.low is not None and self.high is not None:
            return self.low, self.high
        if self.value is None or self.u is None:
            return None
        return self.value - COVERAGE * self.u, self.value + COVERAGE * self.u

    def as_json(self) -> dict[str, Any]:
        """Plain data: value, unit, u, and low and high where they are known."""
        out: dict[str, Any] = {"value": self.value, "unit": self.unit, "u": self.u}
        if self.low is not None or self.high is not None:
            out |= {"low": self.low, "high": self.high}
        if self.text:
            out["text"] = self.text
        return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of working: how a number came about.

    Attributes
    ----------
    name : str
        The value it made.
    equation : str
        As a person would write it.
    inputs : mapping
        Name to (value, unit).
    result : float or None
        What came out.
    unit : str
        Its unit.
    source : str
        Where the relation is from, or ``common practice, no source``.
    note : str
        What was assumed.
    """

    name: str
    equation: str
    inputs: Mapping[str, tuple[float | str, str]]
    result: float | None
    unit: str
    source: str
    note: str = ""

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "name": self.name,
            "equation": self.equation,
            "inputs": {name: {"value": value, "unit": unit} for name, (value, unit) in self.inputs.items()},
            "result": self.result,
            "unit": self.unit,
            "source": self.source,
            "note": self.note,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One thing that would make the numbers true together.

    Attributes
    ----------
    code : str
        Permanent, e.g. ``gas/meter-salinity-zero``.
    text : str
        In a keeper's words.
    fit : float or None
        p-value of the closure under it.
    weight : float
        Its share among the explanations the closure can test; they sum to one.
    corrected : mapping
        What the values would be if it is so.
    next_reading : str
        The reading that would separate it from its rivals.
    visits : tuple of int
        (visits it fits, visits looked at).
    """

    code: str
    text: str
    fit: float | None
    weight: float
    corrected: Mapping[str, Value]
    next_reading: str
    visits: tuple[int, int] = (1, 1)

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "code": self.code,
            "text": self.text,
            "fit": self.fit,
            "weight": self.weight,
            "corrected": {name: value.as_json() for name, value in self.corrected.items()},
            "next_reading": self.next_reading,
            "visits": {"fits": self.visits[0], "of": self.visits[1]},
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Open:
    """An error that these numbers cannot show, and the reading that would show it."""

    code: str
    text: str
    next_reading: str

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {"code": self.code, "text": self.text, "next_reading": self.next_reading}


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows an answer brings along: a title, columns of (name, label, unit), rows of cells."""

    name: str
    title: str
    columns: tuple[Output, ...]
    rows: tuple[Mapping[str, Any], ...]

    def as_json(self) -> dict[str, Any]:
        """Plain data; a `Value` cell becomes its own object."""
        return {
            "name": self.name,
            "title": self.title,
            "columns": [{"name": c.name, "label": c.label, "unit": c.unit} for c in self.columns],
            "rows": [
                {k: v.as_json() if isinstance(v, Value) else v for k, v in row.items()} for row in self.rows
            ],
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What an engine says.

    Attributes
    ----------
    question : Question
        What was asked.
    sentence : str
        The answer in one sentence: the title of its sheet.
    state : str
        The engine's own short verdict (``settled``, ``cannot-say``, ``closes``), or empty.
    values, tables, findings, explanations, not_excluded, working
        See their types.
    next_readings : tuple of str
        What to read next, most telling first.
    inputs : mapping
        What was asked with, as typed.
    as_of : datetime or None
        The newest reading used.
    used : int
        How many readings it rests on.
    """

    question: Question
    sentence: str
    state: str = ""
    values: Mapping[str, Value] = field(default_factory=dict[str, Value])
    tables: Sequence[Table] = ()
    findings: Sequence[findings.Finding] = ()
    explanations: Sequence[Explanation] = ()
    not_excluded: Sequence[Open] = ()
    next_readings: Sequence[str] = ()
    working: Sequence[Step] = ()
    inputs: Mapping[str, str] = field(default_factory=dict[str, str])
    as_of: datetime | None = None
    used: int = 0

    def as_json(self) -> dict[str, Any]:
        """One plain object, the same for every engine."""
        return {
            "question": self.question.name,
            "sentence": self.sentence,
            "state": self.state,
            "values": {name: value.as_json() for name, value in self.values.items()},
            "findings": [finding.as_json() for finding in self.findings],
            "explanations": [explanation.as_json() for explanation in self.explanations],
            "not_excluded": [item.as_json() for item in self.not_excluded],
            "next_readings": list(self.next_readings),
            "tables": [table.as_json() for table in self.tables],
            "working": [step.as_json() for step in self.working],
            "inputs": dict(self.inputs),
            "as_of": self.as_of.isoformat() if self.as_of else None,
            "used": self.used,
            "cautions": list(self.question.cautions),
            "advice": "Advice, not a command.",
        }

"""What the sheet ``standby`` shows: each duty group's losses, their causes, what helps, and the rates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from brinehouse import answers
from brinehouse.web import catalogue, standby_drawing, svg

MOST = 6  # measures shown of a group
FLATTERED = 1000.0  # years and times beyond which a figure without shared causes is only called large
LEAST = 0.0005  # share of a cause that is shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """A group with too few pumps running, or none."""

    lost: str
    years: answers.Value
    out: answers.Value
    alone: str
    times: str
    often: str
    lasting: str
    hand: str
    picture: Markup


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One cause, and its share of each loss; None where it is none of that loss."""

    name: str
    shares: Sequence[float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One duty group."""

    id: str
    name: str
    losses: Sequence[Loss]
    causes: Sequence[Cause]
    helps: Sequence[Mapping[str, Any]]
    missing: Sequence[str]
    shared: Sequence[Mapping[str, Any]]


def groups(answer: answers.Answer, t: catalogue.Words) -> list[Group]:
    """Every duty group in file order."""
    by_duty: dict[str, list[Mapping[str, Any]]] = {}
    for row in rows(answer, "groups"):
        by_duty.setdefault(str(row["duty"]), []).append(row)
    return [_group(answer, duty, told, t) for duty, told in by_duty.items()]


def _group(
    answer: answers.Answer,
    duty: str,
    told: Sequence[Mapping[str, Any]],
    t: catalogue.Words,
) -> Group:
    known = [row for row in told if row["told"]]
    levels = [int(row["least"]) for row in known]
    key = "times_none" if levels == [1] else "times"
    helps = [row for row in rows(answer, "helps") if row["duty"] == duty]
    return Group(
        id=duty,
        name=str(told[0]["name"]),
        losses=[_loss(row, t) for row in known],
        causes=_causes(answer, duty, levels),
        helps=sorted(helps, key=lambda row: -max(row[key], row["times_none"] if len(levels) > 1 else 0.0))[
            :MOST
        ],
        missing=[str(row["word"]) for row in rows(answer, "missing") if row["duty"] == duty],
        shared=[row for row in rows(answer, "shared") if row["duty"] == duty],
    )


def _loss(row: Mapping[str, Any], t: catalogue.Words) -> Loss:
    alone = row["years_without"].value
    times = row["times_too_good"]
    words = t("standby.alone_said", name=row["name"], lost=row["lost"], often=row["often"])
    return Loss(
        lost=str(row["lost"]),
        years=row["years"],
        out=row["out"],
        alone=large(alone),
        times="" if times is None else large(times),
        often=str(row["often"]),
        lasting=str(row["lasting"]),
        hand=_hand(row.get("hand"), row, t),
        picture=standby_drawing.line(row["years"], alone if times is not None else None, label=words),
    )


def _hand(hand: answers.Value | None, row: Mapping[str, Any], t: catalogue.Words) -> str:
    """What a loss leaves, in words; nothing while it is being worked out."""
    if hand is None or hand.value is None:
        return hand.text if hand is not None else ""
    return t("standby.hand_until", hours=svg.digits(hand.value, 1), limit=row["hand_limit"])


def large(value: float | None) -> str:
    """A figure that may be so large that its digits mean nothing.

    >>> large(46.4), large(3.61e8), large(3.14)
    ('46', '> 1000', '3.1')
    """
    if value is None:
        return ""
    if value > FLATTERED:
        return f"> {FLATTERED:.0f}"
    return svg.digits(value, 1 if value < 10.0 else 0)


def _causes(answer: answers.Answer, duty: str, levels: Sequence[int]) -> list[Cause]:
    found: dict[str, dict[int, float]] = {}
    for row in rows(answer, "causes"):
        if row["duty"] == duty:
            found.setdefault(str(row["cause"]), {})[int(row["least"])] = float(row["share"])
    made = [Cause(name=name, shares=[by.get(level) for level in levels]) for name, by in found.items()]
    shown = [cause for cause in made if max(share or 0.0 for share in cause.shares) >= LEAST]
    return sorted(shown, key=lambda cause: -(cause.shares[0] or 0.0))


def rows(answer: answers.Answer, name: str) -> Sequence[Mapping[str, Any]]:
    """The rows of a table of the answer."""
    return next(table.rows for table in answer.tables if table.name == name)

"""The tables of the answer: losses, causes, what helps, rates, what is shared, what is missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from brinehouse import answers
from brinehouse.engines.redundancy import believing, losing, study, wording
from brinehouse.science import chains

YEAR_HOURS = 8760.0


def figures(service: chains.Service, ends: losing.Ends | None) -> dict[str, answers.Value]:
    """Years to the first loss, hours out in a year, and availability."""
    out = losing.out(service, ends)
    high, low = (None, None) if ends is None else ends.out
    return {
        "years": losing.years(service, ends),
        "out": out,
        "availability": answers.Value(
            value=100.0 * (1.0 - service.unavailability),
            unit="%",
            low=None if low is None else 100.0 * (1.0 - low / YEAR_HOURS),
            high=None if high is None else 100.0 * (1.0 - high / YEAR_HOURS),
        ),
    }


def tables(
    studied: Sequence[study.Studied], beliefs: Sequence[believing.Belief]
) -> tuple[answers.Table, ...]:
    """All tables of the answer."""
    return (
        _groups(studied),
        _causes(studied),
        _helps(studied),
        _rates(beliefs),
        _shared(studied),
        _missing(studied),
    )


def _col(name: str, label: str, unit: str = "", decimals: int = 2) -> answers.Output:
    return answers.Output(name=name, label=label, unit=unit, decimals=decimals)


def _groups(studied: Sequence[study.Studied]) -> answers.Table:
    rows: list[Mapping[str, Any]] = []
    for one in studied:
        group = one.group
        head = {"duty": group.duty.id, "name": group.duty.name, "keep": group.keep, "pumps": group.units}
        if not one.told:
            rows.append(
                {**head, "lost": wording.lost(group, group.enough), "least": group.enough, "told": False}
            )
        for loss, ends in zip(one.losses, one.ends, strict=True):
            alone = loss.without
            whole = group.beta is not None
            rows.append(
                {
                    **head,
                    "lost": wording.lost(group, loss.least),
                    "least": loss.least,
                    "told": True,
                    "whole": whole,
                    **figures(loss.both, ends),
                    "years_without": losing.years(alone),
                    "out_without": losing.out(alone),
                    "times_too_good": loss.ratio if loss.common > 0.0 else None,
                    "unnoticed": answers.Value(value=100.0 * alone.unnoticed, unit="%"),
                    "often": wording.often(loss.both.time_to_first / chains.YEAR),
                    "lasting": wording.lasting(loss.both.unavailability * YEAR_HOURS),
                }
            )
    return answers.Table(
        name="groups",
        title="How often a duty group is lost",
        columns=(
            _col("name", "group"), _col("lost", "what is lost"),
            _col("years", "mean time until it first happens", "years", 1),
            _col("out", "out of service", "h/year"), _col("availability", "availability", "%", 4),
            _col("years_without", "the same without shared causes", "years", 1),
            _col("times_too_good", "times too good without them", "", 1),
            _col("unnoticed", "time with a standby dead unnoticed", "%", 4),
        ),
        rows=tuple(rows),
    )  # fmt: skip


def _causes(studied: Sequence[study.Studied]) -> answers.Table:
    rows = [
        {
            "duty": one.group.duty.id,
            "name": one.group.duty.name,
            "least": loss.least,
            "lost": wording.lost(one.group, loss.least),
            "cause": cause,
            "out": answers.Value(value=part * YEAR_HOURS, unit="h/year"),
            "share": part / total if (total := sum(loss.parts.values())) > 0.0 else 0.0,
        }
        for one in studied
        for loss in one.losses
        for cause, part in loss.parts.items()
    ]
    return answers.Table(
        name="causes",
        title="What it is lost by",
        columns=(
            _col("name", "group"), _col("lost", "what is lost"), _col("cause", "by"),
            _col("out", "out of service", "h/year", 3), _col("share", "share", "1"),
        ),
        rows=tuple(rows),
    )  # fmt: skip


def _helps(studied: Sequence[study.Studied]) -> answers.Table:
    rows = [
        {
            "duty": one.group.duty.id,
            "name": one.group.duty.name,
            "key": gain.measure.key,
            "measure": gain.measure.said,
            "years": losing.years(gain.both),
            "out": losing.out(gain.both),
            "times": gain.times,
            "times_none": gain.none_times,
            "rarer": wording.times(gain.times),
            "rarer_none": wording.times(gain.none_times),
        }
        for one in studied
        for gain in one.gains
    ]
    return answers.Table(
        name="helps",
        title="What would help, each worked out anew",
        columns=(
            _col("name", "group"), _col("measure", "what is done"),
            _col("years", "then first after", "years", 1), _col("out", "then out of service", "h/year", 3),
            _col("rarer", "hours out"), _col("rarer_none", "hours with no flow at all"),
        ),
        rows=tuple(rows),
    )  # fmt: skip


def _rates(beliefs: Sequence[believing.Belief]) -> answers.Table:
    rows: list[Mapping[str, Any]] = []
    for one in beliefs:
        rate, by = one.rate, one.by
        unit = "1/h" if by == "time" else "1/start"
        scale = 3600.0 if by == "time" else 1.0
        low, high = (None if end is None else end * scale for end in (one.low, one.high))
        rows.append(
            {
                "of": rate.of,
                "mode": rate.mode,
                "believed": wording.said(rate.typical.value if rate.typical else None, by),
                "believed_low": wording.said(rate.low.value if rate.low else None, by),
                "believed_high": wording.said(rate.high.value if rate.high else None, by),
                "source": rate.source,
                "seen": rate.seen if one.span > 0.0 else None,
                "span": wording.span(one),
                "logged": one.logged,
                "rate": answers.Value(value=one.mean * scale, unit=unit, low=low, high=high),
                "now": wording.said(one.mean, by),
                "now_low": wording.said(one.low, by),
                "now_high": wording.said(one.high, by),
            }
        )
    return answers.Table(
        name="rates",
        title="Failure rates: what was believed, what was seen, what is reckoned with",
        columns=(
            _col("of", "part"), _col("mode", "way"), _col("believed", "believed"),
            _col("source", "by whose word"), _col("seen", "failures seen"), _col("span", "in"),
            _col("now", "reckoned with"),
        ),
        rows=tuple(rows),
    )  # fmt: skip


def _shared(studied: Sequence[study.Studied]) -> answers.Table:
    rows = [
        {
            "duty": one.group.duty.id,
            "name": one.group.duty.name,
            "part": part.part,
            "kind": part.kind,
            "shared": part.name,
            "left": part.left,
            "dark": part.dark,
            "rate": wording.said(part.belief.mean, part.belief.by) if part.belief is not None else "",
            "reckoned": part.belief is not None and part.repair is not None,
        }
        for one in studied
        for part in one.group.shared
    ]
    return answers.Table(
        name="shared",
        title="What the pumps of a group hang on together",
        columns=(
            _col("name", "group"), _col("shared", "hangs on"), _col("left", "pumps left without it", "", 0),
            _col("rate", "fails"),
        ),
        rows=tuple(rows),
    )  # fmt: skip


def _missing(studied: Sequence[study.Studied]) -> answers.Table:
    rows = [
        {"duty": one.group.duty.id, "name": one.group.duty.name, "word": word}
        for one in studied
        for word in one.group.missing
    ]
    return answers.Table(
        name="missing",
        title="What the facility file would have to say",
        columns=(_col("name", "group"), _col("word", "missing")),
        rows=tuple(rows),
    )

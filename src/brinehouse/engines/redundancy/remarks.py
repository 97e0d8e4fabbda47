"""What is to be said of groups and rates: what is not told, not tried, shared, or not as believed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from brinehouse import findings
from brinehouse.engines.redundancy import believing, losing, study, wording
from brinehouse.facility import chances

YEAR_HOURS = 8760.0


def findings_of(
    studied: Sequence[study.Studied], beliefs: Sequence[believing.Belief]
) -> tuple[findings.Finding, ...]:
    """What is to be said, group by group, then of the rates."""
    found: list[findings.Finding] = []
    for one in studied:
        found += _of_group(one)
    for belief in beliefs:
        found += _of_rate(belief)
    return tuple(found)


def _say(
    code: str, level: findings.Level, text: str, hint: str, spot: findings.Spot, **data: Any
) -> findings.Finding:
    return findings.Finding(code=code, level=level, text=text, hint=hint, spot=spot, data=data)


def _of_group(one: study.Studied) -> list[findings.Finding]:
    group = one.group
    duty = group.duty
    found = _dark(one)
    if not one.told:
        words = "; ".join(group.missing) or f"keep and enough in [duty.{duty.id}] that its pumps can fill"
        text = f"{duty.name}: how often too few pumps run is not told, for nothing is made up"
        hint = f"write in the facility file: {words}"
        missing = list(group.missing)
        return [
            *found,
            _say("redundancy/not-told", findings.Level.NOTE, text, hint, duty.spot, missing=missing),
        ]
    loss = one.losses[0]
    if group.beta is None:
        text = (
            f"{duty.name}: no share of common cause is told, so the figure is that of pumps that share "
            "nothing: it is too good, often many times"
        )
        hint = f'write common_cause = "5 %" (or what you believe) and its reason in [duty.{duty.id}]'
        found.append(_say("redundancy/no-common-cause", findings.Level.WATCH, text, hint, duty.spot))
    bare = losing.unrated(group, loss.least)
    if bare:
        names = ", ".join(part.name for part in bare)
        text = f"{duty.name}: its pumps hang together on {names}, and no rate tells how often that fails"
        parts = ", ".join(f'"{part.part}"' for part in bare)
        hint = f'write a [[rate]] with a repair time for {parts}, mode "{chances.RUNNING}"'
        found.append(
            _say(
                "redundancy/shared-unrated",
                findings.Level.NOTE,
                text,
                hint,
                duty.spot,
                parts=[part.part for part in bare],
            )
        )
    return found + _untried(one) + _shared_rules(one)


def _dark(one: study.Studied) -> list[findings.Finding]:
    """A board that stops pumps and what would start the others: it needs no rate to be seen."""
    group, duty = one.group, one.group.duty
    found: list[findings.Finding] = []
    for part in group.shared:
        if not (group.automatic and group.spares and part.dark and part.left > 0 and part.kind == "board"):
            continue
        text = (
            f"{duty.name}: its change-over hangs on {part.name}, which feeds {group.units - part.left} "
            f"of its {group.units} pumps too: when that is dark, nothing takes over for what it stopped"
        )
        hint = f"feed the change-over by a battery of its own, then take board out of [duty.{duty.id}]"
        found.append(
            _say("redundancy/change-over-dark", findings.Level.WATCH, text, hint, duty.spot, board=part.part)
        )
    return found


def _untried(one: study.Studied) -> list[findings.Finding]:
    group, duty = one.group, one.group.duty
    found: list[findings.Finding] = []
    if group.spares and group.starts_every is None:
        text = (
            f"{duty.name}: resting pumps are never started for trial: a dead one is found when it is needed"
        )
        hint = f"let pumps take turns, or start them for trial and write test_starts in [duty.{duty.id}]"
        found.append(_say("redundancy/never-started", findings.Level.WATCH, text, hint, duty.spot))
    if group.spares and group.automatic and group.tried_every is None:
        text = f"{duty.name}: the facility file does not say that its change-over is ever tried"
        hint = (
            f"try it, and write test_change_over in [duty.{duty.id}]: a turn tries pumps, not the change-over"
        )
        found.append(_say("redundancy/never-tried", findings.Level.NOTE, text, hint, duty.spot))
    return found


def _shared_rules(one: study.Studied) -> list[findings.Finding]:
    group, loss = one.group, one.losses[0]
    if loss.common <= loss.without.unavailability:
        return []
    times = loss.common / loss.without.unavailability
    text = (
        f"{group.duty.name}: what takes several pumps at once is {wording.two(times)} times all the rest "
        "together; another pump of the same kind does little"
    )
    hint = "look at what the pumps share: board, power, water, strainer, controller, one batch of seals"
    return [_say("redundancy/shared-rules", findings.Level.NOTE, text, hint, group.duty.spot, times=times)]


def _of_rate(one: believing.Belief) -> list[findings.Finding]:
    rate = one.rate
    name = f"{rate.of}, {rate.mode}"
    found: list[findings.Finding] = []
    if one.far:
        text = (
            f"{name}: what was seen here ({rate.seen} in {wording.span(one)}) does not fit what was "
            f"believed; reckoned with {wording.said(one.mean, one.by)}"
        )
        hint = "look at what was counted, and whether the source means such parts in such water"
        found.append(_say("redundancy/belief-contradicted", findings.Level.WATCH, text, hint, rate.spot))
    if rate.seen is not None and one.span <= 0.0 and rate.low is not None:
        text = f"{name}: the logbook has no pump runs since {rate.since}, so what was seen is not weighed in"
        hint = "keep starts and stops of pumps in the logbook, or write over = ... hours, or starts = ..."
        found.append(_say("redundancy/not-in-log", findings.Level.NOTE, text, hint, rate.spot))
    return found

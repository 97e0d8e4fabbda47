"""The answer in one sentence, and the figures of the group that is lost most often."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from brinehouse import answers
from brinehouse.engines.redundancy import losing, question, study, tabling, wording
from brinehouse.science import chains

YEAR_HOURS = 8760.0


def sentence(studied: Sequence[study.Studied]) -> str:
    """The group that is lost most often, why, and what would help it."""
    told = [one for one in studied if one.told]
    if not studied:
        return "The facility file names no duty group, so there is no standby to be judged."
    if not told:
        return "How often too few pumps run is not told: the facility file has no failure rates for it."
    worst = min(told, key=lambda one: one.losses[0].both.time_to_first)
    loss, group = worst.losses[0], worst.group
    years = loss.both.time_to_first / chains.YEAR
    text = (
        f"{group.duty.name}: {wording.lost(group, loss.least)} {wording.often(years)}, "
        f"{wording.lasting(loss.both.unavailability * YEAR_HOURS)}"
    )
    cause, share = _first_cause(loss)
    text += f"; {wording.share(share)} of it is {cause}"
    best = next((gain for gain in worst.gains if gain.times >= question.RARE), None)
    if best is not None:
        text += f". What would help most: {best.measure.said}, {wording.times(best.times)}"
    return text + "."


def _first_cause(loss: losing.Loss) -> tuple[str, float]:
    total = sum(loss.parts.values())
    cause = max(loss.parts, key=lambda name: loss.parts[name])
    return cause, loss.parts[cause] / total if total > 0.0 else 1.0


def values(studied: Sequence[study.Studied]) -> Mapping[str, answers.Value]:
    """Those of the group that is lost most often."""
    told = [one for one in studied if one.told]
    if not told:
        return {}
    worst = min(told, key=lambda one: one.losses[0].both.time_to_first)
    return tabling.figures(worst.losses[0].both, worst.ends[0])

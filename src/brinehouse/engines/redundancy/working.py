"""How the figures came about: equations, inputs, sources."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from brinehouse import answers
from brinehouse.engines.redundancy import believing, losing, study
from brinehouse.science import chains

MARKOV = "IEC 61165 (application of Markov techniques), from memory"
BETA = "IEC 61508-6, annex D (beta factor), from memory"
GAMMA = "Gamma-Poisson conjugate pair"


def steps(studied: Sequence[study.Studied], beliefs: Sequence[believing.Belief]) -> tuple[answers.Step, ...]:
    """The rates, then each group's chain and its shared causes."""
    return (*(_rate(one) for one in beliefs), *(step for one in studied if one.told for step in _group(one)))


def _rate(one: believing.Belief) -> answers.Step:
    rate = one.rate
    scale, unit = (3600.0, "1/h") if one.by == "time" else (1.0, "1/start")
    if one.after is None:
        return answers.Step(
            name=f"{rate.of}, {rate.mode}",
            equation="as the facility file has it",
            inputs={"typical": (one.mean * scale, unit)},
            result=one.mean * scale,
            unit=unit,
            source=rate.source,
            note="taken as exact: the file tells no low and high",
        )
    span = one.span / 3600.0 if one.by == "time" else one.span
    inputs: dict[str, tuple[float | str, str]] = {
        name: (chance.value * scale, unit)
        for name in ("low", "typical", "high")
        if (chance := getattr(rate, name)) is not None
    }
    if rate.seen is not None and one.span > 0.0:
        inputs |= {
            "failures seen": (float(rate.seen), ""),
            "in": (span, "h" if one.by == "time" else "starts"),
        }
    return answers.Step(
        name=f"{rate.of}, {rate.mode}",
        equation="rate = (a + failures seen) / (b + time seen); a, b from low, typical and high",
        inputs=inputs,
        result=one.mean * scale,
        unit=unit,
        source=f"{GAMMA}; belief: {rate.source}",
        note="" if one.by == "time" else "starts taken as time: close while few of them fail",
    )


def _group(one: study.Studied) -> Iterable[answers.Step]:
    group, loss = one.group, one.losses[0]
    plan = group.standby(losing.mean, loss.least)
    hour = 3600.0
    inputs: dict[str, tuple[float | str, str]] = {
        "running": (float(group.keep), ""),
        "pumps": (float(group.units), ""),
        "lost below": (float(loss.least), ""),
        "fails running": (plan.rate * hour, "1/h"),
        "repair": (plan.repair_time / hour, "h"),
        "crews": (float(group.crews), ""),
    }
    if group.spares:
        inputs |= {
            "fails at rest": (plan.standby_rate * hour, "1/h"),
            "change-over works": (plan.change_over, ""),
            "start by hand": (plan.hand_start / hour, "h"),
            "resting pump started every": (
                group.starts_every / hour if group.starts_every else "never",
                "h" if group.starts_every else "",
            ),
        }
    name = group.duty.name
    yield answers.Step(
        name=f"{name}: without shared causes",
        equation="Markov chain by pumps running, waiting, dead unnoticed, in repair: time with too few",
        inputs=inputs,
        result=loss.without.unavailability,
        unit="1",
        source=MARKOV,
        note="constant rates: running-in and wear are not in it",
    )
    yield answers.Step(
        name=f"{name}: shared causes",
        equation="beta x U of one pump, and rate x repair / (1 + rate x repair) of each shared part",
        inputs={"beta": (group.beta if group.beta is not None else "not told", ""), **_shared(one)},
        result=loss.common,
        unit="1",
        source=BETA + (f"; {group.duty.common_cause_source}" if group.duty.common_cause_source else ""),
    )
    yield answers.Step(
        name=f"{name}: mean time until too few run",
        equation="1 / (1 / time of the chain + beta x rate + rates of shared parts)",
        inputs={"time of the chain": (loss.without.time_to_first / chains.YEAR, "years")},
        result=loss.both.time_to_first / chains.YEAR,
        unit="years",
        source=MARKOV,
    )


def _shared(one: study.Studied) -> dict[str, tuple[float | str, str]]:
    return {
        felt.name: (felt.belief.mean * felt.share * 3600.0, "1/h")
        for felt in losing.felt(one.group, one.losses[0].least)
    }

"""The answer: sentences, findings and values made of what was found."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from datetime import timedelta

from brinehouse import answers, findings
from brinehouse.engines.gas_sources import fitting, leaks, question, result, tabling
from brinehouse.engines.gas_sources import foretelling as ft
from brinehouse.facility import hidden
from brinehouse.science import excess

LOOSE = 0.85  # share of what was assumed before: a parameter this loose still is an assumption


def said(found: result.Found) -> answers.Answer:
    """The whole answer of one system."""
    sizes = ft.leak_sizes(found.fit, found.hour)
    values = _leak_values(found, sizes) if found.fit.leak is not None else {}
    sources = tabling.sources(found, values.get("ratio"))
    told = [*_about_leak(found, sizes), *_about_suctions(found), *_about_sum(sources), *_about_taps(found)]
    told += [*_about_flows(found), *_about_assumed(found)]
    return answers.Answer(
        question=question.QUESTION,
        sentence=_sentence(found, sizes),
        state=found.state,
        values=values,
        tables=(
            sources,
            tabling.removals(found),
            tabling.what_ifs(found),
            tabling.pumps(found, sizes),
            tabling.levels(found),
        ),
        findings=tuple(told),
        next_readings=tuple(reading.text for reading in found.next),
        working=_working(found, values),
        as_of=found.newest,
        used=len(found.fit.case.hours),
    )


def _leak_values(found: result.Found, sizes: Mapping[str, tuple[float, float]]) -> dict[str, answers.Value]:
    fit = found.fit
    place = result.most(sizes)
    split = fit.values["leak share"]
    at = [p.name for p in fit.parameters].index("leak share")
    doubt = math.sqrt(float(fit.covariance[at, at]))
    low, high = split - answers.COVERAGE * doubt, split + answers.COVERAGE * doubt
    usual = found.given.samples[-1]
    warm, salt, pressure = usual.temperature, usual.salinity, usual.pressure * 133.322387415
    whole = float(excess.solubility_ratio(warm, salt))
    ratios = [min(max(_ratio(s), 1.0), whole) for s in (high, split, low)]
    made = excess.air_leak_rise(1.0, pressure, warm, salt, 1.0)
    each = float(made.total) / 100.0 * usual.pressure  # mmHg for one mL/L that dissolves
    size, u = fit.values["leak"], math.sqrt(_variance(fit, "leak"))
    return {
        "leak": answers.Value(value=sizes[place][0], unit="mmHg", u=sizes[place][1], text=place),
        "leaked_air": answers.Value(value=size / each, unit="mL/L", u=u / each),
        "ratio": answers.Value(value=ratios[1], unit="1", low=ratios[0], high=ratios[2]),
        "dissolved": answers.Value(
            value=_dissolved(ratios[1], warm, salt), unit="1",
            low=_dissolved(ratios[0], warm, salt), high=_dissolved(ratios[2], warm, salt),
        ),
    }  # fmt: skip


def _ratio(share: float) -> float:
    """Nitrogen's rise over oxygen's in % of saturation, from oxygen's part of the pressure."""
    return (1.0 - share) / share * 0.20946 / 0.79014


def _dissolved(ratio: float, temperature: float, salinity: float) -> float:
    """The share of the air that dissolves, at which its nitrogen rises so many times as fast; by halving."""
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        if float(excess.nitrogen_to_oxygen_rise(middle, temperature, salinity)) < ratio:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _variance(fit: fitting.Fit, name: str) -> float:
    at = [p.name for p in fit.parameters].index(name)
    return float(fit.covariance[at, at])


def _sentence(found: result.Found, sizes: Mapping[str, tuple[float, float]]) -> str:
    if found.state == "found":
        place = result.most(sizes)
        size, u = sizes[place]
        width = answers.COVERAGE * u
        return (
            f"Air drawn in at {found.pumps[0]} makes {size:.0f} ± {width:.0f} mmHg at"
            f" {found.name(place)} when it has run long."
        )
    if found.state == "no-leak":
        return f"No air leak is found at a pump: none above {_bound(found):.0f} mmHg would go unseen."
    if found.state == "refused":
        return (
            f"Gas goes with {found.pumps[0]}, but its suction stands under water pressure:"
            " air cannot come in there."
        )
    if found.pumps:
        return f"Air seems to be drawn in at one of {', '.join(found.pumps)}; the readings cannot say which."
    return "The readings cannot say whether a pump draws air in."


def _bound(found: result.Found) -> float:
    """The largest leak that would go unseen, where it would be felt most. [mmHg]."""
    fit = found.fit
    highest = 0.0
    for pump, size in found.weighed.bounds.items():
        group = leaks.group_of(fit.case.loop, pump)
        leak = fitting.Leak(pump=pump, group=group, since=0.0)
        one = dataclasses.replace(fit, leak=leak)
        by_gas = ft.leak_long(one, {**fit.values, "leak": size, "leak share": leaks.MIDDLE}, found.hour)
        highest = max(highest, float((by_gas["oxygen"] + by_gas["inert"]).max()))
    return highest


def _about_leak(found: result.Found, sizes: Mapping[str, tuple[float, float]]) -> list[findings.Finding]:
    weights = {name or "none": round(share, 4) for name, share in found.weighed.weights.items()}
    if found.state == "found":
        return [_leak_found(found, sizes, weights)]
    if found.state == "refused":
        return [_leak_refused(found, weights)]
    if found.state == "no-leak":
        bound = _bound(found)
        return [
            findings.Finding(
                code="sources/no-leak",
                level=findings.Level.NOTE,
                text=f"No pump's running goes with the gas; a leak above {bound:.0f} mmHg would have shown.",
                data={"weights": weights, "bound": bound},
            )
        ]
    pumps = ", ".join(found.pumps)
    text = f"The readings do not part these pumps: {pumps}."
    return [
        findings.Finding(
            code="sources/cannot-say",
            level=findings.Level.NOTE,
            text=text if pumps else "The readings are too few to part the pumps.",
            hint=found.next[0].text if found.next else "read before and after each pump is started",
            data={"weights": weights, "set": list(found.pumps)},
        )
    ]


def _leak_found(
    found: result.Found, sizes: Mapping[str, tuple[float, float]], weights: Mapping[str, float]
) -> findings.Finding:
    place, pump = result.most(sizes), found.pumps[0]
    hours = found.fit.leak.since if found.fit.leak is not None else 0.0
    since = found.fit.case.start + timedelta(hours=hours)
    text = (
        f"Air is drawn in at {pump}: {sizes[place][0]:.0f} mmHg at {found.name(place)} once it has run long"
    )
    return findings.Finding(
        code="sources/leak-found",
        level=findings.Level.ACT,
        text=text + (f", since about {since.date().isoformat()}." if hours > 0.0 else "."),
        hint=f"rest {pump}, then look at its suction: strainer, lid, gaskets, glands, water over the inlet",
        spot=findings.Spot(thing=pump),
        data={"pump": pump, "weights": weights, "since": since.isoformat()},
    )


def _leak_refused(found: result.Found, weights: Mapping[str, float]) -> findings.Finding:
    pump = found.pumps[0]
    suction = found.given.suctions[pump]
    why = f" ({suction.why})" if suction.why else ""
    return findings.Finding(
        code="sources/leak-refused",
        level=findings.Level.ASK,
        text=f"Gas goes with {pump}'s running, but its suction is above the air's pressure{why}:"
        " no air can be drawn in there.",
        hint=f"check the elevation of {pump} and the level before it in the house file;"
        " look for a vortex over its inlet, or for what else runs when it runs",
        spot=findings.Spot(thing=pump),
        data={"pump": pump, "weights": weights},
    )


def _about_suctions(found: result.Found) -> list[findings.Finding]:
    told = found.given.suctions
    pumps = [p for p in found.fit.case.loop.pumps if p not in told or told[p].below_air == "may be"]
    if not pumps:
        return []
    return [
        findings.Finding(
            code="sources/suction-unknown",
            level=findings.Level.NOTE,
            text=f"Whether the suction of {', '.join(pumps)} stands below the air's pressure is not known"
            " for certain:"
            " a leak there was not ruled out.",
            hint="give the pumps and the place before them an elevation, and the place its level",
            data={"pumps": pumps},
        )
    ]


def _about_sum(sources: answers.Table) -> list[findings.Finding]:
    return [
        findings.Finding(
            code="sources/does-not-close",
            level=findings.Level.WATCH,
            text=f"At {row['place']} the sources add up to {row['size'].value:.0f} mmHg, not to what was"
            " measured:"
            f" {row['how']}.",
            hint="read this place again with a second meter; look for water or air that the house file"
            " does not tell",
            spot=findings.Spot(thing=str(row["place"])),
        )
        for row in sources.rows
        if row["kind"] == "sum" and not row["closes"]
    ]


def _about_taps(found: result.Found) -> list[findings.Finding]:
    return [
        findings.Finding(
            code="sources/tap-assumed",
            level=findings.Level.NOTE,
            text=f"The tap on {found.name(run)} is taken to stand before the first machine that exchanges"
            " gas.",
            hint="say so if it stands elsewhere: what is read there then means something else",
            spot=findings.Spot(thing=run),
        )
        for run in found.fit.case.loop.taps
        if any(
            step.kind == "strip" for leg in found.fit.case.loop.legs if leg.run == run for step in leg.steps
        )
    ]


def _about_flows(found: result.Found) -> list[findings.Finding]:
    facility = found.given.facility
    places = set(found.fit.case.loop.places)
    missing = [
        run.id
        for run in facility.runs.values()
        if run.id not in found.given.flows and ({run.source, run.target} & places)
    ]
    if not missing:
        return []
    return [
        findings.Finding(
            code="sources/flow-missing",
            level=findings.Level.ASK,
            text=f"No flow is known for {', '.join(map(found.name, missing))}: that water was left out.",
            hint="state or measure its flow",
            data={"runs": missing},
        )
    ]


def _about_assumed(found: result.Found) -> list[findings.Finding]:
    loose = [found.name(p.name.split(":", 1)[1]) for p in loosely_known(found.fit) if ":" in p.name]
    if not loose:
        return []
    return [
        findings.Finding(
            code="sources/mostly-assumed",
            level=findings.Level.NOTE,
            text=f"What happens at {_listed(dict.fromkeys(loose))} is mostly what was assumed: the"
            " readings say little.",
            hint=found.next[0].text if found.next else "",
            data={"parameters": [p.name for p in loosely_known(found.fit)]},
        )
    ]


def _listed(names: Mapping[str, None]) -> str:
    first = list(names)
    return ", ".join(first[:6]) + (f" and {len(first) - 6} more" if len(first) > 6 else "")


def loosely_known(fit: fitting.Fit) -> list[fitting.Parameter]:
    """Parameters that the readings hardly narrowed, of those that say where gas comes from or goes."""
    return [
        p
        for n, p in enumerate(fit.parameters)
        if p.name.startswith(("strip:", "carried:", "surface:"))
        and math.sqrt(float(fit.covariance[n, n])) > LOOSE * p.sd
    ]


def _working(found: result.Found, values: Mapping[str, answers.Value]) -> tuple[answers.Step, ...]:
    fit = found.fit
    steps = [
        answers.Step(
            name="balance",
            equation="V dx/dt = Σ Q (x_in − x) − k A x + sources, for oxygen and for nitrogen with argon",
            inputs={
                "places": (float(len(fit.case.loop.places)), "1"),
                "runs": (float(len(fit.case.loop.legs)), "1"),
                "samples": (float(len(fit.case.hours)), "1"),
            },
            result=None,
            unit="mmHg",
            source="mass balance; surfaces after Lewis and Whitman (1924), columns after Hackney and"
            " Colt (1982)",
            note="flows as stated or solved; each place mixed; what is assumed before any reading is"
            " listed below",
        ),
        answers.Step(
            name="spread",
            equation="errors: reading, meter's zero over days, bubbles and life over hours",
            inputs={
                "reading": (fit.spread.pressure, "mmHg"),
                "meter's zero": (fit.spread.zero, "mmHg"),
                "bubbles": (fit.spread.bubbles, "mmHg"),
                "life": (fit.spread.life, "mmHg"),
            },
            result=None,
            unit="mmHg",
            source="learnt from the readings: marginal likelihood (Laplace)",
            note=f"{int((fit.slips > 1.0).sum())} readings were taken for slips and count next to nothing",
        ),
    ]
    steps += _fitted(fit)
    if "leaked_air" in values:
        air = values["leaked_air"]
        steps.append(
            answers.Step(
                name="leaked_air",
                equation="ΔP put in / ΔP of 1 mL/L dissolved whole",
                inputs={"leak": (fit.values["leak"], "mmHg")},
                result=air.value,
                unit="mL/L",
                source="Garcia and Gordon (1992), Hamme and Emerson (2004): 7.6 % of TGP for each mL/L"
                " at S 35, 25.5 °C",
            )
        )
    return tuple(steps)


def _fitted(fit: fitting.Fit) -> list[answers.Step]:
    """Every parameter: what was assumed, and what the readings made of it."""
    return [
        answers.Step(
            name=p.name,
            equation=_transform(p.name),
            inputs={"assumed": (p.mean, ""), "give or take": (p.sd, "")},
            result=float(value),
            unit="",
            source="fitted",
            note=f"give or take {math.sqrt(max(float(fit.covariance[n, n]), 0.0)):.2g}",
        )
        for n, (p, value) in enumerate(zip(fit.parameters, fit.theta, strict=True))
    ]


def _transform(name: str) -> str:
    if name.startswith(("surface:", "strip:", "carried:")) or name in ("alike", "warming"):
        return "natural logarithm"
    return "logit" if name.startswith("fall:") else "itself"


def too_little(given: question.Given, samples: int, legs: bool) -> answers.Answer:
    """Not enough to fit."""
    why = f"{samples} gas samples" if legs else "no run with a flow"
    short = findings.Finding(
        code="sources/too-little",
        level=findings.Level.NOTE,
        text=f"System {hidden.visible(given.system)}: {why}: too little to say where its gas comes from.",
        hint=f"take at least {question.FEWEST} samples of ΔP and oxygen, at each tank and the sump"
        if legs
        else "state the flow of its runs",
        data={"system": given.system, "samples": samples},
    )
    return answers.Answer(
        question=question.QUESTION,
        sentence="There are too few readings to say where the gas comes from.",
        state="too-little",
        findings=(short,),
        next_readings=(f"in system {hidden.visible(given.system)}: {short.hint}",),
        used=samples,
    )


def nothing() -> answers.Answer:
    """No system at all."""
    return answers.Answer(
        question=question.QUESTION,
        sentence="No system with gas readings is known yet.",
        state="too-little",
        next_readings=("read ΔP and oxygen at a tank and its sump",),
    )

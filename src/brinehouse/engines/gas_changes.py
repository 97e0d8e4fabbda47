"""When gas pressure rises: which pump's running goes with it, and by what kind of gas.

Gas samples of one system are fitted by least squares with a level for each place, a daily rhythm, a step at
each dated change of plant, and one pump's running (from a date that is searched for). The pump whose running
explains most is named only where its rivals fall far behind; the rise of nitrogen against oxygen says how the
gas got in. Without a clear pump the answer is that these readings cannot tell.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinehouse import answers, findings
from brinehouse.science import statistics

Floats = NDArray[np.float64]

FEWEST = 8  # samples below which no pump is ever named
SURE = 0.95  # share of the weight a pump must hold before it is named
MECHANISMS: tuple[tuple[str, float, float, str, str], ...] = (
    (
        "changes/air-at-suction",
        1.15,
        1.97,
        "air drawn in at a pump's suction and dissolved under pressure",
        "read oxygen and total gas pressure before and after {pump}, ten minutes after it starts",
    ),
    (
        "changes/carried-under",
        0.93,
        1.07,
        "bubbles carried under where water falls or a skimmer mixes",
        "read at the fall and one metre away, with the fall slowed",
    ),
    (
        "changes/warming",
        0.86,
        0.91,
        "water warmed after it last met the air",
        "read temperature on both sides of the pump and the chiller",
    ),
    (
        "changes/daylight",
        -0.1,
        0.1,
        "oxygen made by plants in light",
        "read at dawn and at dusk on the same day",
    ),
)
"""Code, lowest and highest rise of nitrogen per rise of oxygen (both % of saturation), words, next reading.

1.97: air dissolved whole (N2 8.77, O2 4.46 % per mL/L, Henry's law, S 35, 25.5 °C); 1: gas brought to balance
at depth; 0.88: heating 20 to 25 °C (8.1 against 9.2 %); 0: photosynthesis. The widths are elicited.
"""

QUESTION = answers.Question(
    name="gas changes",
    title="Which pump's running goes with the gas pressure, and what kind of gas comes in?",
    inputs=(
        answers.Input(
            name="hours",
            label="hours",
            kind="series",
            unit="h",
            required=True,
            help="time of each sample",
        ),
        answers.Input(
            name="running",
            label="pump running",
            kind="series",
            unit="1",
            required=True,
            help="1 while the pump ran, 0 while it rested",
        ),
        answers.Input(
            name="delta_p",
            label="ΔP",
            kind="series",
            word="delta p",
            unit="mmHg",
            required=True,
            help="excess gas pressure",
        ),
        answers.Input(
            name="oxygen",
            label="oxygen",
            kind="series",
            word="oxygen saturation",
            unit="%",
            required=True,
            help="of local saturation",
        ),
        answers.Input(
            name="nitrogen",
            label="nitrogen and argon",
            kind="series",
            unit="%",
            required=True,
            help="of local saturation",
        ),
    ),
    outputs=(
        answers.Output(name="rise", label="ΔP higher while it runs", unit="mmHg", decimals=1),
        answers.Output(name="oxygen_rise", label="oxygen higher while it runs", unit="%", decimals=2),
        answers.Output(
            name="nitrogen_rise", label="nitrogen and argon higher while it runs", unit="%", decimals=2
        ),
        answers.Output(name="ratio", label="nitrogen's rise over oxygen's", unit="1", decimals=2),
    ),
    cautions=(
        "Isolate a pump by your own procedure before its strainer is opened.",
        "Electricity by water and confined sumps: local codes rule.",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """What a visit found at one place: ΔP [mmHg], oxygen and nitrogen with argon [% of saturation]."""

    at: datetime
    place: str
    delta_p: float
    oxygen: float
    nitrogen: float
    u: float = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A pump started or stopped."""

    at: datetime
    pump: str
    running: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A dated change of plant, such as a new column."""

    at: datetime
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """A system's samples as arrays, and the columns that stand whatever the pumps do."""

    hours: Floats
    place: NDArray[np.intp]
    places: tuple[str, ...]
    delta_p: Floats
    oxygen: Floats
    nitrogen: Floats
    base: Floats
    start: datetime


def exposure(turns: Sequence[Turn], pump: str, times: Sequence[datetime], memory: float) -> Floats:
    """How much a pump has run lately, as the water at a place remembers it.

    Parameters
    ----------
    turns : sequence of Turn
        Any pumps, any order.
    pump : str
    times : sequence of datetime
        When the water was sampled.
    memory : float
        Time constant of the water between pump and place: volume over flow. [h]

    Returns
    -------
    ndarray
        Between 0 (rested) and 1 (ran throughout); shape of `times`. [-]
    """
    mine = sorted((turn for turn in turns if turn.pump == pump), key=lambda turn: turn.at)
    edges = np.array([turn.at.timestamp() for turn in mine]) / 3600.0
    steps = np.diff(np.array([0.0, *[float(turn.running) for turn in mine]]))
    now = np.array([at.timestamp() for at in times]) / 3600.0
    if not edges.size:
        return np.zeros(now.shape)
    since = now[:, None] - edges[None, :]
    answered = np.where(since > 0.0, -np.expm1(-np.maximum(since, 0.0) / max(memory, 1e-3)), 0.0)
    return answered @ steps


def answer(given: Mapping[str, str | Sequence[float]]) -> answers.Answer:
    """The question as the generic page asks it: one pump, one place, columns of numbers."""
    columns = {
        name: np.asarray(given[name], dtype=float)
        for name in ("hours", "running", "delta_p", "oxygen", "nitrogen")
    }
    origin = datetime(2000, 1, 1, tzinfo=UTC)
    when = [origin + timedelta(hours=float(hour)) for hour in columns["hours"]]
    samples = [
        Sample(at=at, place="here", delta_p=float(p), oxygen=float(o), nitrogen=float(n))
        for at, p, o, n in zip(when, columns["delta_p"], columns["oxygen"], columns["nitrogen"], strict=True)
    ]
    states = columns["running"] > 0.5
    turns = [
        Turn(at=at - timedelta(minutes=30), pump="the pump", running=bool(state))
        for number, (at, state) in enumerate(zip(when, states, strict=True))
        if number == 0 or state != states[number - 1]
    ]
    return survey(samples, turns, (), memory={"here": 0.1})


def survey(
    samples: Sequence[Sample],
    turns: Sequence[Turn],
    changes: Sequence[Change],
    *,
    memory: Mapping[str, float] | None = None,
) -> answers.Answer:
    """Which pump's running goes with the gas in one system.

    Parameters
    ----------
    samples : sequence of Sample
        One system's, any places.
    turns : sequence of Turn
        Starts and stops of the pumps that serve it.
    changes : sequence of Change
        Dated changes of plant; each gets a step of its own at each place.
    memory : mapping, optional
        Volume over flow by place, 1 h where it is not known. [h]
    """
    pumps = sorted({turn.pump for turn in turns})
    if len(samples) < FEWEST or not pumps:
        return _too_little(len(samples), len(pumps))
    case = _case(samples, changes)
    names, columns, begins = _candidates(case, samples, turns, pumps, memory or {})
    if not names:
        return _too_little(len(samples), 0)
    gains = _gains(case, columns)
    weights = _weights(case, gains, names)
    best = int(np.argmax(gains))
    sure = weights[names[best]] >= SURE and _beyond_chance(case, gains[best], len(names))
    column, begin = _dated(case, columns[:, names.index(names[best])], begins[best])
    rises = {name: _rise(case, column, getattr(case, name)) for name in ("delta_p", "oxygen", "nitrogen")}
    sure = sure and rises["delta_p"][0] > 0.0
    return _report(case, samples, names[best] if sure else None, begin, weights, rises, column, changes)


def _case(samples: Sequence[Sample], changes: Sequence[Change]) -> _Case:
    places = tuple(sorted({sample.place for sample in samples}))
    start = min(sample.at for sample in samples)
    hours = np.array([(sample.at - start).total_seconds() / 3600.0 for sample in samples])
    index = np.array([places.index(sample.place) for sample in samples])
    blocks = [np.eye(len(places))[index]]
    for change in changes:
        after = hours >= (change.at - start).total_seconds() / 3600.0
        for place in range(len(places)):
            here = index == place
            if 3 <= int((after & here).sum()) <= int(here.sum()) - 3:
                blocks.append((after & here).astype(float)[:, None])
    if hours.size >= 3 * (len(places) + 4):
        turn = (
            2.0 * math.pi * np.array([sample.at.hour + sample.at.minute / 60.0 for sample in samples]) / 24.0
        )
        blocks.append(np.column_stack([np.cos(turn), np.sin(turn)]))
    return _Case(
        hours=hours,
        place=index,
        places=places,
        delta_p=np.array([sample.delta_p for sample in samples]),
        oxygen=np.array([sample.oxygen for sample in samples]),
        nitrogen=np.array([sample.nitrogen for sample in samples]),
        base=np.column_stack(blocks),
        start=start,
    )


def _candidates(
    case: _Case,
    samples: Sequence[Sample],
    turns: Sequence[Turn],
    pumps: Sequence[str],
    memory: Mapping[str, float],
) -> tuple[list[str], Floats, list[float]]:
    """One column for each pump and each date from which its running may have counted."""
    times = [sample.at for sample in samples]
    kept = np.zeros(len(times))
    names: list[str] = []
    columns: list[Floats] = []
    begins: list[float] = []
    dates = np.concatenate([[0.0], np.quantile(case.hours, np.linspace(0.1, 0.75, 14))])
    for pump in pumps:
        for place, name in enumerate(case.places):
            here = case.place == place
            kept[here] = exposure(turns, pump, times, memory.get(name, 1.0))[here]
        for date in dates:
            column = np.where(case.hours >= date, kept, 0.0)
            after = column[case.hours >= date]
            if after.size >= 5 and np.ptp(after) > 0.3:
                names.append(pump)
                columns.append(column)
                begins.append(float(date))
    return names, np.column_stack(columns) if columns else np.zeros((len(times), 0)), begins


def _free(base: Floats, what: Floats) -> Floats:
    """What is left of columns once the standing ones are taken out."""
    q, _ = np.linalg.qr(base)
    return what - q @ (q.T @ what)


def _dated(case: _Case, running: Floats, near: float) -> tuple[Floats, float]:
    """The date from which a pump's running counted, looked for once more near the first find."""
    reach = 0.12 * float(np.ptp(case.hours))
    near_by = case.hours[np.abs(case.hours - near) <= reach]
    dates = np.unique(np.concatenate([[near], near_by])) if near > 0.0 else np.array([0.0])
    columns = np.where(case.hours[:, None] >= dates[None, :], running[:, None], 0.0)
    best = int(np.argmax(_gains(case, columns)))
    return columns[:, best], float(dates[best])


def _gains(case: _Case, columns: Floats) -> Floats:
    """How much of the sum of squares each candidate takes away, as a share."""
    left = _free(case.base, _tamed(case.base, case.delta_p))
    free = _free(case.base, columns)
    power = np.maximum((free**2).sum(axis=0), 1e-12)
    return (free.T @ left) ** 2 / power / float(left @ left)


def _tamed(base: Floats, values: Floats) -> Floats:
    """Values with slips of the pen pulled in to five deviations, so that none of them steers the fit."""
    left = _free(base, values)
    spread = 1.4826 * float(np.median(np.abs(left - np.median(left))))
    return values - (left - np.clip(left, -5.0 * spread, 5.0 * spread)) if spread > 0.0 else values


def _weights(case: _Case, gains: Floats, names: Sequence[str]) -> dict[str, float]:
    """Share of each pump, its dates averaged over: likelihoods of a normal error of unknown size."""
    n = case.hours.size - case.base.shape[1]
    logs = -0.5 * n * np.log(np.maximum(1.0 - gains, 1e-12))
    top = float(logs.max())
    by_pump: dict[str, float] = {}
    for pump in dict.fromkeys(names):
        mine = np.array([math.exp(log - top) for log, name in zip(logs, names, strict=True) if name == pump])
        by_pump[pump] = float(mine.mean())
    total = sum(by_pump.values())
    return {pump: share / total for pump, share in by_pump.items()}


def _beyond_chance(case: _Case, gain: float, tries: int) -> bool:
    """The gain is more than the best of so many tries would give by chance (F test, Šidák, 1 %)."""
    from scipy import special

    dof = case.hours.size - case.base.shape[1] - 2
    if dof < 3:
        return False
    ratio = gain / max(1.0 - gain, 1e-12) * dof
    chance = float(special.fdtrc(1.0, dof, ratio))
    return 1.0 - (1.0 - chance) ** tries < 0.01


def _rise(case: _Case, column: Floats, values: Floats) -> tuple[float, float, Floats]:
    """Rise with the pump at full run, its standard uncertainty (errors may hang together), residuals."""
    design = np.column_stack([case.base, column])
    fit = _careful(design, _tamed(design, values), case.hours)
    return float(fit[0][-1]), float(fit[1][-1]), fit[2]


def _careful(design: Floats, values: Floats, hours: Floats) -> tuple[Floats, Floats, Floats]:
    """Coefficients, standard uncertainties, residuals.

    The uncertainty is the larger of two: errors that hang together (Newey and West), and errors that do not;
    the first is too small where samples are few.
    """
    together = statistics.linear_fit(design, values, times=hours)
    apart = statistics.linear_fit(design, values)
    variance = np.maximum(np.diag(together.covariance), np.diag(apart.covariance))
    return np.asarray(together.coefficients), np.sqrt(variance), np.asarray(together.residuals)


def _ratio(rises: Mapping[str, tuple[float, float, Floats]]) -> answers.Value:
    """Nitrogen's rise over oxygen's, with Fieller's interval.

    The two rises share their errors (the same water, the same probe), which their residuals tell.
    """
    (n, un, rn), (o, uo, ro) = rises["nitrogen"], rises["oxygen"]
    together = float(np.corrcoef(rn, ro)[0, 1]) * un * uo if np.ptp(rn) > 0 and np.ptp(ro) > 0 else 0.0
    t2 = answers.COVERAGE**2
    a, b, c = o * o - t2 * uo * uo, n * o - t2 * together, n * n - t2 * un * un
    if a <= 0.0:
        return answers.Value(value=n / o if o else None, unit="1", low=-math.inf, high=math.inf)
    root = math.sqrt(max(b * b - a * c, 0.0))
    return answers.Value(value=n / o, unit="1", low=(b - root) / a, high=(b + root) / a)


def _mechanisms(
    rises: Mapping[str, tuple[float, float, Floats]], pump: str, samples: int
) -> tuple[answers.Explanation, ...]:
    """Each way gas can get in, by how well its ratio of nitrogen to oxygen meets the two rises."""
    (n, un, _), (o, uo, _) = rises["nitrogen"], rises["oxygen"]
    found: list[tuple[float, float, tuple[str, float, float, str, str]]] = []
    for mechanism in MECHANISMS:
        ratios = np.linspace(mechanism[1], mechanism[2], 25)
        misfit = (n - ratios * o) ** 2 / (un * un + (ratios * uo) ** 2)
        found.append((float(np.exp(-0.5 * misfit).mean()), float(misfit.min()), mechanism))
    total = sum(likelihood for likelihood, _, _ in found) or 1.0
    return tuple(
        answers.Explanation(
            code=mechanism[0],
            text=mechanism[3],
            fit=math.erfc(math.sqrt(misfit / 2.0)),
            weight=likelihood / total,
            corrected={},
            next_reading=mechanism[4].format(pump=pump),
            visits=(samples, samples),
        )
        for likelihood, misfit, mechanism in sorted(found, key=lambda row: -row[0])
    )


def _by_place(case: _Case, column: Floats) -> answers.Table:
    """The rise of ΔP at each place."""
    rows: list[Mapping[str, Any]] = []
    for number, place in enumerate(case.places):
        here = case.place == number
        if np.ptp(column[here]) < 0.3 or here.sum() < 5:
            continue
        others = np.column_stack([np.where(here, column, 0.0), np.where(here, 0.0, column)])
        fit = statistics.linear_fit(np.column_stack([case.base, others]), case.delta_p, times=case.hours)
        rise = answers.Value(
            value=float(fit.coefficients[-2]),
            unit="mmHg",
            u=float(math.sqrt(max(fit.covariance[-2, -2], 0.0))),
        )
        rows.append({"place": place, "rise": rise, "samples": int(here.sum())})
    return answers.Table(
        name="places",
        title="ΔP higher while it runs",
        columns=(
            answers.Output(name="place", label="place", unit=""),
            answers.Output(name="rise", label="rise", unit="mmHg", decimals=1),
            answers.Output(name="samples", label="samples", unit="", decimals=0),
        ),
        rows=tuple(rows),
    )


def _steps(case: _Case, column: Floats, changes: Sequence[Change]) -> answers.Table:
    """What each dated change of plant did at each place."""
    design = np.column_stack([case.base, column])
    sizes, doubts, _ = _careful(design, _tamed(design, case.delta_p), case.hours)
    rows: list[Mapping[str, Any]] = []
    at = len(case.places)
    for change in changes:
        after = case.hours >= (change.at - case.start).total_seconds() / 3600.0
        for number, place in enumerate(case.places):
            here = case.place == number
            if 3 <= int((after & here).sum()) <= int(here.sum()) - 3:
                value = answers.Value(value=float(sizes[at]), unit="mmHg", u=float(doubts[at]))
                rows.append(
                    {"change": change.text, "at": change.at.date().isoformat(), "place": place, "step": value}
                )
                at += 1
    return answers.Table(
        name="changes",
        title="ΔP after each change of plant",
        columns=(
            answers.Output(name="change", label="change", unit=""),
            answers.Output(name="at", label="since", unit=""),
            answers.Output(name="place", label="place", unit=""),
            answers.Output(name="step", label="step", unit="mmHg", decimals=1),
        ),
        rows=tuple(rows),
    )


def _report(
    case: _Case,
    samples: Sequence[Sample],
    pump: str | None,
    begin: float,
    weights: Mapping[str, float],
    rises: Mapping[str, tuple[float, float, Floats]],
    column: Floats,
    changes: Sequence[Change],
) -> answers.Answer:
    newest = max(sample.at for sample in samples)
    tables = [_steps(case, column, changes)] if changes else []
    shares = ", ".join(
        f"{name} {share:.0%}" for name, share in sorted(weights.items(), key=lambda row: -row[1])
    )
    if pump is None:
        unsure = findings.Finding(
            code="changes/cannot-tell",
            level=findings.Level.NOTE,
            text=f"No pump's running goes with the gas clearly enough to name it (weights: {shares}).",
            hint="read ΔP and oxygen just before a pump is changed over and ten minutes after, pump by pump",
            data={"weights": dict(weights)},
        )
        return answers.Answer(
            question=QUESTION,
            sentence="These readings cannot tell whether any pump brings gas in.",
            state="cannot-say",
            tables=tuple(tables),
            findings=(unsure,),
            next_readings=(f"ΔP and oxygen before and after a change-over, pump by pump: {shares}",),
            as_of=newest,
            used=len(samples),
        )
    ratio = _ratio(rises)
    explained = _mechanisms(rises, pump, len(samples))
    since = case.start + timedelta(hours=begin)
    names = {"delta_p": ("rise", "mmHg"), "oxygen": ("oxygen_rise", "%"), "nitrogen": ("nitrogen_rise", "%")}
    values = {
        target: answers.Value(value=rises[name][0], unit=unit, u=rises[name][1])
        for name, (target, unit) in names.items()
    }
    found = findings.Finding(
        code="changes/pump-goes-with-gas",
        level=findings.Level.ACT,
        text=f"Gas pressure is {rises['delta_p'][0]:.0f} mmHg higher while {pump} runs"
        + (f", since about {since.date().isoformat()}." if begin > 0 else "."),
        hint=f"rest {pump} or look at its suction: strainer, lid, gaskets, water level over the inlet",
        data={"pump": pump, "since": since.isoformat(), "weights": dict(weights)},
    )
    return answers.Answer(
        question=QUESTION,
        sentence=f"Gas comes in while {pump} runs: {explained[0].text}.",
        state="found",
        values={**values, "ratio": ratio},
        tables=(_by_place(case, column), *tables),
        findings=(found,),
        explanations=explained,
        next_readings=(explained[0].next_reading,),
        working=_working(rises, ratio, pump, len(samples)),
        as_of=newest,
        used=len(samples),
    )


def _working(
    rises: Mapping[str, tuple[float, float, Floats]], ratio: answers.Value, pump: str, samples: int
) -> tuple[answers.Step, ...]:
    return (
        answers.Step(
            name="rise",
            equation="ΔP = level(place) + day + steps + rise × running",
            inputs={"samples": (float(samples), "1"), "pump": (pump, "")},
            result=rises["delta_p"][0],
            unit="mmHg",
            source="least squares; errors that hang together after Newey and West (1987)",
        ),
        answers.Step(
            name="ratio",
            equation="rise of N2+Ar % / rise of O2 %",
            inputs={"nitrogen": (rises["nitrogen"][0], "%"), "oxygen": (rises["oxygen"][0], "%")},
            result=ratio.value,
            unit="1",
            source="interval: Fieller (1954)",
        ),
    )


def _too_little(samples: int, pumps: int) -> answers.Answer:
    short = findings.Finding(
        code="changes/too-little",
        level=findings.Level.NOTE,
        text=f"{samples} gas samples and {pumps} pumps with a running record: too little to compare.",
        hint=f"take at least {FEWEST} samples with each pump running and resting, and log which pumps run",
        data={"samples": samples, "pumps": pumps},
    )
    return answers.Answer(
        question=QUESTION,
        sentence="There are too few readings to say which pump brings gas in.",
        state="cannot-say",
        findings=(short,),
        next_readings=(short.hint,),
        used=samples,
    )

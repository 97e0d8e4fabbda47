"""The tables of the answer: sources with their sum, removals, pumps, what-ifs, and each place's level."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from brinehouse import answers
from brinehouse.engines.gas_sources import balance, fitting, loop, result, supposing
from brinehouse.engines.gas_sources import case as cases
from brinehouse.engines.gas_sources import foretelling as ft
from brinehouse.facility import hidden
from brinehouse.science import seawater

SMALL = 0.7  # mmHg: sources that are less at a place stand together in one row,
DOUBT = 1.0  # unless they are this uncertain
RECENT = 1.5  # hours within which a reading counts as one of now
COMPUTED = {"warming": "computed from the power of pumps and lamps", "barometer": "computed"}


def sources(found: result.Found, ratio: answers.Value | None) -> answers.Table:
    """By place: what each source adds, and the sum against what was measured."""
    fit, hour = found.fit, found.hour
    names = list(_grouped(ft.by_source(fit, hour, fit.values)))
    places = fit.case.loop.places

    def flat(values: ft.Values) -> ft.Floats:
        by_name = _grouped(ft.by_source(fit, hour, values))
        rows = [by_name.get(name, np.zeros(len(places))) for name in names]
        return np.concatenate([*rows, np.sum(rows, axis=0)])

    sizes, doubts = ft.carried(fit, flat)
    sizes, doubts = (part.reshape(len(names) + 1, len(places)) for part in (sizes, doubts))
    rows: list[Mapping[str, Any]] = []
    for at, place in enumerate(places):
        column, spread = sizes[:-1, at], doubts[:-1, at]
        shown = [n for n in range(len(names)) if abs(column[n]) >= SMALL or spread[n] >= DOUBT]
        for n in sorted(shown, key=lambda n: -abs(column[n])):
            value = answers.Value(value=float(column[n]), unit="mmHg", u=float(spread[n]))
            row = {"place": place, "kind": "source", "source": _said(found, names[n]), "size": value}
            rows.append({**row, "how": _how(found, names[n], ratio)})
        rest = [n for n in range(len(names)) if n not in shown]
        if rest:
            together, u = float(column[rest].sum()), float(np.linalg.norm(spread[rest]))
            value = answers.Value(value=together, unit="mmHg", u=u)
            row = {"place": place, "kind": "source", "source": "small ones together", "size": value}
            rows.append({**row, "how": "fitted, some of it assumed"})
        rows.append(_sum(found, place, float(sizes[-1, at]), float(doubts[-1, at])))
    return answers.Table(
        name="sources",
        title="Where the excess comes from, all removals in place",
        columns=(
            answers.Output(name="place", label="place", unit=""),
            answers.Output(name="source", label="source", unit=""),
            answers.Output(name="size", label="ΔP", unit="mmHg", decimals=1),
            answers.Output(name="how", label="how known", unit=""),
        ),
        rows=tuple(rows),
    )


def _grouped(by_name: Mapping[str, ft.Floats]) -> dict[str, ft.Floats]:
    """Sources as a keeper counts them: warming in one, oxygen made and used in one."""
    found: dict[str, ft.Floats] = {}
    for name, level in by_name.items():
        kind = name.split(":", 1)[0]
        key = "life" if kind in ("life", "day") else kind if kind == "warming" else name
        found[key] = found.get(key, np.zeros(level.size)) + level
    return found


def _said(found: result.Found, name: str) -> str:
    kind, _, thing = name.partition(":")
    if kind == "carried":
        run = found.given.facility.runs[thing]
        return f"bubbles carried under where {found.name(thing)} enters {found.name(run.target)}"
    pump = found.fit.leak.pump if found.fit.leak is not None else ""
    words = {
        "leak": f"air drawn in at {pump}",
        "warming": "warming in pumps and lamps",
        "life": "oxygen made by plants less what animals use",
        "barometer": "the barometer's last hours",
        "incoming": f"water that comes in by {found.name(thing)}",
        "pull": f"drawn out by {found.name(thing)}",
    }
    return words.get(kind, hidden.visible(name))


def _how(found: result.Found, name: str, ratio: answers.Value | None) -> str:
    kind = name.split(":", 1)[0]
    if kind == "leak":
        pump, weight = found.weighed.first, found.weighed.weights[found.weighed.first]
        rose = f"; N2 rose {ratio.value:.1f} times as fast as O2" if ratio and ratio.value else ""
        if found.state != "found":
            return f"or at another of {', '.join(found.pumps)}{rose}"
        return f"comes and goes with {pump}, weight {weight:.0%}{rose}"
    if kind in COMPUTED:
        return COMPUTED[kind]
    if kind == "life":
        return "fitted to oxygen by day and night"
    at = [p.name for p in found.fit.parameters].index(name) if name in found.fit.values else None
    if at is None:
        return "fitted"
    left = math.sqrt(float(found.fit.covariance[at, at])) / found.fit.parameters[at].sd
    if left > 0.85:
        return "mostly assumed: the readings say little of it"
    return "fitted" if left < 0.4 else "fitted loosely"


def _measured(found: result.Found, place: str) -> tuple[float, float, float] | None:
    """What was last measured at a place: ΔP with the meter's error taken off, its u, and how long ago [h]."""
    case, fit = found.fit.case, found.fit
    number = case.loop.places.index(place)
    rows = np.flatnonzero((case.spot == number) & (fit.slips[: case.hours.size] <= 1.0))
    if not rows.size:
        return None
    last = float(case.hours[rows].max())
    recent = rows[case.hours[rows] >= last - 1.0]
    zero = np.array([fit.values[f"zero:{m}"] for m in case.meters])
    value = float(np.mean(case.seen[recent] - zero[case.meter[recent]]))
    own = float(np.mean(np.hypot(case.noise[recent], fit.spread.pressure))) / math.sqrt(recent.size)
    meters = [
        math.sqrt(float(fit.covariance[n, n]))
        for n, p in enumerate(fit.parameters)
        if p.name.startswith("zero:")
    ]
    doubt = math.sqrt(own**2 + fit.spread.zero**2 / len(set(case.meter[recent])) + min(meters) ** 2)
    return value, doubt, found.hour - last


def _sum(found: result.Found, place: str, total: float, u: float) -> Mapping[str, Any]:
    """The row that sets the sum against what was measured."""
    size = answers.Value(value=total, unit="mmHg", u=u)
    row = {"place": place, "kind": "sum", "size": size}
    measured = _measured(found, place)
    if measured is None:
        return {**row, "source": "sum; nothing was measured here", "how": "foretold", "closes": True}
    value, doubt, ago = measured
    scene = supposing.today(found.fit)
    at = found.fit.case.loop.places.index(place)
    then = float(ft.shown(found.fit, scene, found.hour - ago, found.fit.values)[at])
    off = then - value
    closes = abs(off) <= answers.COVERAGE * math.sqrt(u**2 + doubt**2 + _swing(found, place) ** 2)
    words = f"sum against measured {value:.0f} ± {answers.COVERAGE * doubt:.0f}"
    how = "closes" if closes else f"{'more' if off > 0 else 'less'} by {abs(off):.0f} than measured"
    if ago > RECENT:
        words += f", {ago:.0f} h ago" if ago < 48.0 else f", {ago / 24.0:.0f} days ago"
        how += f"; for then {then:.0f} is foretold"
    return {**row, "source": words, "how": how, "closes": closes, "measured": value}


def _swing(found: result.Found, place: str) -> float:
    """How much bubbles and life move a place's ΔP from hour to hour, as a standard deviation. [mmHg]."""
    fit = found.fit
    bubbles, life = fitting.weights_of(cases.Shown(ft.moment(fit, found.hour), fit.values))
    at = fit.case.loop.places.index(place)
    return math.hypot(
        fit.spread.bubbles * float(np.linalg.norm(bubbles[at])),
        fit.spread.life * float(np.linalg.norm(life[at])),
    )


def removals(found: result.Found) -> answers.Table:
    """By place: how much higher it would stand without each thing that takes gas out."""
    fit, hour = found.fit, found.hour
    idle = ft.idle_at(fit, hour)
    things = [(m, f"without {found.name(m)}") for m in fit.case.loop.strippers if m not in idle]
    things += [("surfaces", "without the water surfaces"), ("falls", "without what the falls let out")]
    rows: list[Mapping[str, Any]] = []
    names = [what for what, _ in things]
    flat = ft.carried(fit, lambda values: ft.removed(fit, hour, names, values))
    sizes, doubts = (part.reshape(len(things), -1) for part in flat)
    for number, (what, words) in enumerate(things):
        for at, place in enumerate(fit.case.loop.places):
            value = answers.Value(value=float(sizes[number, at]), unit="mmHg", u=float(doubts[number, at]))
            how = _how_removed(found, what)
            rows.append({"place": place, "removal": f"{words}: higher by", "size": value, "how": how})
    return answers.Table(
        name="removals",
        title="What takes gas out",
        columns=(
            answers.Output(name="place", label="place", unit=""),
            answers.Output(name="removal", label="removal", unit=""),
            answers.Output(name="size", label="ΔP", unit="mmHg", decimals=1),
            answers.Output(name="how", label="how known", unit=""),
        ),
        rows=tuple(sorted(rows, key=lambda row: fit.case.loop.places.index(row["place"]))),
    )


def _how_removed(found: result.Found, what: str) -> str:
    change = next((c for c in found.given.changes if c.equipment == what), None)
    if change is not None and change.at > found.fit.case.start:
        return f"fitted to readings before and after {change.at.day} {change.at:%B}"
    return _how(found, f"strip:{what}", None) if f"strip:{what}" in found.fit.values else "fitted"


def what_ifs(found: result.Found) -> answers.Table:
    """By change and place: ΔP today and then, and where the gas line would stand against the animals."""
    told, facility = found.told, found.given.facility
    usual = found.given.samples[-1]
    metre = float(seawater.weight_per_metre(usual.temperature, usual.salinity)) / balance.PASCAL
    rows: list[Mapping[str, Any]] = []
    for one in found.supposed:
        scene = one.scene
        settles = 3.0 * max(
            balance.assemble(
                scene.loop, {**found.fit.values, **scene.values}, gas, found.fit.case.air
            ).slowest()
            for gas in loop.GASES
        )
        for place in scene.loop.places:
            then, u = told.at(scene.name, place)
            row: dict[str, Any] = {"change": scene.name, "place": place}
            if place in told.places[0]:
                now, u_now = told.at(supposing.TODAY, place)
                change, u_change = told.change(supposing.TODAY, scene.name, place)
                row["today"] = answers.Value(value=now, unit="mmHg", u=u_now)
                row["difference"] = answers.Value(value=change, unit="mmHg", u=u_change)
            row["then"] = answers.Value(value=then, unit="mmHg", u=u)
            row["gas_line"] = answers.Value(value=max(then, 0.0) / metre, unit="m", u=u / metre)
            shallow = facility.shallow_end(place)
            if shallow is not None:
                row["animals"] = shallow
                row["verdict"] = _verdict(then / metre, u / metre, shallow)
            rows.append({**row, "settles": settles, "basis": one.basis})
    return answers.Table(
        name="what_ifs",
        title="What a change would do",
        columns=(
            answers.Output(name="change", label="what if", unit=""),
            answers.Output(name="place", label="place", unit=""),
            answers.Output(name="today", label="ΔP today", unit="mmHg", decimals=0),
            answers.Output(name="then", label="ΔP then", unit="mmHg", decimals=0),
            answers.Output(name="difference", label="change", unit="mmHg", decimals=0),
            answers.Output(name="gas_line", label="gas line then", unit="m", decimals=2),
            answers.Output(name="animals", label="animals from", unit="m", decimals=2),
            answers.Output(name="verdict", label="verdict", unit=""),
            answers.Output(name="settles", label="settles in", unit="h", decimals=0),
            answers.Output(name="basis", label="how known", unit=""),
        ),
        rows=tuple(rows),
    )


def _verdict(line: float, u: float, shallow: float) -> str:
    """Whether the shallowest animals stand above the gas line: yes, maybe or no."""
    if line - answers.COVERAGE * u > shallow:
        return "too shallow"
    return "may be too shallow" if line + answers.COVERAGE * u > shallow else "deep enough"


def pumps(found: result.Found, sizes: Mapping[str, tuple[float, float]]) -> answers.Table:
    """Each pump: whether air can come in, what speaks for it, and what its leak makes."""
    fit, place = found.fit, result.most(sizes)
    rows: list[Mapping[str, Any]] = []
    for pump in fit.case.loop.pumps:
        told = found.given.suctions.get(pump)
        row: dict[str, Any] = {
            "pump": pump,
            "below_air": told.below_air if told else "unknown",
            "why": told.why if told else "",
            "weight": found.weighed.weights.get(pump, 0.0),
        }
        if fit.leak is not None and fit.leak.pump == pump:
            size, u = sizes[place]
            row |= {"place": place, "size": answers.Value(value=size, unit="mmHg", u=u)}
        rows.append(row)
    return answers.Table(
        name="pumps",
        title="Which pump",
        columns=(
            answers.Output(name="pump", label="pump", unit=""),
            answers.Output(name="below_air", label="air can come in", unit=""),
            answers.Output(name="weight", label="weight", unit="1", decimals=2),
            answers.Output(name="place", label="felt most at", unit=""),
            answers.Output(name="size", label="ΔP when it has run long", unit="mmHg", decimals=1),
        ),
        rows=tuple(rows),
    )


def levels(found: result.Found) -> answers.Table:
    """ΔP at each place as it stands, and the leak's part when its pump has run long."""
    sizes = ft.leak_sizes(found.fit, found.hour)
    rows: list[Mapping[str, Any]] = []
    for place in found.told.places[0]:
        value, u = found.told.at(supposing.TODAY, place)
        row: dict[str, Any] = {"place": place, "delta_p": answers.Value(value=value, unit="mmHg", u=u)}
        if found.fit.leak is not None:
            row["leak"] = answers.Value(value=sizes[place][0], unit="mmHg", u=sizes[place][1])
        rows.append({**row, "measured": found.newest.isoformat()})
    return answers.Table(
        name="levels",
        title="ΔP at each place",
        columns=(
            answers.Output(name="place", label="place", unit=""),
            answers.Output(name="delta_p", label="ΔP", unit="mmHg", decimals=1),
            answers.Output(
                name="leak", label="the leak's part when its pump has run long", unit="mmHg", decimals=1
            ),
            answers.Output(name="measured", label="as of", unit=""),
        ),
        rows=tuple(rows),
    )

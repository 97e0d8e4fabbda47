"""The loop sheet: its sentences, its table of stations, its working and its key, ready for the page."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from brinehouse import answers
from brinehouse.web import catalogue, depths, loop_drawing, loop_words, svg
from brinehouse.workbench import loop


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One row of the table of stations."""

    id: str
    what: str
    where: str
    note: str = ""
    level: str = ""
    verdict: str = ""
    pipe: str = ""
    head: str = ""
    line: str = ""
    gas: str = ""
    flow: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One system on the sheet."""

    id: str
    title: str
    drawn: Markup
    strips: Markup
    lines: Sequence[Line]
    missing: Sequence[str]
    working: Sequence[answers.Step]
    way: bool


def title(one: loop.System, t: catalogue.Words, say: loop_words.Say) -> str:
    """What the profile of a system says, in one sentence."""
    name = one.profile.name
    tank = one.worst.name if one.worst else ""
    pumps = loop_words.row_of(one.pumps, t("loop.to"))
    feels = one.above is not None and one.above > 0.0
    if one.state in ("pump", "air"):
        key = f"loop.title_{one.state}{'_felt' if feels else ''}"
        return t(key, name=name, pumps=pumps, tank=tank)
    if one.state == "shallow":
        return t("loop.title_shallow", name=name, tank=tank, metres=say.metres(one.above))
    return t(
        {"may be": "loop.title_may_be", "deep": "loop.title_deep"}.get(one.state, "loop.title_unread"),
        name=name,
        tank=tank,
    )


_kept: dict[tuple[object, ...], tuple[object, list[Section]]] = {}
_lock = threading.Lock()
KEPT = 8  # drawings of so many looks are kept


def sections(look: loop.Look, say: loop_words.Say, barometer: float | None = None) -> list[Section]:
    """Every system, what matters most first; kept as long as what it shows is the same."""
    key = (say.t.language, say.display, say.zone, barometer, look.asked)
    with _lock:
        known = _kept.get(key)
    if known is not None and known[0] is look:
        return known[1]
    order = sorted(look.systems, key=lambda one: one.weight)
    made = [section(one, say.t, say, barometer) for one in order]
    with _lock:
        while len(_kept) >= KEPT:
            _kept.pop(next(iter(_kept)))
        _kept[key] = (look, made)
    return made


def forget() -> None:
    """Let go of every drawing that is kept."""
    with _lock:
        _kept.clear()


def section(
    one: loop.System, t: catalogue.Words, say: loop_words.Say, barometer: float | None = None
) -> Section:
    """All that the sheet shows of one system."""
    profile = one.profile
    name = f"loop-{profile.system}"
    places = [stop for stop in profile.stops if stop.place]
    return Section(
        id=name,
        title=title(one, t, say),
        drawn=loop_drawing.whole(profile, say, name=name, then=one.then, barometer=barometer),
        strips=loop_drawing.strips(places, say),
        lines=_lines(profile, say, name),
        missing=[t(f"loop.missing_{one.word}", name=one.name) for one in profile.missing],
        working=_working(places, say),
        way=bool(profile.reaches),
    )


def lines(one: loop.System, say: loop_words.Say) -> list[Line]:
    """The table of one system by itself."""
    return _lines(one.profile, say, f"loop-{one.profile.system}")


def _lines(profile: loop.Profile, say: loop_words.Say, name: str) -> list[Line]:
    """A row for each thing on the way, in its order; what a mark leads to has its id."""
    told: list[Line] = []
    seen: set[str] = set()

    def once(id: str) -> str:
        fresh = f"{name}-{id}" if id not in seen else ""
        seen.add(id)
        return fresh

    for reach in profile.reaches:
        for k, stop in enumerate(reach.stops):
            here = [one for one in reach.stations if 2 * k <= one.s <= 2 * k + 1]
            between = [
                one
                for one in reach.stations
                if 2 * k + 1 < one.s < 2 * k + 2 and one.where in ("high", "tap")
            ]
            if stop.flag:
                told.append(_flag(stop, k, once, say, profile))
            elif stop.place:
                told.append(_place(stop, here, once, say))
            else:
                told += _machine(stop, here, once, say, profile.blamed)
            told += [
                _station(one, once(f"{one.run}-{one.where}"), profile.names.get(one.run, one.run), say)
                for one in between
            ]
    told += [_place(stop, [], once, say) for stop in profile.alone]
    return told


def _flag(stop: loop.Stop, k: int, once: Any, say: loop_words.Say, profile: loop.Profile) -> Line:
    id = f"branch-{stop.letters[0]}" if stop.letters else "outside" if not stop.id else ""
    name = profile.names.get(stop.id, stop.name) or say.t("loop.outside")
    key = "loop.table_from" if k == 0 else "loop.table_to"
    letter = f"{stop.letters[0]}: " if stop.letters else ""
    return Line(
        id=once(id) if id else "",
        what=f"{letter}{say.t(key, name=name)}",
        where="",
        pipe=say.high(stop.elevation),
    )


def _place(stop: loop.Stop, here: Sequence[loop.Station], once: Any, say: loop_words.Say) -> Line:
    worst = max(
        (one for one in stop.animals if one.above is not None), key=lambda one: one.above or 0.0, default=None
    )
    level = {"above": "act", "may be": "watch"}.get(worst.state, "") if worst else ""
    flow = next((one.flow for one in here if one.flow is not None), None)
    return Line(
        id=once(stop.id),
        what=stop.name,
        where=say.t("loop.where_surface"),
        note="; ".join(
            f"{one.species} {say.t('loop.from_depth', depth=say.metres(one.shallow))}" for one in stop.animals
        ),
        level=level,
        verdict=say.verdict(worst) if worst else "",
        head=say.high(stop.surface) if not stop.assumed else "",
        line=say.high(stop.line.value) if stop.line and not stop.assumed else "",
        gas=say.pressure(stop.gas) if stop.gas else say.t("loop.no_reading"),
        flow=say.flow(flow),
    )


def _machine(
    stop: loop.Stop, here: Sequence[loop.Station], once: Any, say: loop_words.Say, blamed: str
) -> list[Line]:
    name = stop.tag or stop.name
    rows = [_station(one, once(stop.id), name, say) for one in here if one.head is not None]
    if not rows:
        rows = [Line(id=once(stop.id), what=name, where="", pipe=say.high(stop.elevation))]
    told = say.suction(stop.members, blamed)
    if told:
        first = rows[0]
        rows[0] = Line(
            id=first.id,
            what=first.what,
            where=first.where,
            level="watch",
            verdict=" ".join(told),
            pipe=first.pipe,
            head=first.head,
            line=first.line,
            gas=first.gas,
            flow=first.flow,
        )
    return rows


def _station(one: loop.Station, id: str, name: str, say: loop_words.Say) -> Line:
    head = say.spread(one.head or 0.0, one.low, one.high).removesuffix(f" {say.length_unit}")
    return Line(
        id=id,
        what=name,
        where=say.t(f"loop.where_{one.where}"),
        pipe=say.high(one.elevation),
        head=head,
        line=say.high(one.line) if one.line is not None else "",
        gas=say.pressure(one.gas) if one.gas else "",
        flow=say.flow(one.flow),
    )


def _working(places: Iterable[loop.Stop], say: loop_words.Say) -> list[answers.Step]:
    """How each gas line came about."""
    steps: list[answers.Step] = []
    for stop in places:
        if stop.gas is None or stop.line is None or stop.surface is None:
            continue
        deep = stop.gas.value / (stop.density * loop.GRAVITY)
        steps.append(
            answers.Step(
                name=say.t("loop.work_name", name=stop.name),
                equation="z_gas = z_surface − ΔP/(ρ g)",
                inputs={
                    "z_surface": (round(stop.surface, 3), "m"),
                    "ΔP": (round(stop.gas.value, 0), "Pa"),
                    "ρ": (round(stop.density, 1), "kg/m³"),
                    "g": (loop.GRAVITY, "m/s²"),
                },
                result=round(stop.line.value, 3),
                unit="m",
                source="Colt (1984), eq. 54",
                note=say.t("loop.work_note", depth=svg.digits(deep, 2)),
            )
        )
    return steps


def key_rows(say: loop_words.Say) -> list[tuple[Markup, str]]:
    """What lines, tints and shapes mean: each drawn 28 by 14, with its words."""
    t = say.t
    fish = svg.tag("path", d=depths.FISH, class_="l-fish", transform="translate(14 7) scale(0.85)")
    above = svg.tag("path", d=depths.FISH, class_="l-fish l-act", transform="translate(10 7) scale(0.6)")
    return [
        (svg.line(0, 7, 28, 7, "l-head"), t("loop.key_head")),
        (
            Markup("").join(
                (
                    svg.tag("rect", x=0, y=3.5, width=28, height=7, class_="l-band"),
                    svg.line(0, 7, 28, 7, "l-gas"),
                )
            ),
            t("loop.key_gas"),
        ),
        (svg.tag("rect", x=0, y=0, width=28, height=14, class_="l-gas-water"), t("loop.key_tint")),
        (
            Markup("").join(
                (
                    svg.tag("path", d="M14 1h6m-3 0V13m-3 0h6", class_="l-bar"),
                    svg.tag("circle", cx=17, cy=7, r=2.6, class_="l-read"),
                )
            ),
            t("loop.key_read"),
        ),
        (fish, t("loop.key_fish")),
        (
            Markup("").join((above, svg.tag("path", d="M24 3l4 4l-4 4l-4 -4z", class_="l-act-fill"))),
            t("loop.key_above"),
        ),
        (Markup("").join((svg.tag("path", d="M2 1H18L25 7L18 13H2Z", class_="l-body"),)), t("loop.key_flag")),
    ]


def then_rows(say: loop_words.Say) -> list[tuple[Markup, str]]:
    """What the second lines of a what-if mean."""
    ring = svg.tag("circle", cx=14, cy=7, r=2.8, class_="l-then-dot")
    return [
        (Markup("").join((svg.line(0, 7, 28, 7, "l-then-gas"), ring)), say.t("loop.key_then_gas")),
        (svg.line(0, 7, 28, 7, "l-then-head"), say.t("loop.key_then_head")),
    ]


def key(say: loop_words.Say, *, then: bool = False) -> Markup:
    """The key as a list of the page."""
    rows = [*key_rows(say), *(then_rows(say) if then else ())]
    items = [
        svg.tag("li", svg.tag("svg", drawn, viewBox="0 0 28 14", aria_hidden="true"), svg.tag("span", words))
        for drawn, words in rows
    ]
    return svg.tag("ul", *items, class_="key")


strips = loop_drawing.strips

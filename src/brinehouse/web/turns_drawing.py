"""Running hours as bars with the offset that is wanted, and who runs in the days to come as strips."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from markupsafe import Markup

from brinehouse.web import catalogue, svg

ROW, NAMES = 30.0, 66.0
DAY = timedelta(days=1)
HOUR = timedelta(hours=1)


def _both(wide: Markup, narrow: Markup) -> Markup:
    return svg.tag("div", wide, narrow, class_="drawn turns-drawn")


def bars(group: Any, t: catalogue.Words) -> Markup:
    """Hours of each pump since its overhaul; a diamond where its offset wants it."""
    if not group.units:
        return Markup("")
    return _both(_bars(group, t, 640.0, "wide"), _bars(group, t, 320.0, "narrow"))


def _bars(group: Any, t: catalogue.Words, width: float, kind: str) -> Markup:
    hours = {unit.pump: group.ran(unit.pump) for unit in group.units}
    longest = max([group.life or 0.0, *hours.values()]) or 1.0
    x = svg.scale(0.0, longest, NAMES, width - 74.0)
    wanted = {unit.pump: group.wanted(unit.pump) for unit in group.units} if group.spacing else {}
    parts: list[Markup] = []
    for row, unit in enumerate(group.units):
        top, ran = 6.0 + row * ROW, hours[unit.pump]
        said = t("turns.bar", pump=unit.pump, hours=f"{ran:.0f}")
        parts.append(svg.tag("text", unit.pump, x=0.0, y=top + 14.0, class_="name"))
        length = max(x(ran) - x(0.0), 1.0)
        look = "d-hours" if group.counted else "d-hours open"
        parts.append(
            svg.tag("rect", svg.tag("title", said), x=x(0.0), y=top, width=length, height=18.0, class_=look)
        )
        if unit.pump in wanted:
            at = svg.place(x.within(wanted[unit.pump]))
            parts.append(
                svg.tag("path", d=f"M{at} {svg.place(top - 3)}l6 12l-6 12l-6 -12z", class_="d-wanted")
            )
        parts.append(svg.tag("text", f"{ran:.0f} h", x=width, y=top + 14.0, class_="value end"))
    floor = 6.0 + len(group.units) * ROW
    parts += _hours(x, floor, group.life, t, 4 if kind == "wide" else 2)
    return svg.tag(
        "svg", *parts, class_=kind, viewBox=f"0 0 {svg.place(width)} {svg.place(floor + 22.0)}", role="img",
        aria_label=t("turns.bars_label", name=group.duty.name),
    )  # fmt: skip


def _hours(x: svg.Scale, floor: float, life: float | None, t: catalogue.Words, most: int) -> list[Markup]:
    """The scale below the bars, and the line at which an overhaul is due."""
    marks = svg.ticks(0.0, x.high, most)
    drawn = [svg.line(x.start, floor, x.end, floor, "d-axis")]
    for at, word in zip(marks, svg.tick_words(marks), strict=True):
        if life is not None and x(at) > x(life) - 140.0 and at > 0.0:
            continue
        drawn.append(svg.line(x(at), floor, x(at), floor + 4.0, "d-axis"))
        drawn.append(svg.tag("text", word, x=x(at), y=floor + 17.0, class_="middle"))
    if life is not None:
        drawn.append(svg.line(x(life), 0.0, x(life), floor, "d-life"))
        drawn.append(
            svg.tag(
                "text", t("turns.life", hours=f"{life:.0f}"), x=x(life) + 8.0, y=floor + 17.0, class_="end"
            )
        )
    return drawn


def fortnight(group: Any, zone: str, t: catalogue.Words) -> Markup:
    """Who runs when in the days to come: a strip a pump, trial starts as short marks."""
    return _both(
        _fortnight(group, zone, t, (760.0, 14), "wide"), _fortnight(group, zone, t, (330.0, 7), "narrow")
    )


def _fortnight(group: Any, zone: str, t: catalogue.Words, size: tuple[float, int], kind: str) -> Markup:
    width, days = size
    plan = group.plan
    begin, end = plan.begin, min(plan.end, plan.begin + days * DAY)
    x = svg.scale(0.0, (end - begin) / HOUR, NAMES, width - 4.0)

    def across(at: datetime) -> float:
        return x.within((at - begin) / HOUR)

    floor = 24.0 + len(group.units) * ROW
    parts = _midnights(begin, end, zone, t, across, floor)
    for row, unit in enumerate(group.units):
        top = 24.0 + row * ROW
        parts.append(svg.tag("text", unit.pump, x=0.0, y=top + 16.0, class_="name"))
        parts.append(svg.line(x.start, top + 12.0, x.end, top + 12.0, "d-rule"))
        parts += [
            _spell(one, across, top, zone, t)
            for one in plan.spells
            if one.pump == unit.pump and one.begin < end
        ]
    return svg.tag(
        "svg", *parts, class_=kind, viewBox=f"0 0 {svg.place(width)} {svg.place(floor)}", role="img",
        aria_label=t("turns.fortnight_label", name=group.duty.name),
    )  # fmt: skip


def _midnights(
    begin: datetime, end: datetime, zone: str, t: catalogue.Words, across: Any, floor: float
) -> list[Markup]:
    here = ZoneInfo(zone)
    day = begin.astimezone(here).replace(hour=0, minute=0, second=0, microsecond=0)
    drawn: list[Markup] = []
    names = t("turns.weekdays").split()
    while day < end:
        following = (day + DAY).replace(hour=0)
        left, right = across(max(day, begin)), across(min(following, end))
        if day > begin:
            drawn.append(svg.line(left, 18.0, left, floor, "d-rule"))
        if right - left > 34.0:
            word = names[day.weekday()] + (f" {day.day}" if right - left > 44.0 else "")
            drawn.append(svg.tag("text", word, x=(left + right) / 2.0, y=12.0, class_="middle"))
        day = following
    return drawn


def _spell(one: Any, across: Any, top: float, zone: str, t: catalogue.Words) -> Markup:
    left, right = across(one.begin), across(one.end)
    here = ZoneInfo(zone)
    times = {
        "begin": f"{one.begin.astimezone(here):%a %d %H:%M}",
        "end": f"{one.end.astimezone(here):%a %d %H:%M}",
    }
    if one.trial:
        said = t("turns.trial_at", pump=one.pump, **times)
        at = svg.place(left)
        return svg.tag("path", svg.tag("title", said), d=f"M{at} {svg.place(top + 3)}v18", class_="d-trial")
    said = t("turns.runs_from", pump=one.pump, **times)
    return svg.tag(
        "rect", svg.tag("title", said), x=left, y=top + 5.0, width=max(right - left, 1.0), height=14.0,
        class_="d-runs",
    )  # fmt: skip


def said(changes: Sequence[Any], zone: str) -> list[dict[str, Any]]:
    """The changes of a plan as rows of a table, in the hall's own time."""
    here = ZoneInfo(zone)
    return [
        {
            "at": f"{change.at.astimezone(here):%Y-%m-%d %H:%M}",
            "day": f"{change.at.astimezone(here):%a %d %b}",
            "clock": f"{change.at.astimezone(here):%H:%M}",
            "start": ", ".join(change.start),
            "stop": ", ".join(change.stop),
            "why": change.why,
        }
        for change in changes
    ]

"""The plant sheet: its sentence, and a row for every part of the drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from brinehouse.web import catalogue, plant_drawing, svg
from brinehouse.workbench import plant

HIDDEN = (plant.HEADER, plant.INLET, plant.OUTLET)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One part as the table tells it."""

    id: str
    tag: str
    what: str
    state: str
    since: datetime | None
    water: str
    points: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupLine:
    """One duty group in a sentence, and whether it has fewer pumps running than it should."""

    text: str
    level: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One system on the sheet."""

    id: str
    title: str
    drawn: Markup
    groups: Sequence[GroupLine]
    rows: Sequence[Row]


def title(look: plant.Plant, t: catalogue.Words) -> str:
    """What the drawing says, in one sentence."""
    groups = [group for one in look.schemes for group in one.groups]
    if not look.schemes:
        return t("plant.nothing")
    short = [group for group in groups if group.short]
    if short:
        one = short[0]
        return t("plant.title_short", name=one.name, running=one.running, keep=one.keep)
    states = [part.state for one in look.schemes for part in one.parts if part.kind == "pump"]
    if "unknown" in states or not states:
        return t("plant.title_unknown", count=states.count("unknown"), of=len(states))
    return t("plant.title_all", count=states.count("runs"), of=len(states))


def section(one: plant.Scheme, t: catalogue.Words, say: plant_drawing.Say) -> Section:
    """All that the sheet shows of one system."""
    return Section(
        id=f"plant-{one.id}",
        title=one.name,
        drawn=plant_drawing.both(one, say),
        groups=[_group(group, t) for group in one.groups],
        rows=[
            _row(part, f"plant-{one.id}-{part.id}", t, say) for part in one.parts if part.kind not in HIDDEN
        ],
    )


def alone(parts: Sequence[plant.Part], t: catalogue.Words, say: plant_drawing.Say) -> list[Row]:
    """Places that no water joins to another."""
    return [_row(part, f"plant-alone-{part.id}", t, say) for part in parts]


def _group(group: plant.Group, t: catalogue.Words) -> GroupLine:
    running = t("plant.running_unknown") if group.running is None else t("plant.running", count=group.running)
    told = [t("plant.group", name=group.name, running=running, keep=group.keep, of=len(group.pumps))]
    if group.turn is not None:
        told.append(t("plant.turn", turn=_span(group.turn, t)))
    if group.standby:
        told.append(t("plant.standby_alone" if group.standby == "automatic" else "plant.standby_by_hand"))
    return GroupLine(text="; ".join(told), level="act" if group.short else "")


def _span(seconds: float, t: catalogue.Words) -> str:
    """A span as a person says it.

    >>> _span(129600.0, catalogue.Words("en")), _span(7 * 86400.0, catalogue.Words("en"))
    ('36 h', '7 days')
    """
    hours = seconds / 3600.0
    return (
        t("plant.hours", count=svg.digits(hours))
        if hours < 72
        else t("plant.days", count=svg.digits(hours / 24.0))
    )


def _row(part: plant.Part, id: str, t: catalogue.Words, say: plant_drawing.Say) -> Row:
    water = say.flow(part.flow)
    if part.volume is not None:
        value, unit = say.display.show(part.volume, "m³")
        water = f"{svg.digits(value)} {unit}"
    return Row(
        id=id,
        tag=part.tag or part.name,
        what=_what(part, t),
        state=t(f"plant.{part.state}") if part.state else "",
        since=part.since,
        water=water,
        points=", ".join(name for tag in part.tags for name in tag.points),
    )


def _what(part: plant.Part, t: catalogue.Words) -> str:
    """Its name beside a tag, else its kind."""
    if part.tag and part.name != part.tag:
        return part.name
    return t(f"plant.kind_{part.kind}") if part.kind in ("tank", "sump", "vessel") else part.kind

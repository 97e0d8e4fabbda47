"""Checks on values: what cannot be, ranges upside down, more than there is room for."""

from __future__ import annotations

import functools
import importlib.resources
import itertools
from collections.abc import Callable

from brinehouse import glossary
from brinehouse.facility import alike, amounts, cases, hidden, model, shape, words

_ABOVE_NOUGHT = ("volume", "area", "mass", "mass rate", "power", "time")
_ABOVE_NOUGHT_WORDS = {
    "depth",
    "length",
    "width",
    "diameter",
    "crest over floor",
    "height",
    "roughness",
    "npsh",
    "suction_length",
    "suction_diameter",
    "hole",
}
_MAY_BE_NOUGHT = ("power", "feed", "light", "detection", "travel", "ready", "after", "change_over")
_ALTITUDES = (-450.0, 6000.0)  # m: the shore of the Dead Sea, and the highest town with room to spare
_DEEPER = 0.05  # m: a rounded depth is not a contradiction


def impossible(case: cases.Case) -> None:
    """Volumes, lengths, masses and powers are above nought; temperature and salinity are those of water."""
    for entries in case.draft.entries.values():
        for entry in entries:
            for word in words.catalogue()[entry.table].words.values():
                value = entry.values.get(word.name)
                kind, _, what = word.kind.partition(":")
                if kind == "amount" and isinstance(value, float):
                    _judge(case, entry, word, what, value)


def _judge(case: cases.Case, entry: shape.Entry, word: words.Word, what: str, value: float) -> None:
    path = (*entry.path, word.name)
    if word.name == "altitude":
        low, high = _ALTITUDES
        bad = not low <= value <= high
        hint = f"write the height above the sea, between {low:g} m and {high:g} m"
    elif what in ("temperature", "salinity"):
        known = glossary.quantity(what)
        bad = known is not None and known.judge(value) == "impossible"
        hint = f"look at the number and its unit: water is between {_ends(known)}"
    elif what in _ABOVE_NOUGHT or word.name in _ABOVE_NOUGHT_WORDS:
        bad = value < 0 or (value == 0 and word.name not in _MAY_BE_NOUGHT and entry.table != "point")
        hint = f"write {word.name} = {word.example}"
    elif what == "flow" and entry.table != "run":
        bad = value < 0
        hint = f"write {word.name} = {word.example}"
    else:
        return
    if bad:
        text = f"{entry.thing}: '{word.name}' cannot be {value:.6g} {_unit(what)}".rstrip()
        case.say("facility/impossible", path, text, hint, about=entry.thing, word=word.name)


def _ends(known: glossary.Quantity | None) -> str:
    return "" if known is None else f"{known.possible[0]:g} and {known.possible[1]:g} {known.unit}"


def _unit(what: str) -> str:
    return {
        "length": "m",
        "area": "m²",
        "volume": "m³",
        "flow": "m³/s",
        "mass": "kg",
        "mass rate": "g/d",
        "power": "W",
        "time": "s",
        "temperature": "°C",
        "salinity": "PSU",
    }.get(what, "")


def timezone(case: cases.Case) -> None:
    """The time zone is one that exists."""
    for entry in case.draft.of("facility"):
        zone = entry.values.get("timezone")
        if zone is not None and zone not in zones():
            near = alike.meant(zone, zones())
            hint = alike.offer(near) or "write area and city, e.g. 'Europe/London'"
            case.say(
                "facility/timezone",
                (*entry.path, "timezone"),
                f"the time zone '{hidden.visible(zone)}' is not in the tz database",
                hint,
                about=entry.thing,
            )


@functools.cache
def zones() -> frozenset[str]:
    """Every time zone of the tz database that comes with the package."""
    return frozenset(importlib.resources.files("tzdata").joinpath("zones").read_text("utf-8").split())


# -- pumps --------------------------------------------------------------------------------------------


def pumps(case: cases.Case) -> None:
    """Curves rise in flow and fall in head; a duty group keeps no more pumps than it has."""
    for pump in case.facility.pumps.values():
        _curve(case, pump)
    group: dict[str, str] = {}
    for duty in case.facility.duties.values():
        shown = hidden.visible(duty.id)
        if duty.pumps and not 1 <= duty.keep <= len(set(duty.pumps)):
            case.say(
                "facility/duty-keep",
                ("duty", duty.id, "keep"),
                f"duty {shown} keeps {duty.keep} of {len(set(duty.pumps))} pumps running",
                f"write a number from 1 to {len(set(duty.pumps))}",
                about=f"duty {shown}",
            )
        for index, pump in enumerate(duty.pumps):
            if pump in group:
                case.say(
                    "facility/twice",
                    ("duty", duty.id, "pumps", index),
                    f"pump {hidden.visible(pump)} is in duty {hidden.visible(group[pump])} already",
                    "name each pump in one duty group, once",
                    about=f"duty {shown}",
                )
            group[pump] = duty.id


def _curve(case: cases.Case, pump: model.Pump) -> None:
    path = ("pump", pump.id, "curve")
    thing = f"pump {hidden.visible(pump.id)}"
    if any(flow < 0 or head < 0 for flow, head in pump.curve):
        case.say(
            "facility/impossible",
            path,
            f"{thing}: its curve has a flow or a head below nought",
            "write flows and heads without sign",
            about=thing,
        )
    for index, ((flow, head), (more, less)) in enumerate(itertools.pairwise(pump.curve), 1):
        if more <= flow:
            case.say(
                "facility/curve",
                (*path, index),
                f"{thing}: the flows of its curve do not rise",
                "write the points by rising flow, each flow once",
                about=thing,
            )
            return
        if less >= head:
            case.ask(
                "facility/curve",
                (*path, index),
                f"{thing}: its head does not fall as the flow rises",
                "look at the pump's sheet: flow stands first, head second",
                about=thing,
            )
            return


# -- points, animals ----------------------------------------------------------------------------------


def depths(case: cases.Case) -> None:
    """Points and animals are in the water."""
    for point in case.facility.points.values():
        vessel = case.facility.place(point.at)
        if point.depth is None or vessel is None or vessel.depth is None:
            continue
        if point.depth > vessel.depth + _DEEPER:
            thing = f"point {hidden.visible(point.id)}"
            case.ask(
                "facility/too-deep-for-tank",
                ("point", point.id, "depth"),
                f"{thing} is {point.depth:.4g} m down; {hidden.visible(vessel.id)} has {vessel.depth:.4g} m",
                "correct the depth of the point or of the water",
                about=thing,
            )
    for index, animals in enumerate(case.facility.animals):
        if animals.depth is not None:
            _animals(case, index, animals, *animals.depth)


def _animals(case: cases.Case, index: int, animals: model.Animals, shallow: float, deep: float) -> None:
    path = ("animals", index, "depth")
    thing = f"animals {index + 1} ({hidden.visible(animals.species)})"
    vessel = case.facility.vessels.get(animals.at)
    if shallow < 0:
        case.say(
            "facility/impossible",
            path,
            f"{thing}: their shallow end is above the water",
            "depths count down from the surface",
            about=thing,
        )
    elif shallow > deep:
        case.say(
            "facility/upside-down",
            path,
            f"{thing}: the range of depth is upside down",
            "write the shallow end first",
            about=thing,
        )
    elif vessel is not None and vessel.depth is not None and deep > vessel.depth + _DEEPER:
        case.ask(
            "facility/too-deep-for-tank",
            path,
            f"{thing} go down to {deep:.4g} m, in {hidden.visible(vessel.id)} of {vessel.depth:.4g} m",
            "correct the range, or the depth of the tank",
            about=thing,
        )


# -- ranges and limits --------------------------------------------------------------------------------


def ranges(case: cases.Case) -> None:
    """Ranges of a point stand low to high, and the expected one fits inside the possible one."""
    for point in case.facility.points.values():
        thing = f"point {hidden.visible(point.id)}"
        for name in ("expected", "possible"):
            span = getattr(point, name)
            if span is not None and span.low > span.high:
                case.say(
                    "facility/upside-down",
                    ("point", point.id, name),
                    f"{thing}: the {name} range is upside down ({span.low:g} to {span.high:g})",
                    "write the low end first",
                    about=thing,
                )
        if (
            point.expected is not None
            and point.possible is not None
            and not _inside(point.expected, point.possible)
        ):
            case.say(
                "facility/range-outside",
                ("point", point.id, "possible"),
                f"{thing}: the expected range does not fit inside the possible range",
                "the possible range holds every reading a working sensor can give: widen it",
                about=thing,
            )


def _inside(inner: model.Range, outer: model.Range) -> bool:
    low, high = sorted((inner.low, inner.high))
    least, most = sorted((outer.low, outer.high))
    return least <= low and high <= most


def limits(case: cases.Case) -> None:
    """Bands stand low to high, each wider than the one it surrounds, and one rule holds for one place."""
    seen: dict[tuple[str, str], int] = {}
    for index, limit in enumerate(case.facility.limits):
        thing = f"limit {index + 1} ({limit.quantity})" if limit.quantity else f"limit {index + 1}"
        path = ("limit", index)
        _bands(case, limit, path, thing)
        told = set(case.raw["limit"][index]) & {"aim", "watch", "act"}
        if not told:
            case.say(
                "facility/missing",
                path,
                f"{thing} has no 'aim', 'watch' or 'act': it says nothing",
                "write one of them: " + amounts.BAND_HINT.removeprefix("write "),
                key=True,
                about=thing,
            )
        if limit.basis == "?":
            _no_basis(case, limit, path, thing)
        where = (limit.quantity, limit.at)
        if limit.quantity and where in seen:
            case.ask(
                "facility/twice",
                path,
                f"{thing} is for the same place as limit {seen[where]}",
                "put both into one",
                about=thing,
            )
        seen.setdefault(where, index + 1)


def rationalised(case: cases.Case) -> None:
    """Which limits are only told: they name no cause or no response, so they ask nobody to do anything."""
    without = [
        f"{index + 1} ({limit.quantity}{' at ' + hidden.visible(limit.at) if limit.at else ''})"
        for index, limit in enumerate(case.facility.limits)
        if not limit.asks and (limit.watch or limit.act)
    ]
    if without and len(without) < len(case.facility.limits):
        case.note(
            "facility/limit-asks-nobody",
            ("limit", int(without[0].split()[0]) - 1),
            f"{'limits' if len(without) > 1 else 'limit'} {', '.join(without)} "
            f"name{'' if len(without) > 1 else 's'} no cause or no response: crossed, they are told and ask "
            "nobody",
            "write cause = and response =, with harm = and time =, where somebody has to do something",
            limits=len(without),
        )
    for index, limit in enumerate(case.facility.limits):
        _dead_band(case, limit, index)


def _dead_band(case: cases.Case, limit: model.Limit, index: int) -> None:
    """A dead band that is wider than the band it belongs to can never be left again."""
    for name in ("watch", "act"):
        band: model.Band | None = getattr(limit, name)
        if band is None or band.low is None or band.high is None:
            continue
        if limit.dead_band >= (band.high - band.low) / 2.0:
            case.ask(
                "facility/dead-band",
                ("limit", index, "dead_band"),
                f"limit {index + 1} ({limit.quantity}): the dead band fills the '{name}' band: once crossed, "
                "it never counts as kept again",
                "write a smaller one",
                about=f"limit {index + 1}",
            )
            return


def _no_basis(case: cases.Case, limit: model.Limit, path: shape.Path, thing: str) -> None:
    known = glossary.quantity(limit.quantity)
    ways = " or ".join(f"'as {way}'" for way in known.basis) if known is not None else ""
    case.ask(
        "facility/basis",
        path,
        f"{thing} does not say what the {limit.quantity} is counted as",
        f"write {ways} behind the unit, e.g. 'above 5 mg/L as N'",
        about=thing,
    )


def _bands(case: cases.Case, limit: model.Limit, path: tuple[str | int, ...], thing: str) -> None:
    named = [(name, band) for name in ("aim", "watch", "act") if (band := getattr(limit, name)) is not None]
    for name, band in named:
        if band.low is not None and band.high is not None and band.low > band.high:
            case.say(
                "facility/upside-down",
                (*path, name),
                f"{thing}: the '{name}' band is upside down",
                "write the low end first",
                about=thing,
            )
        known = glossary.quantity(limit.quantity)
        ends = [end for end in (band.low, band.high) if end is not None]
        if known is not None and any(known.judge(end) == "impossible" for end in ends):
            case.ask(
                "facility/impossible",
                (*path, name),
                f"{thing}: no {limit.quantity} can reach the '{name}' band",
                f"it lies between {_ends(known)}",
                about=thing,
            )
    for (inner, tight), (outer, wide) in itertools.pairwise(named):
        if _crosses(tight.low, wide.low, max) or _crosses(tight.high, wide.high, min):
            case.say(
                "facility/limits-inverted",
                (*path, outer),
                f"{thing}: '{outer}' is met before '{inner}'",
                f"'{outer}' is further out than '{inner}'; are they swapped?",
                about=thing,
            )


def _crosses(tight: float | None, wide: float | None, further: Callable[[float, float], float]) -> bool:
    """Whether the wider band's end lies inside the tighter one's."""
    return tight is not None and wide is not None and tight != wide and further(tight, wide) == wide


# -- instruments --------------------------------------------------------------------------------------


def instruments(case: cases.Case) -> None:
    """A meter measures what its point is for, and can be read at this height."""
    facility = case.facility
    for point in facility.points.values():
        meter = facility.instruments.get(point.instrument)
        if meter is not None and point.quantity and meter.measures and point.quantity not in meter.measures:
            thing = f"point {hidden.visible(point.id)}"
            case.ask(
                "facility/instrument",
                ("point", point.id, "instrument"),
                f"{thing} is for {point.quantity}, and {hidden.visible(meter.id)} does not measure that",
                f"it measures {', '.join(meter.measures)}: name another, or add the quantity to it",
                about=thing,
            )
    for meter in facility.instruments.values():
        if meter.barometer == "sea level" and facility.altitude is None:
            thing = f"instrument {hidden.visible(meter.id)}"
            case.ask(
                "facility/altitude",
                ("instrument", meter.id, "barometer"),
                f"{thing} gives pressure at sea level, and the facility has no altitude to bring it back",
                'write altitude = "412 m" under [facility]',
                about=thing,
            )

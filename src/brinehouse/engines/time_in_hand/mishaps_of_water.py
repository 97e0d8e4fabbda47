"""Water that goes where it should not: top-ups, leaks, valves, overflows."""

from __future__ import annotations

import math
from collections.abc import Iterator

from brinehouse.engines.time_in_hand import neighbours
from brinehouse.engines.time_in_hand.mishap import Mishap, named, words
from brinehouse.facility import model
from brinehouse.network.plumbing import levels, way
from brinehouse.network.transients import effects
from brinehouse.science.constants import GRAVITY

HOLES = ((0.012, "a small hose that came off"), (0.05, "a broken pipe"))  # m; common practice, no source
TOP_UP = 1.0 / 3600.0  # m³/s where no top-up is told of at all (common practice, no source)
DISCHARGE = 0.6  # of a hole: only for the sentence of how fast a level falls


def top_ups(facility: model.Facility) -> Iterator[Mishap]:
    """Each top-up stuck open and stuck shut; where none is told of, one at each sump is taken as there."""
    told = {place.id: place.top_up for place in facility.places if place.top_up}
    assumed = {} if told else dict.fromkeys(facility.sumps, TOP_UP)
    for place, flow in (told or assumed).items():
        found = _top_up_words(facility, place)
        vessel = facility.vessels[place]
        name = neighbours.label(facility, place)
        much = f"{flow * 3600.0:.3g} m³/h" + ("" if told else ", assumed")
        stuck = "is left open" if vessel.top_up_by == "hand" else "sticks open"
        missed = "is forgotten" if vessel.top_up_by == "hand" else "sticks shut"
        yield Mishap(
            id=named("top-up", place, "stuck-open"), title=f"The top-up of {name} {stuck} ({much})",
            kind="top-up", effects=(effects.Effect("top-up", place, flow),), card="top-up-open", words=found,
        )  # fmt: skip
        yield Mishap(
            id=named("top-up", place, "stuck-shut"), title=f"The top-up of {name} {missed}",
            kind="top-up", effects=(effects.Effect("top-up", place, 0.0),), card="top-up-shut", words=found,
        )  # fmt: skip


def _top_up_words(facility: model.Facility, place: str) -> dict[str, str]:
    groups = neighbours.pumps_on(facility, place)
    tanks = neighbours.pressing(
        facility, [place, *(tank for group in groups for tank in neighbours.fed_by(facility, group))]
    )
    source = facility.vessels[place].top_up_from
    return words(facility, "", tanks) | {
        "place": neighbours.label(facility, place),
        "from": neighbours.label(facility, source) if source in facility.vessels else "",
        "drawing": neighbours.row(facility, groups),
    }


def leaks(facility: model.Facility) -> Iterator[Mishap]:
    """Holes of two sizes at the floor of each tank and sump, and of each vessel that water passes."""
    passed = {end for run in facility.runs.values() for end in (run.source, run.target)}
    for vessel in facility.places:
        if vessel.kind == "vessel" and vessel.id not in passed and not facility.animals_at(vessel.id):
            continue
        name = neighbours.label(facility, vessel.id)
        for bore, like in HOLES:
            size = f"{bore * 1000.0:.0f} mm"
            yield Mishap(
                id=named("leak", vessel.id, size.replace(" ", "-")),
                title=f"{name} leaks through a hole of {size}, as of {like}",
                kind="leak",
                effects=(effects.Effect("leak", vessel.id, bore, "floor"),),
                card="leak" if vessel.kind == "tank" else "leak-sump",
                words=_leak_words(facility, vessel, bore),
            )


def _leak_words(facility: model.Facility, vessel: model.Vessel, bore: float) -> dict[str, str]:
    supply = [run.id for run in neighbours.supplies(facility, vessel.id)]
    topped = next((one.id for one in facility.places if one.top_up and _joined(facility, one, vessel)), "")
    drawing = neighbours.pumps_on(facility, vessel.id)
    below = [tank for one in drawing for tank in neighbours.fed_by(facility, one)]
    return words(
        facility, "", [vessel.id] if vessel.kind == "tank" else neighbours.pressing(facility, below)
    ) | {
        "place": neighbours.label(facility, vessel.id),
        "loss": _loss(vessel, bore),
        "supply": neighbours.row(facility, supply),
        "drawing": neighbours.row(facility, drawing),
        "topped": neighbours.label(facility, topped) if topped else "",
    }


def _joined(facility: model.Facility, one: model.Vessel, other: model.Vessel) -> bool:
    systems = (facility.system_of(one.id), facility.system_of(other.id))
    return systems[0] is not None and systems[0] == systems[1]


def _loss(vessel: model.Vessel, bore: float) -> str:
    """How fast its level falls at first; empty where depth or surface are not told."""
    area = levels.area(vessel)
    water = vessel.working or vessel.volume
    depth = vessel.depth or (water / area if water and area else None)
    if not area or not depth:
        return ""
    flow = DISCHARGE * math.pi / 4.0 * bore**2 * math.sqrt(2.0 * GRAVITY * depth)
    rate = flow / area * 60e3  # mm/min
    return f"{_digits(rate)} mm a minute" if rate >= 1.0 else f"{_digits(rate * 60.0)} mm an hour"


def _digits(value: float) -> str:
    """Two digits that count, without an exponent.

    >>> _digits(123.4), _digits(1.23)
    ('120', '1.2')
    """
    return f"{float(f'{value:.2g}'):.10g}"


def valves(facility: model.Facility) -> Iterator[Mishap]:
    """Each hand valve shut and half shut, and each overflow without a valve blocked."""
    for run in facility.runs.values():
        if run.source not in facility.vessels:
            continue
        if neighbours.has_valve(facility, run):
            yield from _turned(facility, run)
        elif not way.driven(facility, run) and not _sieved(facility, run):
            yield _overflow(facility, run)


def _sieved(facility: model.Facility, run: model.Run) -> bool:
    """Whether a screen stands on a run: its being blocked is a failure of its own."""
    return any(
        "screen" in facility.equipment[part].kind for part in run.through if part in facility.equipment
    )


def _turned(facility: model.Facility, run: model.Run) -> Iterator[Mishap]:
    usual = 1.0 if run.open is None else run.open
    tanks = neighbours.pressing(facility, [run.target, *neighbours.fed_by(facility, run.target)])
    groups = way.groups_on(facility, run)
    shared = [one for group in groups for one in neighbours.runs_through(facility, group)]
    found = words(facility, "", tanks) | {
        "run": neighbours.label(facility, run.id),
        "target": neighbours.label(facility, run.target) if run.target in facility.vessels else run.target,
        "group": neighbours.row(facility, list(groups)) if len(shared) > 1 else "",
        "alone": neighbours.row(facility, list(groups)) if len(shared) == 1 else "",
        "mark": f"{usual * 100.0:.0f} %" if run.open is not None else "",
    }
    for share, end, said in ((0.0, "shut", "shut"), (0.5, "half-shut", "half shut")):
        yield Mishap(
            id=named("valve", run.id, end), title=f"The hand valve of {found['run']} is {said}", kind="valve",
            effects=(effects.Effect("valve", run.id, share * usual),),
            card="valve-half" if share else "valve-shut", words=found,
        )  # fmt: skip


def _overflow(facility: model.Facility, run: model.Run) -> Mishap:
    place, target = facility.vessels[run.source], run.target
    known = target in facility.vessels
    supply = [one.id for one in neighbours.supplies(facility, place.id)]
    return Mishap(
        id=named("way", run.id, "blocked"),
        title=f"{neighbours.label(facility, run.id)} is blocked".removeprefix("The "),
        kind="valve",
        effects=(effects.Effect("valve", run.id, 0.0),),
        card="overflow",
        words=words(facility, "", neighbours.pressing(facility, [place.id])) | {
            "place": neighbours.label(facility, place.id),
            "target": neighbours.label(facility, target) if known else "",
            "supply": neighbours.row(facility, supply),
            "drawing": neighbours.row(facility, neighbours.pumps_on(facility, target)) if known else "",
        },
    )  # fmt: skip

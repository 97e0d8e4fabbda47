"""Pumps that stop, standbys that do not come, air that is drawn in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from brinehouse.engines.time_in_hand import neighbours
from brinehouse.engines.time_in_hand.mishap import Mishap, minutes, named, words
from brinehouse.facility import model
from brinehouse.network import flows
from brinehouse.network.plumbing import laying, way
from brinehouse.network.transients import effects

DRAWN = 5.0  # mL of air at 0 °C and 1 atm in each litre: a small leak (common practice, no source)


def pumps(facility: model.Facility, running: Mapping[str, bool]) -> Iterator[Mishap]:
    """Each pump that runs stops; each that rests is dead without anybody noticing."""
    for pump in facility.pumps:
        if running.get(pump, True):
            yield _stops(facility, pump, running)
        else:
            yield _dead(facility, pump)


def change_overs(facility: model.Facility, running: Mapping[str, bool]) -> Iterator[Mishap]:
    """A pump of each group with an automatic standby stops, and nothing takes over."""
    for duty in facility.duties.values():
        on = [pump for pump in way.members(facility, duty.id) if running.get(pump, True)]
        resting = _resting(facility, duty, running)
        if duty.standby != "automatic" or not on or not resting:
            continue
        found = _around(facility, on[0], running)
        yield Mishap(
            id=named("change-over", duty.id, "fails"),
            title=f"{neighbours.label(facility, on[0])} stops and {neighbours.label(facility, resting[0])} "
            "does not take over",
            kind="change-over",
            effects=(effects.Effect("stop", on[0]), effects.Effect("no-change-over", duty.id)),
            card="change-over",
            words=found | ({"board": board} if (board := words(facility, duty.id).get("board", "")) else {}),
        )


def suctions(facility: model.Facility, running: Mapping[str, bool]) -> Iterator[Mishap]:
    """Air drawn in by each running pump whose inlet is under less than the air's pressure."""
    stated = flows.stated(facility, running=running).flows
    states = laying.stations(facility, flows=stated, running=running).pumps
    for pump, state in states.items():
        if state.running and state.below_air == "yes":
            yield Mishap(
                id=named("pump", pump, "draws-air"),
                title=f"{neighbours.label(facility, pump)} draws air on its suction",
                kind="suction",
                effects=(effects.Effect("air", pump, DRAWN),),
                card="suction",
                words=_around(facility, pump, running),
            )


def _stops(facility: model.Facility, pump: str, running: Mapping[str, bool]) -> Mishap:
    duty = neighbours.group_of(facility, pump)
    resting = _resting(facility, duty, running) if duty is not None else []
    if not resting or duty is None:
        card = "pump-alone"
    else:
        card = "pump-standby" if duty.standby == "automatic" else "pump-by-hand"
    return Mishap(
        id=named("pump", pump, "stops"),
        title=f"{neighbours.label(facility, pump)} stops",
        kind="pump",
        effects=(effects.Effect("stop", pump),),
        card=card,
        words=_around(facility, pump, running),
    )


def _dead(facility: model.Facility, pump: str) -> Mishap:
    return Mishap(
        id=named("standby", pump, "dead"),
        title=f"{neighbours.label(facility, pump)} rests and would not start",
        kind="standby",
        effects=(effects.Effect("dead-standby", pump),),
        card="standby-dead",
        words=_around(facility, pump, {}),
    )


def _resting(facility: model.Facility, duty: model.Duty, running: Mapping[str, bool]) -> list[str]:
    return [pump for pump in way.members(facility, duty.id) if not running.get(pump, True)]


def _around(facility: model.Facility, pump: str, running: Mapping[str, bool]) -> dict[str, str]:
    """The group, its resting pump, the sump, the tanks and the spare of a pump."""
    duty = neighbours.group_of(facility, pump)
    tanks = neighbours.fed_by(facility, pump)
    found = words(facility, pump, tanks)
    more = {"spare": neighbours.remedy(facility, "spare pump", pump, duty.id if duty is not None else "")}
    sump = neighbours.sump_of(facility, pump)
    more["sump"] = neighbours.label(facility, sump) if sump else ""
    if duty is not None:
        resting = [one for one in _resting(facility, duty, running) if one != pump]
        more["group"] = neighbours.label(facility, duty.id)
        more["standby"] = neighbours.label(facility, resting[0]) if resting else ""
        more["other"] = neighbours.plate(facility, resting[0]) if resting else ""
        more["delay"] = minutes(duty.change_over) if duty.change_over is not None else ""
    return found | {name: value for name, value in more.items() if value}

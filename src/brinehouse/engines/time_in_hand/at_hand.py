"""What the facility file says is kept at hand, as effects from the time it is set up until it is used up."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from brinehouse.engines.time_in_hand import neighbours
from brinehouse.facility import model
from brinehouse.network.plumbing import way
from brinehouse.network.transients import effects

Kept = tuple[model.Remedy, str, str, tuple[effects.Effect, ...]]
"""A remedy, the part it is used for, what is done, and what that does."""
_HOUR = 3600.0


def air(facility: model.Facility, place: str, after: float) -> Iterator[Kept]:
    """Battery air for a place, from when it stands there until the battery is flat.

    Parameters
    ----------
    facility : Facility
    place : str
    after : float
        When somebody stands before it. [s]
    """
    for one in facility.remedies.values():
        if one.kind == "battery air" and place in one.at and one.times:
            begin = after + (one.ready or 0.0)
            done = [effects.Effect("aerate", place, one.times, after=begin)]
            if one.lasts is not None:
                done.append(effects.Effect("aerate", place, 1.0, after=begin + one.lasts))
            yield one, place, f"{_name(facility, one)} into {neighbours.label(facility, place)}", tuple(done)


def water(facility: model.Facility, place: str, usual: float, after: float) -> Iterator[Kept]:
    """Make-up water for a place that holds so much [m³], until its store is empty."""
    for one in facility.remedies.values():
        store = facility.vessels.get(one.store)
        if one.kind != "make-up" or place not in one.at or not one.flow or store is None or usual <= 0.0:
            continue
        begin = after + (one.ready or 0.0)
        share = min(one.flow * _HOUR / usual, 1.0)
        done = [effects.Effect("exchange", place, share, after=begin)]
        held = store.working or store.volume
        if held:
            done.append(effects.Effect("exchange", place, 0.0, after=begin + held / (share * usual) * _HOUR))
        name, target = neighbours.label(facility, store.id), neighbours.label(facility, place)
        yield one, place, f"change water of {target} from {name} with {_name(facility, one)}", tuple(done)


def spares(facility: model.Facility, stopped: Sequence[str], after: float) -> Iterator[Kept]:
    """A spare pump in the place of one that stopped, once it has been fitted."""
    for one in facility.remedies.values():
        if one.kind != "spare pump":
            continue
        fits = {pump for part in one.at for pump in way.members(facility, part)}
        pump = next((name for name in stopped if name in fits), "")
        if pump:
            begin = after + (one.ready or 0.0)
            said = f"fit {_name(facility, one)} in the place of {neighbours.label(facility, pump)}"
            yield one, pump, said, (effects.Effect("start", pump, after=begin),)


def _name(facility: model.Facility, one: model.Remedy) -> str:
    return "the " + neighbours.label(facility, one.id) if one.name != one.id else one.id

"""Machines that stop, run without end, or are blocked."""

from __future__ import annotations

from collections.abc import Iterator

from brinehouse.engines.time_in_hand import neighbours
from brinehouse.engines.time_in_hand.mishap import Mishap, named, words
from brinehouse.facility import model
from brinehouse.network.plumbing import way
from brinehouse.network.transients import effects

BLOCKED = {"screen": 1.0, "filter": 0.8}  # share; common practice, no source
_COLD = ("chiller", "heat pump", "cooler")
_WARM = ("heater", "boiler")
_AIR = ("blower", "air pump", "compressor")
_GAS = ("degasser", "vacuum", "packed column", "trickle")
_OXYGEN = ("oxygen", "contactor")
_LAMP = ("uv", "ultraviolet")
_SIEVES = ("screen", "drum", "sieve")


def machines(facility: model.Facility) -> Iterator[Mishap]:
    """Every machine in each way it fails."""
    for machine in facility.equipment.values():
        kind = machine.kind.casefold()
        if _is(kind, _COLD):
            yield from _holder(facility, machine, "cooling", "chiller")
        elif _is(kind, _WARM):
            yield from _holder(facility, machine, "heating", "heater")
        elif _is(kind, _SIEVES) or ("filter" in kind and "bio" not in kind):
            yield _blocked(facility, machine, "screen" if _is(kind, _SIEVES) else "filter")
        elif (stopped := _stopped(facility, machine, kind)) is not None:
            yield stopped


def _is(kind: str, these: tuple[str, ...]) -> bool:
    return any(one in kind for one in these)


def _holder(facility: model.Facility, machine: model.Equipment, kind: str, card: str) -> Iterator[Mishap]:
    """A chiller or heater stuck off, and stuck on."""
    told, verb = _words(facility, machine), "cools" if kind == "cooling" else "heats"
    yield Mishap(
        id=named(card, machine.id, "stuck-off"),
        title=f"{neighbours.label(facility, machine.id)} {verb} no more",
        kind=kind,
        effects=(effects.Effect("stop", machine.id),),
        card=f"{card}-off",
        words=told,
    )
    yield Mishap(
        id=named(card, machine.id, "stuck-on"),
        title=f"{neighbours.label(facility, machine.id)} {verb} without end",
        kind=kind,
        effects=(effects.Effect("full-on", machine.id),),
        card=f"{card}-on",
        words=told,
    )


def _blocked(facility: model.Facility, machine: model.Equipment, card: str) -> Mishap:
    """A screen or filter blocked: the tanks that matter of a screen are those that run off over it."""
    told = _words(facility, machine)
    if card == "screen":
        above = neighbours.pressing(
            facility, (run.source for run in facility.runs.values() if machine.id in run.through)
        )
        sump = next((run.target for run in facility.runs.values() if machine.id in run.through), "")
        group = neighbours.pumps_on(facility, sump)
        told = words(facility, machine.id, above or neighbours.fed_by(facility, machine.id)) | {
            "sump": neighbours.label(facility, sump) if sump in facility.vessels else "",
            "group": neighbours.row(facility, group),
        }
    return Mishap(
        id=named(card, machine.id, "blocked"),
        title=f"{neighbours.label(facility, machine.id)} is blocked",
        kind="screen",
        effects=(effects.Effect("blocked", machine.id, BLOCKED[card]),),
        card=card,
        words=told,
    )


def _stopped(facility: model.Facility, machine: model.Equipment, kind: str) -> Mishap | None:
    """A machine that stops; None of one that has nothing to stop."""
    if _is(kind, _LAMP):
        card, shelf, said = "uv", "uv", "is off"
    elif _is(kind, _AIR):
        card, shelf, said = "blower", "air", "stops"
    elif _is(kind, _OXYGEN):
        card, shelf, said = "oxygen", "air", "gives no more oxygen"
    elif _is(kind, _GAS) and (machine.power or machine.board or "degasser" in kind or "vacuum" in kind):
        card, shelf, said = "degasser", "air", "has lost its fan or vacuum"
    elif machine.power or machine.board:
        card, shelf, said = "machine", "machine", "stops"
    else:
        return None
    end = "off" if card == "uv" else "stops"
    return Mishap(
        id=named(card, machine.id, end),
        title=f"{neighbours.label(facility, machine.id)} {said}",
        kind=shelf,
        effects=(effects.Effect("stop", machine.id),),
        card=card,
        words=_words(facility, machine),
    )


def _words(facility: model.Facility, machine: model.Equipment) -> dict[str, str]:
    found = words(facility, machine.id, neighbours.fed_by(facility, machine.id))
    groups = dict.fromkeys(
        group for run in facility.runs.values() if machine.id in run.through
        for group in way.groups_on(facility, run)
    )  # fmt: skip
    return found | ({"group": neighbours.row(facility, list(groups))} if groups else {})

"""What stands around a part, by the names people use: which standby, which valve, which tank first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from brinehouse.facility import hidden, model
from brinehouse.network.plumbing import way

VALVES = ("ball valve", "butterfly valve", "gate valve", "globe valve", "diaphragm valve")
MANY = 4  # names in a row that a person still reads on a card


def label(facility: model.Facility, part: str) -> str:
    """A part as its label and the people have it: ``return pump 1 (P-201)``."""
    name = hidden.visible(str(getattr(_named(facility, part), "name", "") or part))
    tag = plate(facility, part)
    machine = part in facility.pumps or part in facility.equipment
    return f"{name} ({tag})" if machine and name.casefold() != tag.casefold() else name


def plate(facility: model.Facility, part: str) -> str:
    """What stands on the plate of a machine: its tag, else its id."""
    return hidden.visible(str(getattr(_named(facility, part), "tag", "") or part))


def _named(facility: model.Facility, part: str) -> object:
    shelves: Sequence[Mapping[str, object]] = (
        facility.vessels, facility.pumps, facility.duties, facility.equipment, facility.runs,
        facility.boards, facility.remedies,
    )  # fmt: skip
    return next((shelf[part] for shelf in shelves if part in shelf), None)


def row(facility: model.Facility, parts: Sequence[str]) -> str:
    """Several parts in a sentence; beyond a few only how many more there are."""
    shown = [label(facility, part) for part in parts[:MANY]]
    if len(parts) > MANY:
        return ", ".join(shown) + f" and {len(parts) - MANY} more"
    return shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + " and " + shown[-1] if shown else ""


def group_of(facility: model.Facility, pump: str) -> model.Duty | None:
    """The duty group of a pump."""
    return next((duty for duty in facility.duties.values() if pump in duty.pumps), None)


def runs_through(facility: model.Facility, part: str) -> list[model.Run]:
    """Runs that pass a part; a pump stands for its duty group."""
    names = {part, way.group(facility, part)} - {""}
    return [run for run in facility.runs.values() if names & {*run.through, run.source}]


def fed_by(facility: model.Facility, part: str) -> list[str]:
    """Tanks whose water comes through a part, straight or by way of other tanks, the most pressing first."""
    machine = facility.equipment.get(part)
    reached = dict.fromkeys(run.target for run in runs_through(facility, part))
    reached |= dict.fromkeys([machine.at] if machine is not None and machine.at else [])
    for _ in facility.vessels:
        reached |= {
            run.target: None for run in facility.runs.values()
            if run.source in reached and not way.driven(facility, run)
        }  # fmt: skip
    return pressing(facility, reached)


def pressing(facility: model.Facility, places: Iterable[str]) -> list[str]:
    """Tanks by how soon they are in need: the most animals for their water first, then the smallest."""

    def need(name: str) -> tuple[float, float]:
        vessel = facility.vessels[name]
        water = vessel.working or vessel.volume or 1.0
        return -sum(one.mass or 0.0 for one in facility.animals_at(name)) / water, water

    return sorted((name for name in dict.fromkeys(places) if name in facility.tanks), key=need)


def sump_of(facility: model.Facility, part: str) -> str:
    """The place that a pump or its group draws from; empty where none is drawn."""
    for run in runs_through(facility, part):
        if run.source in facility.vessels:
            return run.source
    pump = facility.pumps.get(part)
    return pump.at if pump is not None and pump.at in facility.vessels else ""


def has_valve(facility: model.Facility, run: model.Run) -> bool:
    """Whether a run has a hand valve: stated, or taken as there where nothing is told of a pumped run."""
    if run.open is not None or any(kind in VALVES for _, kind in run.fittings):
        return True
    return not run.fittings and way.driven(facility, run)


def supplies(facility: model.Facility, place: str) -> list[model.Run]:
    """Pumped runs that end at a place and can be shut."""
    return [
        run for run in facility.runs.values()
        if run.target == place and way.driven(facility, run) and has_valve(facility, run)
    ]  # fmt: skip


def remedy(facility: model.Facility, kind: str, *parts: str) -> str:
    """What is kept at hand of a kind for one of some parts; empty where nothing is."""
    for wanted in parts:
        for one in facility.remedies.values():
            if one.kind == kind and wanted and wanted in one.at:
                return label(facility, one.id)
    return ""


def pumps_on(facility: model.Facility, place: str) -> list[str]:
    """Duty groups and pumps that draw from a place."""
    found = dict.fromkeys(
        group for run in facility.runs.values() if run.source == place
        for group in way.groups_on(facility, run)
    )  # fmt: skip
    return list(found)

"""Checks on upkeep: work that comes round must say when, and nothing in use hangs on a retired thing."""

from __future__ import annotations

from collections.abc import Iterator

from brinehouse.facility import cases, hidden, model, positions

_RUNNING = ("pump", "equipment")


def upkeep(case: cases.Case) -> None:
    """Work that comes round says when it is due, and counts hours and starts of what runs."""
    for index, item in enumerate(case.facility.upkeep):
        path, thing = ("upkeep", index), f"upkeep {index + 1}"
        said = f"{thing} ({hidden.visible(item.what)} of {hidden.visible(item.of)})"
        written = case.raw["upkeep"][index]
        if not any(word in written for word in ("every", "hours", "starts", "when")):
            case.say(
                "facility/upkeep",
                path,
                f"{said} does not say when it is due",
                'write every = "180 d", hours = "4000 h", starts = 500, or a reading: quantity, at and when',
                key=True,
                about=thing,
            )
        both = item.when is not None and None not in (item.when.low, item.when.high)
        if both and not item.text.strip().casefold().startswith(("outside", "below", "under", "<")):
            case.ask(
                "facility/upkeep",
                (*path, "when"),
                f"{said}: '{hidden.visible(item.text)}' does not say from where on it is due",
                "write 'outside' before it, or 'above' or 'below' an amount",
                about=thing,
            )
        if "when" in written and not item.at:
            case.ask(
                "facility/upkeep",
                (*path, "when"),
                f"{said}: the reading that makes it due has no point",
                'write at = "..." with the point it is read at',
                about=thing,
            )
        counted = next((word for word in ("hours", "starts") if word in written), "")
        if counted and case.facility.find(item.of) not in (*_RUNNING, ""):
            case.say(
                "facility/upkeep",
                (*path, counted),
                f"{said}: '{counted}' are counted of pumps and equipment only",
                "write every = ... in its place",
                about=thing,
            )


def retired(case: cases.Case) -> None:
    """A group, run, point or remedy that is in use names nothing that is retired."""
    facility = case.facility
    if not any("retired" in entry.values for entry in case.draft.of(*_CAN_RETIRE)):
        return
    for path, thing, names, own in _users(facility):
        for name in names:
            since = facility.retired(name)
            if since and not own:
                case.ask(
                    "facility/retired",
                    path,
                    f"{thing} names {hidden.visible(name)}, which is retired since {since}",
                    "take it out there, or name what stands in its place",
                    about=thing,
                    named=name,
                )


_CAN_RETIRE = ("tank", "sump", "vessel", "pump", "equipment", "point", "instrument")
_User = tuple[positions.Path, str, tuple[str, ...], str]


def _users(facility: model.Facility) -> Iterator[_User]:
    """Who names what: the path of the word, the thing, the names, and since when it is itself retired."""
    for duty in facility.duties.values():
        yield ("duty", duty.id, "pumps"), f"duty {hidden.visible(duty.id)}", duty.pumps, ""
    for run in facility.runs.values():
        thing = f"run {hidden.visible(run.id)}"
        yield ("run", run.id, "through"), thing, run.through, ""
        yield ("run", run.id, "from"), thing, (run.source,), ""
        yield ("run", run.id, "to"), thing, (run.target,), ""
    for point in facility.points.values():
        thing = f"point {hidden.visible(point.id)}"
        yield ("point", point.id, "instrument"), thing, (point.instrument,), facility.retired(point.id)
    for index, animals in enumerate(facility.animals):
        yield ("animals", index, "at"), f"animals {index + 1}", (animals.at,), ""

"""The balance of a hall: the plant as its file draws it, what the logbook knows of the water, and a what-if.

The file is never changed: a what-if is worked out on a copy of its text.
"""

from __future__ import annotations

import collections
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from brinehouse import answers, findings
from brinehouse.engines import balance
from brinehouse.facility import changing, model
from brinehouse.network import flows as flows_of
from brinehouse.workbench import balance_inputs, clock, hall, mishaps

KEPT = 24  # answers kept; each is a few hundred numbers
LONGEST = 20_000  # characters of a change list
COLUMNS = ("packed column", "degasser", "contactor")


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """A change list that fits this hall, and what it asks in a keeper's words."""

    text: str
    said: str


_stands: dict[tuple[Any, ...], tuple[balance_inputs.Inputs, balance.Worked]] = {}
_kept: collections.OrderedDict[tuple[Any, ...], answers.Answer] = collections.OrderedDict()


def parse(text: str, name: str = "what-if") -> changing.Changes:
    """A change list as typed or as a file holds it."""
    if len(text) > LONGEST:
        raise mishaps.Refused(
            findings.Finding(
                code="balance/list-too-long",
                level=findings.Level.STOP,
                text=f"the change list has {len(text)} characters; at most {LONGEST} are read",
                hint="put so many changes into a facility file of its own",
            )
        )
    return changing.parse(text, name)


def read(path: Path) -> changing.Changes:
    """A change list from a file; refused in a sentence where it cannot be read."""
    try:
        return parse(path.read_text("utf-8-sig"), path.name)
    except (OSError, UnicodeDecodeError) as fault:
        why = fault.strerror if isinstance(fault, OSError) else "it is not UTF-8 text"
        raise mishaps.Refused(
            findings.Finding(
                code="balance/no-list",
                level=findings.Level.STOP,
                text=f"the change list {path} cannot be read: {why}",
                hint="give the name of a text file with [[set]], [[add]], [[remove]] or [[reroute]]",
            )
        ) from fault


def survey(place: hall.Hall, changes: changing.Changes | None = None) -> answers.Answer:
    """Where the water settles as things stand, and with a change list also as they would be.

    Kept while neither logbook, facility file nor list has changed.
    """
    facility = place.facility
    if changes is not None and not changes.text.strip():
        changes = None
    head = tuple(place.book.head()) if hall.Hall.has_book(place.folder) else ()
    stamp = (str(place.folder.resolve()), head, facility.digest, clock.now().date(),
             changes.digest if changes else "", changes.name if changes else "")  # fmt: skip
    if stamp in _kept:
        _kept.move_to_end(stamp)
        return _kept[stamp]
    made = examine(place, changes)
    _kept[stamp] = made
    while len(_kept) > KEPT:
        _kept.popitem(last=False)
    return made


def examine(place: hall.Hall, changes: changing.Changes | None = None) -> answers.Answer:
    """The same, worked out anew."""
    inputs, today = _today(place)
    then: balance.Plant | None = None
    refused: changing.Changed | None = None
    if changes is not None:
        changed = changing.apply(
            place.file.read_text("utf-8-sig"), changes, hall.FACILITY_FILE, base=place.checked
        )
        if changed.facility is None:
            refused = changed
        else:
            then = plant(changed.facility, inputs, changed)
    return balance.survey(
        today,
        then,
        known=inputs.known,
        as_of=inputs.as_of,
        refused=refused.findings if refused is not None else (),
        title=changes.title if changes is not None else "",
    )


def _today(place: hall.Hall) -> tuple[balance_inputs.Inputs, balance.Worked]:
    """The plant as it stands, worked out once for all changes that are asked of it."""
    head = tuple(place.book.head()) if hall.Hall.has_book(place.folder) else ()
    stamp = (str(place.folder.resolve()), head, place.facility.digest, clock.now().date())
    if stamp not in _stands:
        inputs = balance_inputs.look(place)
        worked = balance.work(plant(place.facility, inputs))
        _stands.clear()
        _stands[stamp] = (inputs, worked)
    return _stands[stamp]


def plant(
    facility: model.Facility, inputs: balance_inputs.Inputs, changed: changing.Changed | None = None
) -> balance.Plant:
    """One plant with its flows and with what stands around its water."""
    found = flows_of.stated(facility)
    told = (*(changed.findings if changed else ()), *found.findings)
    return balance.Plant(
        facility=facility,
        flows=found,
        conditions=balance_inputs.conditions(facility, inputs),
        findings=told,
        said=changed.said if changed else (),
        title=changed.changes.title if changed else "",
    )


# -- examples -------------------------------------------------------------------------------------------


def examples(facility: model.Facility) -> tuple[Example, ...]:
    """Two or three change lists made from the hall itself."""
    made = (*_without_column(facility), *_fed_from_the_pumps(facility), *_new_column(facility))
    return made[:3]


def _without_column(facility: model.Facility) -> Sequence[Example]:
    for machine in facility.equipment.values():
        if machine.kind in COLUMNS and any(machine.id in run.through for run in facility.runs.values()):
            return [Example(text=f"remove {machine.id}", said=f"Without the {machine.name or machine.kind}")]
    return []


def _supplies(facility: model.Facility) -> list[model.Run]:
    """Runs that bring pumped water to a tank."""
    return [
        run
        for run in facility.runs.values()
        if run.target in facility.tanks and set(run.through) & {*facility.duties, *facility.pumps}
    ]


def _fed_from_the_pumps(facility: model.Facility) -> Sequence[Example]:
    """A tank that another's overflow feeds, fed from the sump instead."""
    supplies = {run.target: run for run in _supplies(facility)}
    for run in facility.runs.values():
        supply = supplies.get(run.source)
        if supply is None or run.target not in facility.tanks or run.target in supplies or run.through:
            continue
        kinds = {machine.id: machine.kind for machine in facility.equipment.values()}
        way = ", ".join(part for part in supply.through if kinds.get(part) not in COLUMNS)
        lines = [f"reroute {_q(run.id)} from {_q(supply.source)} through {way} to {_q(run.target)}"]
        out = [r for r in facility.runs.values() if r.source == run.source and r.id != run.id]
        lines += [f"set {_q(out[0].id)} without flow"] if out and out[0].flow is not None else []
        fed, feeder = facility.vessels[run.target].name, facility.vessels[run.source].name
        said = f"{fed} fed by the pumps, not by {feeder}"
        return [Example(text="\n".join(lines), said=said)]
    return []


def _new_column(facility: model.Facility) -> Sequence[Example]:
    """A packed column in a supply that has none."""
    kinds: Mapping[str, str] = {machine.id: machine.kind for machine in facility.equipment.values()}
    for run in _supplies(facility):
        if not any(kinds.get(part) in COLUMNS for part in run.through):
            text = f"add equipment new-column; kind = packed column; into = {_q(run.id)}"
            return [Example(text=text, said=f"A packed column in the {run.name or run.id}")]
    return []


def _q(name: str) -> str:
    return f'"{name}"' if " " in name else name

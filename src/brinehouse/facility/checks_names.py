"""Checks on names: ids too alike, names of things that do not exist, places inside each other in a ring."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from brinehouse import findings
from brinehouse.facility import alike, cases, hidden, model, shape, words

_NAMED = (
    "system",
    "tank",
    "sump",
    "vessel",
    "pump",
    "duty",
    "equipment",
    "run",
    "point",
    "instrument",
    "source",
    "animals",
    "board",
    "remedy",
    "failure",
    "shift",
    "zone",
    "round",
)
_KINDS = ("id", "list id")


def too_alike(case: cases.Case) -> None:
    """Every id differs from every other, by more than case or the kind of hyphen."""
    groups: dict[str, list[shape.Entry]] = {}
    for entry in sorted(case.draft.of(*_NAMED), key=lambda e: case.draft.places.spot(e.path).line or 0):
        if entry.id:
            groups.setdefault(alike.fold(entry.id), []).append(entry)
    for group in groups.values():
        names = " and ".join(_shown(entry) for entry in group)
        for entry in group[1:]:
            same = entry.id == group[0].id
            code = "facility/same-id" if same else "facility/ids-too-alike"
            what = (
                "have one id: messages, labels and voices cannot tell them apart"
                if same
                else ("are too alike to tell apart on a label or by voice")
            )
            case.say(
                code,
                entry.path,
                f"{names} {what}",
                "give them names that differ in more than their form",
                key=True,
                about=entry.thing,
                ids=[each.id for each in group],
            )


def _shown(entry: shape.Entry) -> str:
    odd = [f"U+{ord(char):04X}" for char in entry.id if not char.isascii() and not char.isalpha()]
    return f"{entry.table} '{hidden.visible(entry.id)}'" + (f" ({', '.join(odd)})" if odd else "")


@dataclass(frozen=True, slots=True)
class _Named:
    """One name of another thing: who says it, under which word, where."""

    entry: shape.Entry
    word: words.Word
    path: shape.Path
    name: str

    @property
    def what(self) -> str:
        """What it must stand for."""
        return self.word.kind.partition(":")[2]


def references(case: cases.Case) -> None:
    """Every name of another thing stands for a thing of the right kind."""
    shelves = _shelves(case.facility)
    broken = [
        named
        for named in _every_name(case.draft)
        if named.name not in shelves[named.what] and named.name not in case.draft.ghosts
    ]
    lame = _lame_places(case.facility) if broken else []
    for named in broken:
        _report(case, named, shelves, lame)


def _every_name(draft: shape.Draft) -> Iterator[_Named]:
    catalogue = words.catalogue()
    for table, entries in draft.entries.items():
        naming = [word for word in catalogue[table].words.values() if word.kind.partition(":")[0] in _KINDS]
        for entry in entries:
            for word in naming:
                told = entry.values.get(word.name)
                path = (*entry.path, word.name)
                if isinstance(told, tuple):
                    yield from (_Named(entry, word, (*path, index), name) for index, name in enumerate(told))
                elif isinstance(told, str):
                    yield _Named(entry, word, path, told)


def _shelves(facility: model.Facility) -> Mapping[str, Iterable[str]]:
    """For each kind of reference, the ids it may name."""
    places = dict.fromkeys(facility.vessels)
    machines = dict.fromkeys((*facility.pumps, *facility.duties, *facility.equipment))
    stated = dict.fromkeys(name for name, system in facility.systems.items() if system.stated)
    points = dict.fromkeys(facility.points)
    return {
        "place": places,
        "machine": machines,
        "part": places | machines,
        "run end": places | machines | {model.OUTSIDE: None},
        "tap": places | machines | dict.fromkeys(facility.runs),
        "scope": places | points | stated,
        "pump": dict.fromkeys(facility.pumps),
        "point": points,
        "system": stated,
        "instrument": dict.fromkeys(facility.instruments),
        "board": dict.fromkeys(facility.boards),
        "zone": dict.fromkeys(facility.zones),
        "stop": places | points | dict.fromkeys(facility.runs),
        "thing": places | machines | dict.fromkeys((*facility.runs, *facility.boards)),
        "asset": places | machines | dict.fromkeys((*facility.runs, *facility.boards, *facility.instruments)),
    }


def _report(case: cases.Case, named: _Named, shelves: Mapping[str, Iterable[str]], lame: list[str]) -> None:
    entry, what = named.entry, named.what
    shown = hidden.visible(named.name)
    told = _sentence(entry, named.word, shown)
    table = "" if what == "system" else case.facility.find(named.name)
    stands = "kept for water that enters or leaves" if named.name == model.OUTSIDE else f"a {table}"
    if table or named.name == model.OUTSIDE:
        text = f"{told}, which is {stands}, not {words.IDS[what]}"
        hint = f"name {words.IDS[what]}"
        case.say("facility/wrong-reference", named.path, text, hint, about=entry.thing, named=shown)
        return
    near = alike.meant(named.name, shelves[what])
    so = lame if entry.table == "run" else []
    text = f"{told}, which does not exist" + (f"; so {'; '.join(so)}" if so else "")
    hint = alike.offer(near) or _offer_all(what, shelves[what])
    case.say(
        "facility/dangling",
        named.path,
        text,
        hint,
        about=entry.thing,
        named=shown,
        near=near,
        consequences=so,
    )


def _sentence(entry: shape.Entry, word: words.Word, shown: str) -> str:
    if entry.table == "run" and word.name == "to":
        origin = entry.values.get("from", "")
        return f"{entry.thing}{f' from {hidden.visible(origin)}' if origin else ''} goes to '{shown}'"
    if entry.table == "run" and word.name == "from":
        return f"{entry.thing} comes from '{shown}'"
    if entry.table == "run" and word.name == "through":
        return f"{entry.thing} passes '{shown}'"
    return f"{entry.thing}: '{word.name}' names '{shown}'"


def _offer_all(what: str, shelf: Iterable[str]) -> str:
    names = list(shelf)[:8]
    return f"name {words.IDS[what]}: {', '.join(names)}" if names else f"add {words.IDS[what]} with that id"


def _lame_places(facility: model.Facility) -> list[str]:
    """Tanks and sumps that water leaves and never reaches, or the other way round."""
    into = {run.target for run in facility.runs.values()}
    out = {run.source for run in facility.runs.values()}
    fed = {vessel.id for vessel in facility.vessels.values() if vessel.fed_by or vessel.part_of}
    lame: list[str] = []
    for name, vessel in facility.vessels.items():
        if vessel.kind == "vessel" or name in fed:
            continue
        if name in out and name not in into:
            lame.append(f"{hidden.visible(name)} has an outlet and no inlet")
        elif name in into and name not in out:
            lame.append(f"{hidden.visible(name)} has an inlet and no outlet")
    return lame


def containment(case: cases.Case) -> None:
    """Nothing is part of itself, by however many steps."""
    facility = case.facility
    outer = {name: vessel.part_of for name, vessel in facility.vessels.items() if vessel.part_of}
    _rings(case, outer, "part_of", "is part of")
    machines = (*facility.pumps.items(), *facility.equipment.items())
    _rings(case, {name: machine.at for name, machine in machines if machine.at}, "at", "stands in")
    feeding = {name: board.fed_from for name, board in facility.boards.items() if board.fed_from}
    _rings(case, feeding, "fed_from", "is fed from")


def _rings(case: cases.Case, outer: Mapping[str, str], word: str, verb: str) -> None:
    done: set[str] = set()
    for start in outer:
        trail: list[str] = []
        name = start
        while name in outer and name not in done and name not in trail:
            trail.append(name)
            name = outer[name]
        if name in trail:
            _say_ring(case, [*trail[trail.index(name) :], name], word, verb)
        done.update(trail)


def _say_ring(case: cases.Case, ring: list[str], word: str, verb: str) -> None:
    shown = [hidden.visible(name) for name in ring]
    story = f"{shown[0]} {verb} " + f", which {verb} ".join(shown[1:])
    table = case.facility.find(ring[0])
    hint = f"take '{word}' out of one of them"
    case.say(
        "facility/ring",
        (table, ring[0], word),
        f"{story}: a ring",
        hint,
        about=f"{table} {shown[0]}",
        ring=ring,
    )


def hidden_text(case: cases.Case) -> None:
    """Direction marks in notes and elsewhere make a file read otherwise than it is."""
    if case.text.isascii():
        return
    reported = {found.spot.line for found in case.draft.said if found.code == "facility/hidden-character"}
    for number, line in enumerate(case.text.split("\n"), 1):
        if number in reported or line.isascii():
            continue
        at = next((index for index, char in enumerate(line) if char in hidden.TURNS), None)
        if at is not None:
            sign = hidden.named(line[at])
            case.draft.said.append(
                findings.Finding(
                    code="facility/hidden-character",
                    level=findings.Level.STOP,
                    text=f"line {number} holds {sign}, which makes it read otherwise than it is",
                    hint="delete the line and type it anew",
                    spot=findings.Spot(file=case.draft.places.file, line=number, column=at + 1),
                    data={"characters": [sign]},
                )
            )

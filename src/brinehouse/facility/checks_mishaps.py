"""Checks on what may go wrong and what is at hand for it: boards, top-ups, remedies, own failures."""

from __future__ import annotations

from collections.abc import Mapping

from brinehouse.facility import building, cases, hidden, shape, words

ON_PARTS: Mapping[str, tuple[str, ...]] = {
    "stop": ("pump", "equipment", "duty"),
    "no-change-over": ("duty",),
    "dead-standby": ("pump", "duty"),
    "full-on": ("equipment",),
    "power": (),
    "board": ("board",),
    "top-up": ("tank", "sump", "vessel"),
    "leak": ("tank", "sump", "vessel"),
    "valve": ("run",),
    "blocked": ("equipment",),
    "feed": ("tank", "sump", "vessel", ""),
    "room": (),
    "no-exchange": (),
    "air": ("pump",),
}
"""By effect: the tables its part may stand in; the empty one where it may be left out, none where it must."""

_SAID = {"tank": "a place", "sump": "", "vessel": "", "duty": "a duty group", "run": "a run",
         "pump": "a pump", "equipment": "equipment", "board": "an electrical board"}  # fmt: skip
_ENDS = {"times": (0.0, 10.0), "hole": (1e-4, 1.0), "flow": (0.0, 1.0), "air": (0.0, 0.2)}
_HELPS = {"battery air": ("times",), "spare pump": (), "make-up": ("flow", "store")}
_OWN = {"times": "battery air", "lasts": "battery air", "flow": "make-up", "store": "make-up"}


def boards(case: cases.Case) -> None:
    """A board feeds something, and where boards are drawn every machine with a motor hangs on one."""
    facility = case.facility
    if not facility.boards:
        return
    feeding = {board.fed_from for board in facility.boards.values()}
    parts = (*facility.pumps.values(), *facility.equipment.values(), *facility.duties.values())
    feeding |= {part.board for part in parts}
    for name in facility.boards:
        if name not in feeding:
            case.ask(
                "facility/board",
                ("board", name),
                f"board {hidden.visible(name)} feeds nothing",
                f'write board = "{hidden.visible(name)}" under what it feeds, or take it out',
                about=f"board {hidden.visible(name)}",
            )
    loose = [part.id for part in (*facility.pumps.values(), *facility.equipment.values())
             if part.power and not part.board]  # fmt: skip
    if loose and not case.broken:
        table = facility.find(loose[0])
        case.note(
            "facility/board",
            (table, loose[0]),
            f"{_row(loose)} hang on no board: only a failure of the whole power stops them together",
            'write board = "..." under each, as the labels in the boards say it',
            about=f"{table} {hidden.visible(loose[0])}",
        )


def top_ups(case: cases.Case) -> None:
    """A top-up has a flow, and its store is another place."""
    for vessel in case.facility.vessels.values():
        thing = f"{vessel.kind} {hidden.visible(vessel.id)}"
        path = (vessel.kind, vessel.id)
        if vessel.top_up is None and (vessel.top_up_by or vessel.top_up_from):
            case.ask(
                "facility/top-up",
                (*path, "top_up_by" if vessel.top_up_by else "top_up_from"),
                f"{thing} tells of its top-up, and not how much runs in while it is open",
                'open it into a bucket, and write top_up = "0.9 m3/h"',
                about=thing,
            )
        if vessel.top_up_from == vessel.id:
            case.say(
                "facility/top-up",
                (*path, "top_up_from"),
                f"{thing} is topped up from itself",
                "name the store the water comes from",
                about=thing,
            )


def remedies(case: cases.Case) -> None:
    """What is at hand helps a thing of the right kind, and says what it needs to be reckoned with."""
    for remedy in case.facility.remedies.values():
        thing = f"remedy {hidden.visible(remedy.id)}"
        path = ("remedy", remedy.id)
        pumps = remedy.kind == "spare pump"
        for index, name in enumerate(remedy.at):
            table = case.facility.find(name)
            if table and (table in ("pump", "duty")) != pumps:
                wanted = "pumps or duty groups" if pumps else "tanks, sumps or vessels"
                case.say(
                    "facility/remedy",
                    (*path, "at", index),
                    f"{thing}: {remedy.kind} does not help {table} {hidden.visible(name)}",
                    f"name {wanted}",
                    about=thing,
                )
        told = {word: getattr(remedy, word) for word in _OWN}
        for word, value in told.items():
            kind = _OWN[word]
            if value not in (None, "") and kind != remedy.kind and remedy.kind:
                case.ask(
                    "facility/remedy",
                    (*path, word),
                    f"{thing} has '{word}', which is for {kind}",
                    "take it out, or correct its kind",
                    about=thing,
                )
        for word in _HELPS.get(remedy.kind, ()):
            if told[word] in (None, ""):
                _missing(case, path, thing, word)
        if remedy.times is not None and not 1.0 <= remedy.times <= 100.0:
            case.say(
                "facility/remedy",
                (*path, "times"),
                f"{thing}: {remedy.times:g} times the exchange of a quiet surface cannot be",
                "write a number from 1 to 100",
                about=thing,
            )


def _missing(case: cases.Case, path: shape.Path, thing: str, word: str) -> None:
    known = words.tables()["remedy"][word]
    means = known.meaning[0].lower() + known.meaning[1:-1]
    case.ask(
        "facility/remedy",
        path,
        f"{thing} has no '{word}' and cannot be reckoned with: {means}",
        f"write {word} = {known.example}",
        about=thing,
    )


def failures(case: cases.Case) -> None:
    """Own failures do something, to parts that it can be done to, with the amount it takes."""
    for failure in case.facility.failures.values():
        thing = f"failure {hidden.visible(failure.id)}"
        if not failure.does:
            case.ask(
                "facility/failure",
                ("failure", failure.id),
                f"{thing} does nothing",
                f"write [[failure.{hidden.visible(failure.id)}.does]] with an effect under it",
                about=thing,
            )
    for entry in case.draft.of("failure.does"):
        effect = entry.values.get("effect", "")
        if effect in ON_PARTS:
            _part(case, entry, effect)
            _amount(case, entry, effect)


def _part(case: cases.Case, entry: shape.Entry, effect: str) -> None:
    allowed = ON_PARTS[effect]
    part = entry.values.get("part", "")
    table = case.facility.find(part) if part else ""
    if (part and not table) or table in allowed:
        return  # a name of nothing is said elsewhere; no part where none is needed
    if not allowed and not part:
        return
    wanted = " or ".join(_SAID[name] for name in allowed if _SAID.get(name))
    shown = f"{table} {hidden.visible(part)}" if part else "nothing"
    if not allowed:
        text, hint = f"'{effect}' is of the whole hall, and names {shown}", "take 'part' out"
    else:
        text, hint = f"'{effect}' names {shown}", f'name {wanted}: part = "..."'
    case.say("facility/failure", (*entry.path, "part"), f"{entry.thing}: {text}", hint, about=entry.thing)


def _amount(case: cases.Case, entry: shape.Entry, effect: str) -> None:
    needed = building.VALUES.get(effect, "")
    known = words.tables()["failure.does"]
    for word in {*building.VALUES.values(), "at"} - {needed, "at" if effect == "leak" else ""}:
        if word in entry.values:
            why = f"'{effect}' takes {f'{needed!r}, not ' if needed else 'no '}'{word}'"
            hint = f"write {needed} = {known[needed].example}" if needed else "take it out"
            where = (*entry.path, word)
            case.say("facility/failure", where, f"{entry.thing}: {why}", hint, about=entry.thing)
    if needed and needed not in case.raw["failure"][entry.path[1]]["does"][entry.path[3]]:
        text = f"{entry.thing}: '{effect}' does not say how much"
        case.say(
            "facility/failure", entry.path, text, f"write {needed} = {known[needed].example}", key=True,
            about=entry.thing,
        )  # fmt: skip
    low, high = _ENDS.get(needed, (-1e9, 1e9))
    value = entry.values.get(needed)
    if value is not None and not low <= value <= high:
        text = f"{entry.thing}: '{needed}' cannot be so much or so little"
        where = (*entry.path, needed)
        case.say(
            "facility/failure", where, text, f"write {needed} = {known[needed].example}", about=entry.thing
        )


def change_overs(case: cases.Case) -> None:
    """A change-over by itself has a standby to go to."""
    for duty in case.facility.duties.values():
        if duty.change_over is not None and duty.standby != "automatic":
            thing = f"duty {hidden.visible(duty.id)}"
            case.ask(
                "facility/change-over",
                ("duty", duty.id, "change_over"),
                f"{thing} tells how long its change-over takes, and its standby is not automatic",
                'write standby = "automatic", or hand_start = "90 min" for people',
                about=thing,
            )


def _row(names: list[str]) -> str:
    shown = [hidden.visible(name) for name in names[:6]]
    more = f" and {len(names) - 6} others" if len(names) > 6 else ""
    return ", ".join(shown) + more

"""What takes many parts at once, and what the hall itself adds: power, boards, food, room, own failures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from brinehouse.engines.time_in_hand import neighbours
from brinehouse.engines.time_in_hand.mishap import Mishap, named, words
from brinehouse.facility import hidden, model
from brinehouse.network.plumbing import way
from brinehouse.network.transients import effects

ROOM = 20.0  # °C where the file does not say (common practice, no source)
WARMER = 8.0  # K by which the air of a hall rises without cooling on a warm day (common practice, no source)


def power(facility: model.Facility, running: Mapping[str, bool]) -> Iterator[Mishap]:
    """The whole power, and each board with what hangs on it."""
    tanks = neighbours.pressing(facility, facility.tanks)
    yield Mishap(
        id="power-fails", title="The power of the whole hall fails", kind="power",
        effects=(effects.Effect("power"),), card="power",
        words=words(facility, "", tanks) | {"sumps": neighbours.row(facility, list(facility.sumps))},
    )  # fmt: skip
    for board in facility.boards:
        if facility.fed_by_board(board) or _silenced(facility, board):
            yield _board(facility, board, running)


def _silenced(facility: model.Facility, board: str) -> list[str]:
    """Duty groups whose change-over is dark with a board."""
    dark = facility.boards_behind(board)
    return [duty.id for duty in facility.duties.values() if duty.board in dark]


def _board(facility: model.Facility, board: str, running: Mapping[str, bool]) -> Mishap:
    fed, silent = facility.fed_by_board(board), _silenced(facility, board)
    awake = [part for part in fed if running.get(part, True)]
    groups = dict.fromkeys(way.group(facility, part) for part in fed if part in facility.pumps)
    others = [pump for group in groups for pump in way.members(facility, group) if pump not in fed]
    tanks = neighbours.pressing(
        facility, (tank for part in (*fed, *silent) for tank in neighbours.fed_by(facility, part))
    )
    sumps = dict.fromkeys(sump for group in groups if (sump := neighbours.sump_of(facility, group)))
    return Mishap(
        id=named("board", board, "off"),
        title=f"{neighbours.label(facility, board)} is off",
        kind="power",
        effects=(effects.Effect("board", board),),
        card="board",
        words=words(facility, "", tanks)
        | {
            "board": neighbours.label(facility, board),
            "feeds": neighbours.row(facility, awake),
            "asleep": "" if awake or not fed else neighbours.row(facility, fed),
            "groups": neighbours.row(facility, list(groups)),
            "silent": neighbours.row(facility, silent),
            "others": neighbours.row(facility, others),
            "sumps": neighbours.row(facility, list(sumps)),
        },
    )


def feeding(facility: model.Facility) -> Iterator[Mishap]:
    """Twice and three times the food everywhere: somebody fed what had been fed."""
    if not facility.animals:
        return
    tanks = neighbours.pressing(facility, (one.at for one in facility.animals))
    screens = [one.id for one in facility.equipment.values() if "screen" in one.kind]
    told = words(facility, "", tanks) | {"screens": neighbours.row(facility, screens)}
    for times, said in ((2.0, "double"), (3.0, "triple")):
        yield Mishap(
            id=f"feeding-{said}", title=f"The animals are fed {said}", kind="feeding",
            effects=(effects.Effect("feed", "", times),), card="feeding", words=told,
        )  # fmt: skip


def surroundings(facility: model.Facility) -> Iterator[Mishap]:
    """The cooling of the room lost, and new water lost."""
    tanks = neighbours.pressing(facility, facility.tanks)
    usual = ROOM if facility.room_temperature is None else facility.room_temperature
    hot = usual + WARMER
    chillers = [one.id for one in facility.equipment.values() if "chiller" in one.kind]
    yield Mishap(
        id="room-cooling-lost", title=f"The cooling of the room is lost: its air comes to {hot:.0f} °C",
        kind="room", effects=(effects.Effect("room", "", hot),), card="room",
        words=words(facility, "", tanks)
        | {"temperature": f"{hot:.0f} °C", "chillers": neighbours.row(facility, chillers)},
    )  # fmt: skip
    stores = [one.id for one in facility.places if one.kind == "vessel" and one.stands_alone]
    yield Mishap(
        id="make-up-lost", title="No new water: reverse osmosis or make-up is lost", kind="make-up",
        effects=(effects.Effect("no-exchange"),), card="water",
        words=words(facility, "", tanks) | {"stores": neighbours.row(facility, stores)},
    )  # fmt: skip


def own(facility: model.Facility) -> Iterator[Mishap]:
    """What the facility file adds."""
    for one in facility.failures.values():
        done = tuple(
            effects.Effect(does.effect, does.part, does.value, does.at, does.after) for does in one.does
        )
        touched = [does.part for does in one.does if does.part]
        tanks = neighbours.pressing(
            facility, (place for part in touched for place in (part, *neighbours.fed_by(facility, part)))
        )
        if done:
            yield Mishap(
                id=named("own", one.id, ""), title=hidden.visible(one.title, 200), kind="own", effects=done,
                card="own", words=words(facility, "", tanks or neighbours.pressing(facility, facility.tanks)),
                noticed=_sentence(one.noticed),
                steps=tuple(_sentence(step) for step in one.first_steps),
            )  # fmt: skip


def _sentence(text: str) -> str:
    """A text of the file as it is safe to show, begun and ended as a sentence."""
    shown = hidden.visible(text.strip(), 300)
    return shown[:1].upper() + shown[1:] + ("" if shown.endswith((".", "!", "?", "…")) or not shown else ".")

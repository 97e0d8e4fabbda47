"""One step: its slopes, its elimination, its order. On the twelve places, uncompiled."""

import functools
from types import SimpleNamespace

import numpy as np
import pytest
from tests.network.transients import batches, uncompiled

made = uncompiled.load()
frames, links, rooms, placing, slopes, stages, courses = (
    made.frames, made.links, made.rooms, made.placing, made.slopes, made.stages, made.courses,
)  # fmt: skip
HOUR = 19.0


@functools.cache
def twelve():
    structure, tables, names = batches.twelve()
    return structure, tables, names, frames.lay(structure)


def at_hand(name, phase):
    """A scenario's numbers, its water a little stirred, and all that a step needs of it."""
    structure, tables, names, frame = twelve()
    at, chance = names.index(name), np.random.default_rng(5)
    x = tables.x[at] * (1.0 + 0.02 * chance.standard_normal(tables.x[at].shape))
    volume = tables.volume[at] * (1.0 + 0.002 * chance.standard_normal(len(structure.places)))
    numbers = (frame, tables.way[at, phase], tables.op[at, phase], tables.place[at, phase])
    room = rooms.room(len(structure.places), frame)
    room.sites.used[0] = links.join(frame, numbers[2], len(structure.places), room.ways.links, room.ways.ends)
    room.solving.scale[:] = courses.SCALE
    return SimpleNamespace(numbers=numbers, frame=frame, rows=frames.rows_of(x, volume), room=room)


def look(hand, rows, hour=HOUR):
    with np.errstate(all="ignore"):
        courses.look(*hand.numbers, rows, hour, hand.room)
    solving, room = hand.room.solving, hand.room
    placing.drift(hand.numbers[3], rows, solving.hours, room.sites.known, solving.drift)
    slopes.jacobian(
        hand.frame, hand.numbers[2], hand.numbers[3], rows, solving.hours, room.ways, room.sites, room.places,
        solving.grow, solving.jacobian,
    )  # fmt: skip


def by_differences(hand, rows):
    """Slopes of all rates with all columns of all places."""
    room, few = hand.room, rows.shape
    scale = np.abs(rows).max(axis=0) + 1e-3
    scale[0] = 0.3
    found, high, low = np.zeros((*few, *few)), np.zeros(few), np.zeros(few)
    for place in range(few[0]):
        for column in range(few[1]):
            step = 1e-5 * scale[column]
            for sign, out in ((1.0, high), (-1.0, low)):
                moved = rows.copy()
                moved[place, column] += sign * step
                placing.rates(
                    *hand.numbers, moved, room.solving.hours, room.ways, room.sites, room.places, out
                )
            found[:, :, place, column] = (high - low) / (2.0 * step)
    return found, scale


CASES = [("main pump, not changed over", 1), ("power", 1), ("hole in deep", 1), ("room", 0)]


@pytest.mark.parametrize(("name", "phase"), CASES[:2])
def test_slopes_solved_column_after_column_are_those_that_differences_give(name, phase):
    hand = at_hand(name, phase)
    look(hand, hand.rows)
    wanted, scale = by_differences(hand, hand.rows)
    many, size = hand.rows.size, 600.0
    look(hand, hand.rows)
    stages.factor(hand.frame, size, hand.room.solving.jacobian, hand.room.solving.matrix)
    right = np.random.default_rng(2).standard_normal(hand.rows.shape) * scale
    whole = np.eye(many) / (stages.GAMMA * size) - wanted.reshape(many, many)
    exact = np.linalg.solve(whole, right.ravel()).reshape(right.shape)
    found = right.copy()
    room = hand.room
    stages.solve_all(hand.frame, hand.numbers[3], room.solving.matrix, room.ways, room.places, found)
    off = np.abs(found - exact) / scale
    assert off.max() < 2e-4 * (np.abs(exact) / scale).max()


def test_slopes_without_what_columns_do_to_one_another_are_not_enough():
    hand = at_hand(*CASES[0])
    look(hand, hand.rows)
    matrix, right = hand.room.solving.matrix, np.ones_like(hand.rows)
    stages.factor(hand.frame, 600.0, hand.room.solving.jacobian, matrix)
    whole, alone = right.copy(), right.copy()
    stages.solve_all(hand.frame, hand.numbers[3], matrix, hand.room.ways, hand.room.places, whole)
    for column in range(frames.COLUMNS):
        stages.solve_one(hand.frame, column, matrix, alone)
    assert np.abs(whole - alone).max() > 0.05 * np.abs(whole).max()


def went(hand, rows, seconds, many):
    """Water after so many equal steps."""
    rows, size = rows.copy(), seconds / many
    for step in range(many):
        hour = HOUR + step * size / 3600.0
        look(hand, rows, hour)
        stages.factor(hand.frame, size, hand.room.solving.jacobian, hand.room.solving.matrix)
        stages.step(*hand.numbers, rows, hour, size, 1e-6, hand.room)
        rows = hand.room.solving.y.copy()
    return rows


def test_half_the_step_is_a_sixteenth_of_the_error_or_less():
    hand = at_hand("main pump, not changed over", 1)
    start = went(hand, hand.rows, 900.0, 12)
    scale = np.abs(start).max(axis=0) + 1e-3
    fine = went(hand, start, 600.0, 12)
    off = [np.abs((went(hand, start, 600.0, many) - fine) / scale).max() for many in (1, 2, 4)]
    assert off[0] > 12.0 * off[1] > 12.0 * 12.0 * off[2]


def test_within_a_step_the_water_is_where_a_step_of_its_own_would_have_brought_it():
    hand = at_hand("power", 1)
    start = went(hand, hand.rows, 900.0, 12)
    half = went(hand, start, 60.0, 2)
    went(hand, start, 120.0, 1)
    out = np.zeros_like(start)
    stages.between(start, hand.room.solving.y, hand.room.solving.moves, 0.5, out)
    np.testing.assert_allclose(out, half, rtol=1e-6, atol=1e-6)
    stages.between(start, hand.room.solving.y, hand.room.solving.moves, 1.0, out)
    np.testing.assert_array_equal(out, hand.room.solving.y)


def test_the_twelve_places_are_eliminated_from_the_ends_to_the_sumps_with_hardly_any_fill():
    structure, _, _, frame = twelve()
    order = [structure.places[at] for at in frame.order[:-1, 0]]
    assert order.index("sump") >= 9
    cells = {(int(way[1]), int(way[0])) for way in frame.ways if way[0] >= 0 and way[1] >= 0}
    assert frame.entries - len(cells | {(at, at) for at in range(12)}) <= 2

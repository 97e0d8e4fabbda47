"""A step in time: eight stages, each solved column after column with the slopes of the step's beginning.

Method: Rodas5P of Steinebach (2023), BIT Numer. Math. 63:27: a Rosenbrock method of fifth order with an
embedded one of fourth, stiffly accurate, with dense output of fourth order. The Jacobian is block triangular
over columns, so one pass through their groups solves all of it.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.transients.kernel import compiling, frames, passing, placing, rooms
from brinehouse.network.transients.kernel.frames import (
    ALKALINITY,
    ARGON,
    CARBON,
    COLUMNS,
    LAW,
    NITRATE,
    NITRITE,
    NITROGEN,
    OF,
    OXYGEN,
    SALT,
    TAN,
    TO,
    VOLUME,
    WARM,
)  # fmt: skip
from brinehouse.network.transients.kernel.rooms import SHARE, STEEP_SOURCE, STEEP_TARGET
from brinehouse.network.transients.tables import MAKE_UP

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STAGES = rooms.STAGES
GAMMA = 0.21193756319429014
TIMES = np.array(
    [0.0, 0.6358126895828704, 0.4095798393397535, 0.9769306725060716, 0.4288403609558664, 1.0, 1.0, 1.0]
)
DRIFTS = np.array([
    0.21193756319429014, -0.42387512638858027, -0.3384627126235924, 1.8046452872882734, 2.325825639765069,
    0.0, 0.0, 0.0,
])  # fmt: skip
STATES = np.zeros((STAGES, STAGES))
STATES[1, :1] = (3.0,)
STATES[2, :2] = (2.849394379747939, 0.45842242204463923)
STATES[3, :3] = (-6.954028509809101, 2.489845061869568, -10.358996098473584)
STATES[4, :4] = (2.8029986275628964, 0.5072464736228206, -0.3988312541770524, -0.04721187230404641)
STATES[5, :5] = (
    -7.502846399306121, 2.561846144803919, -11.627539656261098, -0.18268767659942256, 0.030198172008377946,
)  # fmt: skip
STATES[6, :6] = (*STATES[5, :5], 1.0)
STATES[7, :7] = (*STATES[5, :5], 1.0, 1.0)
MOVES = np.zeros((STAGES, STAGES))
MOVES[1, :1] = (-14.155112264123755,)
MOVES[2, :2] = (-17.97296035885952, -2.859693295451294)
MOVES[3, :3] = (147.12150275711716, -1.41221402718213, 71.68940251302358)
MOVES[4, :4] = (165.43517024871676, -0.4592823456491126, 42.90938336958603, -5.961986721573306)
MOVES[5, :5] = (
    24.854864614690072, -3.0009227002832186, 47.4931110020768, 5.5814197821558125, -0.6610691825249471,
)  # fmt: skip
MOVES[6, :6] = (
    30.91273214028599, -3.1208243349937974, 77.79954646070892, 34.28646028294783, -19.097331116725623,
    -28.087943162872662,
)  # fmt: skip
MOVES[7, :7] = (
    37.80277123390563, -3.2571969029072276, 112.26918849496327, 66.9347231244047, -40.06618937091002,
    -54.66780262877968, -9.48861652309627,
)  # fmt: skip
DENSE = np.array([
    [25.948786856663858, -2.5579724845846235, 10.433815404888879, -2.3679251022685204, 0.524948541321073,
     1.1241088310450404, 0.4272876194431874, -0.17202221070155493],
    [-9.91568850695171, -0.9689944594115154, 3.0438037242978453, -24.495224566215796, 20.176138334709044,
     15.98066361424651, -6.789040303419874, -6.710236069923372],
    [11.419903575922262, 2.8879645146136994, 72.92137995996029, 80.12511834622643, -52.072871366152654,
     -59.78993625266729, -0.15582684282751913, 4.883087185713722],
])  # fmt: skip


@compiling.inner
def shift(diagonal: Ints, size: float, entries: Floats, matrix: Floats) -> None:
    """1 / (gamma size) less the slopes."""
    for e in range(len(entries)):
        for column in range(COLUMNS):
            matrix[e, column] = -entries[e, column]
    whole = 1.0 / (GAMMA * size)
    for i in range(len(diagonal)):
        for column in range(COLUMNS):
            matrix[diagonal[i], column] += whole


@compiling.inner
def factor(frame: frames.Frame, size: float, entries: Floats, matrix: Floats) -> None:
    """The matrices of all columns, eliminated in place; pivots stand inverted."""
    shift(frame.diagonal, size, entries, matrix)
    order, lower, fill = frame.order, frame.lower, frame.fill
    for k in range(len(frame.diagonal)):
        pivot = frame.diagonal[order[k, 0]]
        for column in range(COLUMNS):
            matrix[pivot, column] = 1.0 / matrix[pivot, column]
        for n in range(order[k, 1], order[k + 1, 1]):
            for column in range(COLUMNS):
                matrix[lower[n, 0], column] *= matrix[pivot, column]
        for n in range(order[k, 3], order[k + 1, 3]):
            low, up, at = fill[n, 0], fill[n, 1], fill[n, 2]
            for column in range(COLUMNS):
                matrix[at, column] -= matrix[low, column] * matrix[up, column]


@compiling.inner
def solve_one(frame: frames.Frame, column: int, matrix: Floats, right: Floats) -> None:
    """One column of ``right`` solved in place."""
    order, lower, upper, diagonal = frame.order, frame.lower, frame.upper, frame.diagonal
    for k in range(len(diagonal)):
        x = right[order[k, 0], column]
        for n in range(order[k, 1], order[k + 1, 1]):
            right[lower[n, 1], column] -= matrix[lower[n, 0], column] * x
    for k in range(len(diagonal) - 1, -1, -1):
        here = order[k, 0]
        x = right[here, column]
        for n in range(order[k, 2], order[k + 1, 2]):
            x -= matrix[upper[n, 0], column] * right[upper[n, 1], column]
        right[here, column] = x * matrix[diagonal[here], column]


@compiling.inner
def solve_two(frame: frames.Frame, first: int, matrix: Floats, right: Floats) -> None:
    """Two columns, as `solve_one`."""
    order, lower, upper, diagonal = frame.order, frame.lower, frame.upper, frame.diagonal
    then = first + 1
    for k in range(len(diagonal)):
        x, y = right[order[k, 0], first], right[order[k, 0], then]
        for n in range(order[k, 1], order[k + 1, 1]):
            row, entry = lower[n, 1], lower[n, 0]
            right[row, first] -= matrix[entry, first] * x
            right[row, then] -= matrix[entry, then] * y
    for k in range(len(diagonal) - 1, -1, -1):
        here = order[k, 0]
        x, y = right[here, first], right[here, then]
        for n in range(order[k, 2], order[k + 1, 2]):
            row, entry = upper[n, 1], upper[n, 0]
            x -= matrix[entry, first] * right[row, first]
            y -= matrix[entry, then] * right[row, then]
        right[here, first] = x * matrix[diagonal[here], first]
        right[here, then] = y * matrix[diagonal[here], then]


@compiling.inner
def led_by_volume(frame: frames.Frame, flow: Floats, gap: Floats, by_volume: Floats, right: Floats) -> None:
    """What changed volumes do to all other columns."""
    moved = 0.0
    for i in range(len(right)):
        moved = max(moved, abs(right[i, VOLUME]))
    if moved == 0.0:
        return
    for p in range(len(frame.ways)):
        s, d = frame.ways[p, OF], frame.ways[p, TO]
        if d < 0:
            continue
        more = flow[p, STEEP_SOURCE] * right[s, VOLUME] if s >= 0 else 0.0
        if frame.ways[p, LAW] == MAKE_UP:
            more += flow[p, STEEP_TARGET] * right[d, VOLUME]
        if more != 0.0:
            for column in range(1, COLUMNS):
                right[d, column] += more * gap[p, column]
    for i in range(len(right)):
        for column in range(1, COLUMNS):
            right[i, column] += right[i, VOLUME] * by_volume[i, column]


@compiling.inner
def led_by_warmth(s: int, d: int, by: float, row: int, cross: Floats, right: Floats) -> None:
    """What changed temperature and salinity of ``s`` do to gases of ``d``."""
    warm, salt = by * right[s, WARM], by * right[s, SALT]
    right[d, OXYGEN] += cross[row, rooms.WARM_OXYGEN] * warm + cross[row, rooms.SALT_OXYGEN] * salt
    right[d, NITROGEN] += cross[row, rooms.WARM_NITROGEN] * warm + cross[row, rooms.SALT_NITROGEN] * salt
    right[d, ARGON] += cross[row, rooms.WARM_ARGON] * warm + cross[row, rooms.SALT_ARGON] * salt
    right[d, CARBON] += cross[row, rooms.WARM_CARBON] * warm + cross[row, rooms.SALT_CARBON] * salt


@compiling.inner
def led_by_tan(s: int, d: int, by: float, back: float, row: int, cross: Floats, right: Floats) -> None:
    """What changed ammonia does; ``back`` is what is given back of the charge that it takes on a way."""
    tan = by * right[s, TAN]
    given = back * cross[row, rooms.TURNED_TAN]
    right[d, NITRITE] += cross[row, rooms.TAN_NITRITE] * tan
    right[d, OXYGEN] += cross[row, rooms.TAN_OXYGEN] * tan
    right[d, NITRATE] += cross[row, rooms.TAN_NITRATE] * tan
    right[d, ALKALINITY] += (cross[row, rooms.TAN_ALKALINITY] + given) * tan
    right[d, CARBON] += (cross[row, rooms.TAN_CARBON] + given) * tan


@compiling.inner
def led_by_rest(
    s: int, d: int, by: float, back: float, row: int, cross: Floats, right: Floats, which: int
) -> None:
    """What changed nitrite (0) or oxygen (1) does."""
    if which == 0:
        nitrite = by * right[s, NITRITE]
        right[d, OXYGEN] += cross[row, rooms.NITRITE_OXYGEN] * nitrite
        right[d, NITRATE] += cross[row, rooms.NITRITE_NITRATE] * nitrite
    else:
        oxygen = by * right[s, OXYGEN]
        given = back * cross[row, rooms.TURNED_OXYGEN]
        right[d, NITRATE] += cross[row, rooms.OXYGEN_NITRATE] * oxygen
        right[d, ALKALINITY] += (cross[row, rooms.OXYGEN_ALKALINITY] + given) * oxygen
        right[d, CARBON] += (cross[row, rooms.OXYGEN_CARBON] + given) * oxygen


@compiling.inner
def led_from_water(frame: frames.Frame, ways: rooms.Ways, local: Floats, right: Floats) -> None:
    """What changed temperature and salinity do everywhere."""
    flow, ends, cross = ways.flow, ways.ends, ways.cross
    for n in range(len(frame.contacts)):
        p = frame.contacts[n]
        if flow[p, SHARE] != 0.0:
            led_by_warmth(frame.ways[p, OF], frame.ways[p, TO], flow[p, SHARE], int(ends[p]), cross, right)
    for i in range(len(right)):
        led_by_warmth(i, i, 1.0, i, local, right)


@compiling.inner
def led_from_charge(frame: frames.Frame, ways: rooms.Ways, local: Floats, right: Floats) -> None:
    """What changed alkalinity does to carbon everywhere."""
    flow, ends, cross = ways.flow, ways.ends, ways.cross
    for n in range(len(frame.contacts)):
        p = frame.contacts[n]
        s, d = frame.ways[p, OF], frame.ways[p, TO]
        right[d, CARBON] += flow[p, SHARE] * cross[ends[p], rooms.ALKALINITY_CARBON] * right[s, ALKALINITY]
    for i in range(len(right)):
        right[i, CARBON] += local[i, rooms.ALKALINITY_CARBON] * right[i, ALKALINITY]


@compiling.inner
def led_from_tan(frame: frames.Frame, place: Floats, ways: rooms.Ways, local: Floats, right: Floats) -> None:
    """What changed ammonia does everywhere."""
    flow, ends = ways.flow, ways.ends
    for n in range(len(frame.filters)):
        p = frame.filters[n]
        d = frame.ways[p, TO]
        back = passing.CHARGE * place[d, placing.KEPT]
        led_by_tan(frame.ways[p, OF], d, flow[p, SHARE], back, int(ends[p]), ways.cross, right)
    for i in range(len(right)):
        led_by_tan(i, i, 1.0, 0.0, i, local, right)


@compiling.inner
def led_from_rest(
    frame: frames.Frame, place: Floats, ways: rooms.Ways, local: Floats, right: Floats, which: int
) -> None:
    """What changed nitrite (0) or oxygen (1) does everywhere."""
    flow, ends = ways.flow, ways.ends
    for n in range(len(frame.filters)):
        p = frame.filters[n]
        d = frame.ways[p, TO]
        back = passing.CHARGE * place[d, placing.KEPT]
        led_by_rest(frame.ways[p, OF], d, flow[p, SHARE], back, int(ends[p]), ways.cross, right, which)
    for i in range(len(right)):
        led_by_rest(i, i, 1.0, 0.0, i, local, right, which)


@compiling.inner
def solve_all(
    frame: frames.Frame, place: Floats, matrix: Floats, ways: rooms.Ways, places: rooms.Places, right: Floats
) -> None:
    """Every column, each after those that it needs."""
    local = places.local
    solve_one(frame, VOLUME, matrix, right)
    led_by_volume(frame, ways.flow, ways.gap, places.by_volume, right)
    solve_two(frame, WARM, matrix, right)
    led_from_water(frame, ways, local, right)
    solve_two(frame, TAN, matrix, right)
    solve_two(frame, ARGON, matrix, right)
    led_from_tan(frame, place, ways, local, right)
    solve_one(frame, NITRITE, matrix, right)
    led_from_rest(frame, place, ways, local, right, 0)
    solve_one(frame, OXYGEN, matrix, right)
    led_from_rest(frame, place, ways, local, right, 1)
    solve_two(frame, NITRATE, matrix, right)
    led_from_charge(frame, ways, local, right)
    solve_one(frame, CARBON, matrix, right)


@compiling.inner
def gather(start: Floats, weights: Floats, number: int, moves: Floats, out: Floats) -> None:
    """``out`` = start + the moves of the stages before, weighted."""
    for i in range(len(out)):
        for column in range(COLUMNS):
            out[i, column] = start[i, column]
    for j in range(number):
        by = weights[j]
        if by != 0.0:
            move = moves[j]
            for i in range(len(out)):
                for column in range(COLUMNS):
                    out[i, column] += by * move[i, column]


@compiling.inner
def add(by: float, more: Floats, out: Floats) -> None:
    """``out`` + by times more, in place."""
    for i in range(len(out)):
        for column in range(COLUMNS):
            out[i, column] += by * more[i, column]


@compiling.inner
def stage(
    frame: frames.Frame,
    way: Floats,
    op: Floats,
    place: Floats,
    rows: Floats,
    hour: float,
    size: float,
    number: int,
    room: rooms.Room,
) -> None:
    """One stage, from ``rows``: its move, and the water it was worked at in ``solving.stage``."""
    y, right = room.solving.stage, room.solving.moves[number]
    if number == 0:
        gather(room.solving.grow, STATES[0], 0, room.solving.moves, right)
    else:
        if number > 5:  # the last two stages stand where the one before has led
            add(1.0, room.solving.moves[number - 1], y)
        else:
            gather(rows, STATES[number], number, room.solving.moves, y)
        placing.day(frame, hour + TIMES[number] * size / 3600.0, room.solving.hours)
        placing.rates(
            frame,
            way,
            op,
            place,
            y,
            room.solving.hours,
            room.ways,
            room.sites,
            room.places,
            room.solving.rate,
        )
        for j in range(number):
            room.solving.weights[j] = MOVES[number, j] / size
        gather(room.solving.rate, room.solving.weights, number, room.solving.moves, right)
    if DRIFTS[number] != 0.0:
        add(DRIFTS[number] * size, room.solving.drift, right)
    solve_all(frame, place, room.solving.matrix, room.ways, room.places, right)


@compiling.inner
def error(rows: Floats, after: Floats, off: Floats, place: Floats, rtol: float, scales: Floats) -> float:
    """The worst error over what is allowed."""
    worst = 0.0
    for i in range(len(rows)):
        for column in range(COLUMNS):
            scale = scales[column]
            if column == VOLUME:
                scale = max(scale * place[i, 0], 1e-9)
            big = max(abs(rows[i, column]), abs(after[i, column]))
            one = abs(off[i, column]) / (rtol * (big + scale))
            if one != one:
                return math.inf
            worst = max(worst, one)
    return worst


@compiling.inner
def step(
    frame: frames.Frame,
    way: Floats,
    op: Floats,
    place: Floats,
    rows: Floats,
    hour: float,
    size: float,
    rtol: float,
    room: rooms.Room,
) -> float:
    """A step from ``rows``, whose rates, slopes and matrix are known: ``solving.y`` after it; its error."""
    for number in range(STAGES):
        stage(frame, way, op, place, rows, hour, size, number, room)
    last = room.solving.moves[STAGES - 1]
    gather(room.solving.stage, STATES[0], 0, room.solving.moves, room.solving.y)
    add(1.0, last, room.solving.y)
    return error(rows, room.solving.y, last, place, rtol, room.solving.scale)


@compiling.inner
def halfway(rows: Floats, after: Floats, moves: Floats, size: float, out: Floats, grow: Floats) -> None:
    """Water in the middle of the step just made, and how fast it changes there."""
    over = 1.0 / size
    for i in range(len(rows)):
        for column in range(COLUMNS):
            one = two = three = 0.0
            for j in range(STAGES):
                move = moves[j, i, column]
                one += DENSE[0, j] * move
                two += DENSE[1, j] * move
                three += DENSE[2, j] * move
            start, end = rows[i, column], after[i, column]
            out[i, column] = 0.5 * (start + end) + 0.25 * (one + 0.5 * two + 0.25 * three)
            grow[i, column] = over * (end - start + 0.25 * (two + three))


@compiling.inner
def between(rows: Floats, after: Floats, moves: Floats, share: float, out: Floats) -> None:
    """Water at a share of the step just made."""
    for i in range(len(rows)):
        for column in range(COLUMNS):
            one = two = three = 0.0
            for j in range(STAGES):
                move = moves[j, i, column]
                one += DENSE[0, j] * move
                two += DENSE[1, j] * move
                three += DENSE[2, j] * move
            curve = (1.0 - share) * (one + share * (two + share * three))
            out[i, column] = (1.0 - share) * rows[i, column] + share * (after[i, column] + curve)

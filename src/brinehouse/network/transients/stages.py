"""A step in time: eight stages, each solved column after column with the slopes of the step's beginning.

Method: Rodas5P of Steinebach (2023), BIT Numer. Math. 63:27: a Rosenbrock method of fifth order with an
embedded one of fourth, stiffly accurate, with dense output of fourth order. The Jacobian is block triangular
over columns, so one pass through their groups solves all of it.
"""

from __future__ import annotations

import numpy as np

from brinehouse.network.transients import compiling, passing, placing, rooms
from brinehouse.network.transients.frames import (
    ALKALINITY, ARGON, CARBON, COLUMNS, LAW, NITRATE, NITRITE, NITROGEN, OF, OXYGEN, SALT, TAN, TO, VOLUME, WARM,
    WORKED,
)  # fmt: skip
from brinehouse.network.transients.rooms import SHARE, STEEP_SOURCE, STEEP_TARGET
from brinehouse.network.transients.tables import MAKE_UP

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
# Groups of columns solved together: their firsts, and one past the last.
GROUPS = (VOLUME, WARM, TAN, NITRITE, OXYGEN, NITRATE, CARBON, COLUMNS)


@compiling.inner
def factor(frame, size, entries, matrix):
    """The matrices of all columns, eliminated in place; pivots stand inverted."""
    for e in range(len(entries)):
        for column in range(COLUMNS):
            matrix[e, column] = -entries[e, column]
    whole = 1.0 / (GAMMA * size)
    for i in range(len(frame.diagonal)):
        for column in range(COLUMNS):
            matrix[frame.diagonal[i], column] += whole
    for k in range(len(frame.diagonal)):
        pivot = matrix[frame.diagonal[frame.order[k, 0]]]
        for column in range(COLUMNS):
            pivot[column] = 1.0 / pivot[column]
        for n in range(frame.order[k, 1], frame.order[k + 1, 1]):
            low = matrix[frame.lower[n, 0]]
            for column in range(COLUMNS):
                low[column] *= pivot[column]
        for n in range(frame.order[k, 3], frame.order[k + 1, 3]):
            low, up, at = matrix[frame.fill[n, 0]], matrix[frame.fill[n, 1]], matrix[frame.fill[n, 2]]
            for column in range(COLUMNS):
                at[column] -= low[column] * up[column]


@compiling.inner
def solve(frame, first, last, matrix, right):
    """Columns ``first`` to ``last`` of ``right`` solved in place."""
    for k in range(len(frame.diagonal)):
        here = frame.order[k, 0]
        for n in range(frame.order[k, 1], frame.order[k + 1, 1]):
            row, entry = frame.lower[n, 1], frame.lower[n, 0]
            for column in range(first, last):
                right[row, column] -= matrix[entry, column] * right[here, column]
    for k in range(len(frame.diagonal) - 1, -1, -1):
        here = frame.order[k, 0]
        for n in range(frame.order[k, 2], frame.order[k + 1, 2]):
            other, entry = frame.upper[n, 1], frame.upper[n, 0]
            for column in range(first, last):
                right[here, column] -= matrix[entry, column] * right[other, column]
        pivot = frame.diagonal[here]
        for column in range(first, last):
            right[here, column] *= matrix[pivot, column]


@compiling.inner
def led_by_volume(frame, flow, gap, by_volume, right):
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
def led_by_warmth(s, d, by, row, cross, right):
    """What changed temperature and salinity of ``s`` do to gases of ``d``."""
    warm, salt = by * right[s, WARM], by * right[s, SALT]
    right[d, OXYGEN] += cross[row, rooms.WARM_OXYGEN] * warm + cross[row, rooms.SALT_OXYGEN] * salt
    right[d, NITROGEN] += cross[row, rooms.WARM_NITROGEN] * warm + cross[row, rooms.SALT_NITROGEN] * salt
    right[d, ARGON] += cross[row, rooms.WARM_ARGON] * warm + cross[row, rooms.SALT_ARGON] * salt
    right[d, CARBON] += cross[row, rooms.WARM_CARBON] * warm + cross[row, rooms.SALT_CARBON] * salt


@compiling.inner
def led_by_tan(s, d, by, back, row, cross, right):
    """What changed ammonia does; ``back`` is what is given back of the charge that it takes on a way."""
    tan = by * right[s, TAN]
    given = back * cross[row, rooms.TURNED_TAN]
    right[d, NITRITE] += cross[row, rooms.TAN_NITRITE] * tan
    right[d, OXYGEN] += cross[row, rooms.TAN_OXYGEN] * tan
    right[d, NITRATE] += cross[row, rooms.TAN_NITRATE] * tan
    right[d, ALKALINITY] += (cross[row, rooms.TAN_ALKALINITY] + given) * tan
    right[d, CARBON] += (cross[row, rooms.TAN_CARBON] + given) * tan


@compiling.inner
def led_by_rest(s, d, by, back, row, cross, right, which):
    """What changed nitrite (0), oxygen (1) and alkalinity (2) do."""
    if which == 0:
        nitrite = by * right[s, NITRITE]
        right[d, OXYGEN] += cross[row, rooms.NITRITE_OXYGEN] * nitrite
        right[d, NITRATE] += cross[row, rooms.NITRITE_NITRATE] * nitrite
    elif which == 1:
        oxygen = by * right[s, OXYGEN]
        given = back * cross[row, rooms.TURNED_OXYGEN]
        right[d, NITRATE] += cross[row, rooms.OXYGEN_NITRATE] * oxygen
        right[d, ALKALINITY] += (cross[row, rooms.OXYGEN_ALKALINITY] + given) * oxygen
        right[d, CARBON] += (cross[row, rooms.OXYGEN_CARBON] + given) * oxygen
    else:
        right[d, CARBON] += by * cross[row, rooms.ALKALINITY_CARBON] * right[s, ALKALINITY]


@compiling.inner
def led_one(group, s, d, by, back, row, cross, right):
    """What the columns of a group at ``s`` do to those after it at ``d``."""
    if group == 1:
        led_by_warmth(s, d, by, row, cross, right)
    elif group == 2:
        led_by_tan(s, d, by, back, row, cross, right)
    else:
        led_by_rest(s, d, by, back, row, cross, right, group - 3)


@compiling.inner
def led(frame, group, place, ways, places, right):
    """What the columns of a group do to those after it."""
    flow, ends, cross = ways.flow, ways.ends, ways.cross
    if group == 0:
        led_by_volume(frame, flow, ways.gap, places.by_volume, right)
        return
    for p in range(len(frame.ways)):
        by = flow[p, SHARE]
        if frame.ways[p, WORKED] == 1 and by != 0.0:
            d = frame.ways[p, TO]
            back = passing.CHARGE * place[d, placing.KEPT]
            led_one(group, frame.ways[p, OF], d, by, back, ends[p], cross, right)
    for i in range(len(right)):
        led_one(group, i, i, 1.0, 0.0, i, places.local, right)


@compiling.inner
def solve_all(frame, place, matrix, ways, places, right):
    """Every column, group after group."""
    for group in range(len(GROUPS) - 1):
        solve(frame, GROUPS[group], GROUPS[group + 1], matrix, right)
        if group < len(GROUPS) - 2:
            led(frame, group, place, ways, places, right)


@compiling.inner
def gather(start, weights, number, moves, out):
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
def add(by, more, out):
    """``out`` + by times more, in place."""
    for i in range(len(out)):
        for column in range(COLUMNS):
            out[i, column] += by * more[i, column]


@compiling.inner
def stage(frame, way, op, place, rows, hour, size, number, room):
    """One stage; its move stands in ``room.solving.moves[number]`` and the water it was worked at in ``room.solving.stage``."""
    y, right = room.solving.stage, room.solving.moves[number]
    if number == 0:
        gather(room.solving.grow, STATES[0], 0, room.solving.moves, right)
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
def error(rows, after, off, place, rtol, scales):
    """The worst error over what is allowed."""
    worst = 0.0
    for i in range(len(rows)):
        for column in range(COLUMNS):
            scale = scales[column]
            if column == VOLUME:
                scale = max(scale * place[i, 0], 1e-9)
            big = max(abs(rows[i, column]), abs(after[i, column]))
            one = abs(off[i, column]) / (rtol * (big + scale))
            if not one <= worst:
                worst = one
    return worst


@compiling.inner
def step(frame, way, op, place, rows, hour, size, rtol, room):
    """A step from ``rows``, of which rates, slopes and matrix are known: ``room.solving.y`` after it, and its error."""
    for number in range(STAGES):
        stage(frame, way, op, place, rows, hour, size, number, room)
    last = room.solving.moves[STAGES - 1]
    gather(room.solving.stage, STATES[0], 0, room.solving.moves, room.solving.y)
    add(1.0, last, room.solving.y)
    return error(rows, room.solving.y, last, place, rtol, room.solving.scale)


@compiling.inner
def between(rows, after, moves, share, out):
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

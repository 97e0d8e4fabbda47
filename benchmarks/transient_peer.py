"""The equations of `network.transients.tables`, written a second time on general tools: NumPy and SciPy.

Who doubts the compiled courses reads this instead: the model of that docstring as one right-hand side over
columns, handed to SciPy's BDF, LSODA or Radau. It shares nothing with the compiled code but the tables and
published constants, is written to be quick of its kind (all constants of a call from one product of matrices,
pH warm-started, a coloured Jacobian of the couplings that can occur, limits worked out together once a step),
and so serves both as the peer of `bench_time_in_hand` and, at 1e-9, as the reference of crossing times.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from benchmarks import transient_water as water_of
from benchmarks.transient_water import (
    ALKALINITY,
    ARGON,
    CARBON,
    IN_AIR,
    NITRATE,
    NITRITE,
    NITROGEN,
    OXYGEN,
    ROWS,
    SALT,
    SCALE,
    SPECIES,
    TAN,
    TRACER,
    VOLUME,
    WARM,
    Floats,
    Ints,
)
from numpy.typing import NDArray

from brinehouse.network.transients import tables as rows
from brinehouse.science import carbonate, dissociation
from brinehouse.science.constants import ATM

OVER_OXYGEN = np.array([1.0, 0.929, 0.98, 0.95])[:, None, None]
AT, DAY = rows.AT, {name: index for index, name in enumerate(rows.DAY)}


def ramp(u: Floats) -> Floats:
    """0 to 1, smooth at both ends."""
    v = np.minimum(np.maximum(u, 0.0), 1.0)
    return v * v * (3.0 - 2.0 * v)


def left(part: Floats) -> Floats:
    """One until nearly nothing is left; below nothing, the line on."""
    return np.where(part > 0.0, -np.expm1(-np.maximum(part, 0.0)), part)


def schedule(chains: list[list[int]], kind: Ints) -> list[Ints]:
    """Ops of all ways in as few turns as the order along each way allows, each turn of one kind."""
    heads = [0] * len(chains)
    turns: list[Ints] = []
    while True:
        ready = [chain[head] for chain, head in zip(chains, heads, strict=True) if head < len(chain)]
        if not ready:
            return turns
        # a kind that nobody still has to reach is taken whole; of several, the one most ways wait at
        waiting = {int(kind[op]) for op in ready}
        later = {
            k: sum(int(kind[op]) == k for c, h in zip(chains, heads, strict=True) for op in c[h + 1 :])
            for k in waiting
        }
        now = min(waiting, key=lambda k: (later[k], -sum(int(kind[op]) == k for op in ready)))
        turns.append(np.array([op for op in ready if kind[op] == now], dtype=np.intp))
        heads = [
            head + (head < len(chain) and int(kind[chain[head]]) == now)
            for chain, head in zip(chains, heads, strict=True)
        ]


class Frame:
    """Ways that carry water: which places they join, machines along them in the order they are met."""

    def __init__(self, structure: rows.Structure, moving: NDArray[np.bool_] | None = None) -> None:
        self.structure = structure
        self.size = len(structure.places)
        self.kept = np.flatnonzero(moving) if moving is not None else np.arange(len(structure.ways))
        self.ways = len(self.kept)
        source, target, self.law = (
            structure.source[self.kept],
            structure.target[self.kept],
            structure.law[self.kept],
        )
        self.source, self.target = source, target
        self.inside = source >= 0
        self.brought = np.flatnonzero(~self.inside)
        every = np.arange(self.ways)
        self.coming, self.going = np.zeros((2, self.size, self.ways))
        self.coming[target[target >= 0], every[target >= 0]] = 1.0
        self.going[source[self.inside], every[self.inside]] = 1.0
        self.net = self.coming - self.going
        self.outside = structure.outside.T[:, self.kept[self.brought], None]  # (species, ways, 1)
        self.last = np.where(self.inside, source, 0)
        kind = structure.kind
        self.of = np.zeros(len(kind), dtype=np.intp)
        chains = [list(range(structure.begin[way], structure.end[way])) for way in self.kept]
        for at, chain in enumerate(chains):
            self.of[chain] = at
        self.heating = schedule(
            [[o for o in c if kind[o] in (rows.HEAT, rows.HOLD, rows.CONTACT)] for c in chains], kind
        )
        self.changing = schedule(
            [[o for o in c if kind[o] not in (rows.HEAT, rows.HOLD)] for c in chains], kind
        )
        met = [op for turn in self.changing for op in turn if kind[op] == rows.CONTACT]
        self.contact = np.array(met, dtype=np.intp)
        self.contact_way = self.of[self.contact]
        self.number = np.zeros(len(kind), dtype=np.intp)
        self.number[self.contact] = np.arange(len(met))
        first = {way: op for op, way in reversed(list(zip(met, self.contact_way.tolist(), strict=True)))}
        self.first = np.array(
            [first[way] == op for op, way in zip(met, self.contact_way.tolist(), strict=True)], dtype=np.bool_
        )
        self.laws = {law: np.flatnonzero(self.law == law) for law in range(4)}
        self.day = {name: float(structure.day[index]) for name, index in DAY.items()}
        self.parts: dict[bytes, Frame] = {}
        self.colours: Colours | None = None

    def part(self, way: Floats) -> Frame:
        """Without ways that nothing can flow along."""
        moving = (way[:, rows.WAY_FLOW] != 0.0) | (way[:, rows.WAY_SCALE] != 0.0)
        key = moving.tobytes()
        if key not in self.parts:
            self.parts[key] = Frame(self.structure, moving)
        return self.parts[key]

    def hours(self, hour: float) -> tuple[float, float, float]:
        """Light, breathing and excreting at an hour of the day."""
        day = self.day
        turn = 2.0 * math.pi / 24.0
        u = (math.cos(turn * (hour - day["noon"])) - day["edge"]) / day["width"] if day["peak"] else 0.0
        u = min(max(u, 0.0), 1.0)
        return (
            day["peak"] * u * u * (3.0 - 2.0 * u),
            1.0 + day["breath_swing"] * math.cos(turn * (hour - day["breath_hour"])),
            1.0 + day["excrete_swing"] * math.cos(turn * (hour - day["excrete_hour"])),
        )


class Phase:
    """The right-hand side while nothing is switched."""

    def __init__(self, whole: Frame, way: Floats, op: Floats, place: Floats, clock: float) -> None:
        self.frame = frame = whole.part(way)
        self.clock = clock
        self.at = at = {name: place[:, index, None] for index, name in enumerate(rows.PLACE)}
        self.least = 1e-3 * at["usual"]
        self.tenth = 1.0 / (0.05 * at["usual"])
        self.speed = at["velocity"] * OVER_OXYGEN
        wet = np.where(at["evaporation"] != 0.0, 1.0, 0.0)
        self.vapour_heat, self.vapour_slope = at["vapour_heat"] * wet, at["vapour_slope"] * wet
        self.stirs = at["usual_in"] > 0.0
        self.usual_in = np.where(self.stirs, at["usual_in"], 1.0)
        self.shaken = np.where(self.stirs, 1.0 - at["still"], 0.0)
        self.turning = bool(np.any(at["first"]) or np.any(at["second"]))
        self.acid_level = (1e6 / ATM) * at["acid"]
        self.acid: Floats | None = None  # ln of the hydrogen ion at points, of the last single column
        self.calls = 0
        self.scale = np.repeat(0.01 * SCALE, frame.size)
        self.scale[VOLUME * frame.size :] = 0.01 * place[:, AT["usual"]]
        self._laws(way[frame.kept][:, :, None])
        self._machines(op[:, :, None])

    def _laws(self, way: Floats) -> None:
        """Numbers of each law's ways at hand."""
        frame = self.frame
        self.law: list[tuple[int, Ints, Ints, Floats, Floats, Floats, Floats]] = []
        for law, at in frame.laws.items():
            if law == rows.PUMPED:
                at = at[frame.inside[at]]
            if len(at):
                where = frame.target[at] if law == rows.MAKE_UP else frame.last[at]
                flow, scale, level, band = (way[at, index] for index in range(4))
                self.law.append((law, at, where, flow, scale, level, band))
        self.given = np.where(frame.inside, 0.0, way[:, rows.WAY_FLOW, 0])[:, None]

    def _machines(self, op: Floats) -> None:
        """Numbers of each turn's machines at hand."""
        frame, kinds = self.frame, self.frame.structure.kind
        size = frame.size
        self.heating: list[tuple[int, Ints, Floats, Ints]] = []
        for turn in frame.heating:
            self.heating.append((int(kinds[turn[0]]), frame.of[turn], op[turn], frame.number[turn]))
        self.changing: list[tuple[int, Ints, Floats, slice | None, bool, Floats | None]] = []
        self.shares: list[Floats] = []
        strips = op[frame.contact, 3, 0] != 0.0
        # first contacts in one go with the places; those numbered before any later one
        self.firsts = (
            int(np.argmin(frame.first)) if len(frame.first) and not frame.first.all() else len(frame.first)
        )
        for turn in frame.changing:
            kind, mine, points, later, mixture = int(kinds[turn[0]]), op[turn], None, False, None
            if kind == rows.CONTACT:
                number = frame.number[turn]
                points = slice(size + int(number[0]), size + int(number[-1]) + 1)
                later = bool(np.any(strips[number] & (number >= self.firsts)))
                mixture = mine[:, 6:9].transpose(1, 0, 2) / IN_AIR
            shares = np.ascontiguousarray(mine[:, :3].transpose(1, 0, 2))
            self.changing.append((kind, frame.of[turn], mine, points, later, mixture))
            self.shares.append(shares)
        self.asked = bool(strips.any())

    def flows(self, volume: Floats) -> Floats:
        """Of each way. [m³/s]"""
        q = np.empty((self.frame.ways, volume.shape[1]))
        q[:] = self.given
        for law, at, where, flow, scale, level, band in self.law:
            over = volume[where] - level
            if law == rows.PUMPED:
                q[at] = flow * ramp(over / np.maximum(band, 1e-300))
            elif law == rows.MAKE_UP:
                q[at] = flow * ramp(-over / np.maximum(band, 1e-300))
            elif law == rows.SPILL:
                over = np.maximum(over, 0.0)
                q[at] = scale * over * np.sqrt(over)
            else:
                over = np.maximum(over, 0.0)
                q[at] = scale * over / np.maximum(np.sqrt(np.sqrt(over * over + band * band)), 1e-300)
        return q

    def warmth(self, warm: Floats) -> tuple[Floats, Floats]:
        """Temperature at the end of each way, and at each contact on it."""
        at_contact = np.empty((len(self.frame.contact), warm.shape[1]))
        for kind, ways, mine, number in self.heating:
            if kind == rows.CONTACT:
                at_contact[number] = warm[ways]
            elif kind == rows.HEAT:
                warm[ways] += mine[:, 0]
            else:
                here = warm[ways]
                warm[ways] = here - np.minimum(np.maximum(here - mine[:, 0], -mine[:, 2]), mine[:, 1])
        return warm, at_contact

    def __call__(self, t: float, y: Floats) -> Floats:
        """Growth of the state ``y``, (rows x places,) or with columns."""
        self.calls += 1
        frame, at, size = self.frame, self.at, self.frame.size
        state = y.reshape(ROWS, size, -1)
        x, volume = state[:SPECIES], state[VOLUME]
        q = self.flows(volume)
        water = x[:, frame.last]
        if len(frame.brought):
            water[:, frame.brought] = frame.outside
        way = frame.contact_way
        charge = water[ALKALINITY].copy()
        _, at_contact = self.warmth(water[WARM])
        known = water_of.Known(
            np.concatenate((x[WARM], at_contact)), np.concatenate((x[SALT], water[SALT, way]))
        )
        still = left(np.stack((x[OXYGEN] / 10.0, x[ALKALINITY] / 50.0)))
        allowed = np.minimum(np.maximum(still[0] * still[1], 0.0), 1.0)
        free = self.free(x, known, water[CARBON], charge)
        turned = self.machines(water, known, allowed, charge, free)
        water *= q
        entering = frame.coming @ q
        evaporation = at["evaporation"] * ramp(volume * self.tenth)
        out = np.empty_like(state)
        grow = out[:SPECIES]
        np.matmul(frame.coming, water, out=grow)
        grow += x * (evaporation - entering)
        held = np.maximum(volume, self.least)
        hours = frame.hours(self.clock + t / 3600.0)
        self.local(grow, x, known, free[:size], entering, evaporation, held, still[0], hours)
        self.turned(grow, x, held, allowed, turned, q)
        grow /= held
        np.matmul(frame.net, q, out=out[VOLUME])
        out[VOLUME] -= evaporation
        return out.reshape(y.shape)

    def free(self, x: Floats, known: water_of.Known, carbon: Floats, charge: Floats) -> Floats:
        """Carbon dioxide in solution at places and first contacts; room for later ones."""
        frame, size = self.frame, self.frame.size
        many = size + (self.firsts if self.asked else 0)
        ways = frame.contact_way[: many - size]
        dic = np.concatenate((x[CARBON], carbon[ways]))
        alk = np.concatenate((x[ALKALINITY], charge[ways]))
        points = size + len(frame.contact)
        if self.acid is None:
            start = carbonate.ph_of(
                alk[:, :1], dic[:, :1], np.full((many, 1), 20.0), np.full((many, 1), 34.0)
            )
            self.acid = np.full((points, 1), -8.0 * dissociation.LN10)
            self.acid[:many] = -dissociation.LN10 * start
        free = np.zeros((points, x.shape[2]))
        log = water_of.hydrogen(alk, dic, known.part(slice(0, many)), self.acid[:many])
        if x.shape[2] == 1:
            self.acid[:many] = log
        free[:many] = water_of.dissolved(log, dic, known, slice(0, many))
        return free

    def machines(
        self, water: Floats, known: water_of.Known, allowed: Floats, charge: Floats, free: Floats
    ) -> Floats | None:
        """Water along the ways changed in place; gives the ammonia turned over on each."""
        frame = self.frame
        turned: Floats | None = None
        for (kind, ways, mine, points, later, mixture), shares in zip(
            self.changing, self.shares, strict=True
        ):
            if kind == rows.CONTACT:
                assert points is not None
                vapour = known.vapour[points]
                along = known.held[:, points] * ((mine[:, 4] - vapour) / (ATM - vapour)) * mixture
                here = water[OXYGEN:CARBON, ways]
                water[OXYGEN:CARBON, ways] = here + shares * (along - here)
                if not self.asked:
                    continue
                carbon = water[CARBON, ways]
                if later:
                    self.later(points, carbon, charge[ways], known, free)
                level = known.soluble[points] * (1e6 / ATM) * (mine[:, 5] - vapour) * mine[:, 9]
                water[CARBON, ways] = carbon - mine[:, 3] * (free[points] - level)
            elif kind == rows.AIR:
                water[OXYGEN:CARBON, ways] += shares
            elif kind == rows.BIO:
                able = allowed[frame.last[ways]]
                if len(frame.brought):
                    able = np.where(frame.inside[ways, None], able, 1.0)
                nitrite = water[NITRITE, ways]
                a = water[TAN, ways] * mine[:, 0] * able
                after = (1.0 - mine[:, 1] * able) * (nitrite + a)
                b = a - (after - nitrite)
                water[TAN, ways] -= a
                water[NITRITE, ways] = after
                water[NITRATE, ways] += b
                water[OXYGEN, ways] -= 1.5 * a + 0.5 * b
                water[ALKALINITY, ways] -= 2.0 * a
                turned = np.zeros(water.shape[1:]) if turned is None else turned
                turned[ways] += a
            else:
                water[TRACER, ways] *= 1.0 - mine[:, 0]
        return turned

    def later(
        self, points: slice, carbon: Floats, charge: Floats, known: water_of.Known, free: Floats
    ) -> None:
        """Carbon dioxide at contacts that the first go left out."""
        assert self.acid is not None
        log = water_of.hydrogen(charge, carbon, known.part(points), self.acid[points])
        if carbon.shape[1] == 1:
            self.acid[points] = log
        free[points] = water_of.dissolved(log, carbon, known, points)

    def local(
        self, grow: Floats, x: Floats, known: water_of.Known, free: Floats, entering: Floats,
        evaporation: Floats, held: Floats, breathes: Floats, day: tuple[float, float, float],
    ) -> None:  # fmt: skip
        """What acts at places but nitrification."""
        at, size, (light, breathing, excreting) = self.at, self.frame.size, day
        wet = evaporation / np.where(at["evaporation"] != 0.0, at["evaporation"], 1.0)
        warm = x[WARM]
        grow[WARM] += (
            at["warmth"] * (at["room"] - warm) + at["lamps"] * light + at["own"] * (at["own_at"] - warm)
            + (self.vapour_heat + self.vapour_slope * (warm - at["about"])) * wet
        )  # fmt: skip
        w = np.minimum(entering / self.usual_in, 1.0)
        speed = self.speed * (known.faster[:size] * (1.0 - self.shaken * (1.0 - w) ** 2))
        vapour = known.vapour[:size]
        full = known.held[:, :size] * ((at["pressure"] - vapour) / (ATM - vapour))
        grow[OXYGEN:CARBON] += speed[:3] * (full - x[OXYGEN:CARBON])
        used = at["breath"] * breathing * known.breath[:size] * breathes
        made = at["photo"] * light
        grow[OXYGEN] += made - used
        grow[CARBON] += (
            speed[3] * (known.soluble[:size] * self.acid_level - free) + 0.9 * used - made + at["dosing"]
        )
        grow[ALKALINITY] += at["dosing"]
        grow[TAN] += at["ammonia"] * excreting
        grow[TRACER] += at["tracer"] - at["decay"] * held * x[TRACER]

    def turned(
        self, grow: Floats, x: Floats, held: Floats, allowed: Floats, along: Floats | None, q: Floats
    ) -> None:
        """Nitrification at places, and the charge that is given back for it."""
        at, given = self.at, None
        if self.turning:
            able = held * allowed
            given = a = at["first"] * able * x[TAN]
            b = at["second"] * able * x[NITRITE]
            grow[TAN] -= a
            grow[NITRITE] += a - b
            grow[NITRATE] += b
            grow[OXYGEN] -= 1.5 * a + 0.5 * b
            grow[ALKALINITY] -= 2.0 * a
        if along is not None:
            back = self.frame.coming @ (q * along)
            given = back if given is None else given + back
        if given is not None:
            given = (2.0 * at["kept"]) * given
            grow[ALKALINITY] += given
            grow[CARBON] += given

    # --- Jacobian ------------------------------------------------------------------------------------------

    def colours(self) -> Colours:
        """Couplings that can occur in this phase, at whatever level, and columns moved together for them."""
        if self.frame.colours is None:
            self.frame.colours = Colours(self.frame)
        return self.frame.colours

    def jacobian(self, t: float, y: Floats) -> Floats:
        """By differences, all colours in one call; increments of a fixed size, so that none runs away."""
        made = self.colours()
        step = 1e-7 * np.maximum(np.abs(y), self.scale)
        moved = np.repeat(y[:, None], made.many + 1, axis=1)
        moved[made.every, made.colour] += step
        step = moved[made.every, made.colour] - y
        found = self(t, moved)
        out = np.zeros((len(y), len(y)))
        colour = made.colour[made.columns]
        out[made.rows, made.columns] = (found[made.rows, colour] - found[made.rows, -1]) / step[made.columns]
        return out


class Colours:
    """Where a Jacobian can have something, and which columns share no row."""

    def __init__(self, frame: Frame) -> None:
        from scipy.optimize._numdiff import group_columns

        pattern = self.pattern(frame)
        self.every = np.arange(ROWS * frame.size)
        self.colour = np.asarray(group_columns(pattern), dtype=np.intp)
        self.many = int(self.colour.max()) + 1
        self.rows, self.columns = np.nonzero(pattern)

    @staticmethod
    def pattern(frame: Frame) -> NDArray[np.int8]:
        """Rows by columns, from what the equations name; not from one state, which may have a dry sump."""
        structure = frame.structure
        made = np.zeros((ROWS, frame.size, ROWS, frame.size), dtype=np.int8)
        own = {
            OXYGEN: (WARM, SALT, ALKALINITY, TAN, NITRITE), NITROGEN: (WARM, SALT), ARGON: (WARM, SALT),
            CARBON: (WARM, SALT, ALKALINITY, OXYGEN, TAN), ALKALINITY: (OXYGEN, TAN),
            TAN: (OXYGEN, ALKALINITY),
            NITRITE: (TAN, OXYGEN, ALKALINITY), NITRATE: (TAN, NITRITE, OXYGEN, ALKALINITY),
        }  # fmt: skip
        for place in range(frame.size):
            made[:, place, VOLUME, place] = 1
            for row in range(ROWS):
                made[row, place, (row, *own.get(row, ())), place] = 1
        for way in frame.kept:
            s, d = structure.source[way], structure.target[way]
            if d < 0 or s < 0:
                continue
            made[:, d, VOLUME, s] = 1
            kinds = set(structure.kind[structure.begin[way] : structure.end[way]].tolist())
            for row in range(SPECIES):
                made[row, d, row, s] = 1
            if rows.CONTACT in kinds:
                for row in (OXYGEN, NITROGEN, ARGON, CARBON):
                    made[row, d, (WARM, SALT), s] = 1
                made[CARBON, d, ALKALINITY, s] = 1
            if rows.BIO in kinds:
                made[OXYGEN, d, (TAN, NITRITE, ALKALINITY), s] = 1
                for row in (TAN, NITRITE, NITRATE, ALKALINITY, CARBON):
                    made[row, d, (OXYGEN, ALKALINITY, TAN), s] = 1
                made[NITRATE, d, NITRITE, s] = 1
        return made.reshape(ROWS * frame.size, -1)


# --- a whole course ----------------------------------------------------------------------------------------


class Course(NamedTuple):
    """One scenario, as in `tables.Outcome`."""

    crossed: Floats
    margin: Floats
    margin_at: Floats
    x: Floats
    volume: Floats
    steps: int


class _Watch:
    """First crossings and least margins, from what an integrator's steps are interpolated to."""

    def __init__(self, limits: water_of.Limits, y: Floats, samples: int) -> None:
        self.limits, self.samples = limits, samples
        self.margin = limits(y)[:, 0]
        self.margin_at = np.zeros(len(self.margin))
        self.crossed = np.where(self.margin <= 0.0, 0.0, np.inf)

    def step(self, before: float, after: float, course: object) -> None:
        """Look at one step."""
        times = before + (after - before) * np.arange(1, self.samples + 1) / self.samples
        found = self.limits(course(times))
        least = np.argmin(found, axis=1)
        every = np.arange(len(least))
        lower = found[every, least] < self.margin
        self.margin_at = np.where(lower, times[least], self.margin_at)
        self.margin = np.where(lower, found[every, least], self.margin)
        for one in np.flatnonzero(np.isinf(self.crossed) & (found <= 0.0).any(axis=1)):
            first = int(np.argmax(found[one] <= 0.0))
            start = times[first - 1] if first else before
            self.crossed[one] = self.root(one, start, times[first], course)

    def root(self, one: int, low: float, high: float, course: object) -> float:
        """When a limit is met between two times of a step."""
        from scipy import optimize

        def margin(t: float) -> float:
            return float(self.limits(course(np.array([t])))[one, 0])

        if margin(low) <= 0.0:  # the interpolant of this step starts beyond: met where the last one ended
            return low
        return float(optimize.brentq(margin, low, high, xtol=1e-3))


LONGEST = 7200.0  # s: no step leaps over a morning that nothing in the night before foretells


def phases(tables: rows.Tables, scenario: int, end: float) -> list[tuple[int, float, float]]:
    """Numbers of phases with their begin and end."""
    found, begin = [], 0.0
    for phase, until in enumerate(tables.until[scenario]):
        stop = end if phase == tables.until.shape[1] - 1 else min(float(until), end)
        if stop > begin:
            found.append((phase, begin, stop))
            begin = stop
    return found


def solve(
    structure: rows.Structure, tables: rows.Tables, scenario: int, hours: float = 72.0, *,
    method: str = "BDF", rtol: float = 1e-6, samples: int = 1, longest: float = LONGEST,
    frame: Frame | None = None,
) -> Course:  # fmt: skip
    """The course of one scenario by one of SciPy's integrators, begun anew where a phase ends.

    Parameters
    ----------
    structure, tables : Structure, Tables
        The batch.
    scenario : int
        Which.
    hours : float
        How long.
    method : str
        BDF, LSODA or Radau.
    rtol : float
        Relative tolerance; the absolute one is this times a hundredth of `SCALE`.
    samples : int
        Points of each step that limits are looked at.
    longest : float
        Step. [s]
    frame : Frame
        Of the structure, where many are solved.
    """
    from scipy import integrate

    made = frame or Frame(structure)
    y = np.concatenate((tables.x[scenario].ravel(), tables.volume[scenario]))
    limits = water_of.Limits(structure, tables.place[scenario, 0, :, AT["pressure"]])
    watch = _Watch(limits, y, samples)
    scale = np.repeat(0.01 * SCALE, made.size)
    scale[VOLUME * made.size :] = 0.01 * tables.place[scenario, 0, :, AT["usual"]]
    steps = 0
    for phase, begin, end in phases(tables, scenario, hours * 3600.0):
        rates = Phase(made, tables.way[scenario, phase], tables.op[scenario, phase],
                      tables.place[scenario, phase], float(tables.clock[scenario]))  # fmt: skip
        stepper = getattr(integrate, method)(
            rates, begin, y, end, rtol=rtol, atol=rtol * scale, jac=rates.jacobian, max_step=longest
        )
        while stepper.status == "running":
            said = stepper.step()
            if stepper.status == "failed":
                raise RuntimeError(f"{method} stopped at {stepper.t:.0f} s of scenario {scenario}: {said}")
            steps += 1
            watch.step(stepper.t_old, stepper.t, stepper.dense_output())
        y = stepper.y
    state = y.reshape(ROWS, made.size)
    return Course(watch.crossed, watch.margin, watch.margin_at, state[:SPECIES], state[VOLUME], steps)

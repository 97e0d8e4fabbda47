"""What a batch of courses is worked out from: tables of numbers, and the equations they stand for.

A batch is one joined body of water under many scenarios. What all scenarios share (which places, which ways
water goes, which machines stand along them) is a `Structure`; what a failure changes stands in `Tables`, one
set of rows for each scenario and each phase of it. A phase lasts until a change-over has happened or failed,
or until somebody does something.

State of a scenario: ``x[species, place]`` in the order and units of `compartments.plant.SPECIES` (°C,
practical salinity, µmol/kg, tracer g/m³) and ``volume[place]`` in m³. With the clock hour ``h = clock + t``:

**Flows.** A way p from s to d carries ``q`` m³/s (`WAY`), by its law:

=========  ======================================================================================
PUMPED     ``flow * ramp((volume[s] - level) / band)``; ``flow`` alone where it comes from outside
SPILL      ``scale * max(volume[s] - level, 0) ** 1.5``
PORT       ``scale * y / (y**2 + band**2) ** 0.25`` with ``y = max(volume[s] - level, 0)``
MAKE_UP    ``flow * ramp((level - volume[d]) / band)``
=========  ======================================================================================

with ``ramp(u) = v * v * (3 - 2 * v)`` for u held between 0 and 1. Volumes stand for heights: walls are
upright. Water that leaves as vapour is ``evaporation * ramp(volume / (0.05 * usual))``, e below, and
``d volume/dt = sum of q in - sum of q out - e``.

**Along a way** water is changed by its machines in order (`OP`), starting from the source's water (or from
``outside[p]``), each from the water the one before left:

========  =========================================================================================
HEAT      temperature + ``kelvin``
HOLD      towards ``setpoint`` by at most ``cooling`` when too warm, ``warming`` when too cold [K]
CONTACT   x + ``share`` * (along - x) for oxygen, nitrogen, argon, with
          along = saturation / (ATM - vapour) * (pressure - vapour) * mixture / share in air;
          carbon: x - share * (free - level), level = solubility * 1e6 / ATM * (acid_pressure - vapour)
          * mixture, free = carbon dioxide in solution of this carbon with the *source's* alkalinity,
          at the temperature here
AIR       oxygen, nitrogen, argon + what is stated [µmol/kg]
BIO       allowed = the source's (below; 1 outside). tan * (1 - first * allowed): the loss is a.
          nitrite to (1 - second * allowed) * (nitrite + a): what went on is b = a - (rise of nitrite).
          nitrate + b; oxygen - 1.5 a - 0.5 b; alkalinity - 2 a
REMOVE    tracer * (1 - first)
========  =========================================================================================

**At a place** (`PLACE`), with V = max(volume, 1e-3 * usual), every species:

``V dx/dt = sum over ways in of q * (x at its end - x) + e * x + local``, local being

* temperature: ``warmth * (room - T) + lamps * light(h) + own * (own_at - T) + vapour_heat
  + vapour_slope * (T - about)``, all in K m³/s, the last two times e / evaporation (0 where that is 0)
* gases: ``speed_g * (held_g - x)``; ``speed_g = velocity * OVER_OXYGEN[g] * 1.024**(T - 20) * stirred``;
  stirred = ``still + (1 - still) * w * (2 - w)``, w = min(water in / usual_in, 1), 1 where usual_in is 0;
  held = saturation * (pressure - vapour) / (ATM - vapour); carbon dioxide: free against
  solubility * 1e6 / ATM * acid
* animals: ``use = breath * breathing(h) * exp(-5020 / (T + 273.15))``, oxygen - use * left(oxygen, 10),
  carbon + 0.9 * that; light: oxygen + ``photo * light(h)``, carbon - the same
* allowed = left(oxygen, 10) * left(alkalinity, 50) held between 0 and 1, left(c, n) = 1 - exp(-c / n) where
  c > 0, else c / n. Nitrification: a = ``first * volume * allowed * tan``,
  b = ``second * volume * allowed * nitrite``. tan + ``ammonia * excreting(h)`` - a; nitrite + a - b;
  nitrate + b; oxygen - 1.5 a - 0.5 b; alkalinity - 2 a
* alkalinity and carbon + ``dosing`` + ``kept * (2 a + 2 * sum over ways in of q * (a of its BIO machines))``
* tracer: ``tracer - decay * volume * x``

Volumes in a and b and in decay are V.

**Hours of the day** (`DAY`): ``light(h) = peak * smooth(u)``, u = (cos(2 pi (h - noon) / 24) - edge) / width
held between 0 and 1, smooth(u) = u * u * (3 - 2 u). ``breathing(h) = 1 + breath_swing * cos(2 pi (h -
breath_hour) / 24)``; excreting alike.

Every constant is that of `science` (Weiss and Price vapour, `gases` saturations, `dissociation` with lee and
dickson-riley, pH on the total scale).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# Laws of ways.
PUMPED, SPILL, PORT, MAKE_UP = 0, 1, 2, 3
WAY = ("flow", "scale", "level", "band")
WAY_FLOW, WAY_SCALE, WAY_LEVEL, WAY_BAND = range(len(WAY))

# Machines along ways: kind, and what each column of `Tables.op` means for it.
HEAT, HOLD, CONTACT, AIR, BIO, REMOVE = 0, 1, 2, 3, 4, 5
OP = {
    HEAT: ("kelvin",),
    HOLD: ("setpoint", "cooling", "warming"),
    CONTACT: ("oxygen", "nitrogen", "argon", "carbon",  # shares of the way to balance
              "pressure", "acid_pressure",  # of the gas [Pa]
              "mix_oxygen", "mix_nitrogen", "mix_argon", "mix_carbon"),  # shares of the dry gas
    AIR: ("oxygen", "nitrogen", "argon"),
    BIO: ("first", "second"),
    REMOVE: ("first",),
}  # fmt: skip
OP_COLUMNS = 10

PLACE = (
    "usual", "velocity", "still", "usual_in", "warmth", "room", "lamps", "own", "own_at", "vapour_heat",
    "vapour_slope", "about", "evaporation", "breath", "photo", "ammonia", "dosing", "kept", "first", "second",
    "tracer", "decay", "pressure", "acid",
)  # fmt: skip
AT = {name: index for index, name in enumerate(PLACE)}
"""Units: usual m³; velocity m³/s; usual_in m³/s; warmth, own, lamps, vapour_heat K m³/s (or m³/s); breath,
photo, ammonia, dosing µmol/kg m³/s; first, second, decay 1/s; tracer g/s; pressure, acid Pa."""

DAY = ("noon", "edge", "width", "peak", "breath_swing", "breath_hour", "excrete_swing", "excrete_hour")
QUANTITIES = (
    "temperature", "salinity", "oxygen", "oxygen_percent", "tgp", "delta_p", "ph", "co2", "tan", "ammonia",
    "nitrite", "nitrate", "alkalinity", "tracer", "level",
)  # fmt: skip
"""What limits are for, worked out as `compartments.water.read` does: °C, -, mg/L, % of local air, % of local
air, mmHg, total scale, µmol/kg, mg/L as N, mg/L as NH3-N, mg/L as N, mg/L as N, µmol/kg, g/m³, m³."""
QUANTITY = {name: index for index, name in enumerate(QUANTITIES)}


@dataclass(slots=True, kw_only=True)
class Structure:
    """What every scenario of a batch shares.

    Attributes
    ----------
    places, ways, machines : tuple of str
        Names: of places, of ways (the first run each goes along), of the machine behind each op.
    source, target : ndarray of int
        Place of each way, -1 outside.
    law : ndarray of int
        `PUMPED` ...
    begin, end : ndarray of int
        Ops of way p are ``begin[p]`` to ``end[p]`` without the last.
    kind : ndarray of int
        Of each op: `HEAT` ...
    outside : ndarray
        (ways, species): water a way brings from outside.
    day : ndarray
        (len(DAY),)
    limit_place, limit_quantity : ndarray of int
        Place, and number in `QUANTITIES`, of each limit.
    limit_value : ndarray
        Where it lies.
    limit_upper : ndarray of bool
        Whether more is worse.
    """

    places: tuple[str, ...]
    ways: tuple[str, ...]
    machines: tuple[str, ...]
    source: Ints
    target: Ints
    law: Ints
    begin: Ints
    end: Ints
    kind: Ints
    outside: Floats
    day: Floats
    limit_place: Ints
    limit_quantity: Ints
    limit_value: Floats
    limit_upper: NDArray[np.bool_]


@dataclass(slots=True, kw_only=True)
class Tables:
    """Numbers of every scenario and phase.

    Attributes
    ----------
    way, op, place : ndarray
        (scenarios, phases, ways, len(WAY)), (…, ops, OP_COLUMNS), (…, places, len(PLACE)).
    until : ndarray
        (scenarios, phases): when a phase ends, rising; the last may lie beyond the end. [s]
    x : ndarray
        (scenarios, species, places) at the start.
    volume : ndarray
        (scenarios, places) at the start. [m³]
    clock : ndarray
        (scenarios,): hour of the day at the start. [h]
    """

    way: Floats
    op: Floats
    place: Floats
    until: Floats
    x: Floats
    volume: Floats
    clock: Floats

    @property
    def scenarios(self) -> int:
        """How many."""
        return len(self.clock)


@dataclass(slots=True, kw_only=True)
class Outcome:
    """What a batch came to.

    Attributes
    ----------
    crossed : ndarray
        (scenarios, limits): when a limit is first crossed; 0 where it was beyond at the start, infinite
        where never. [s]
    margin : ndarray
        (scenarios, limits): the least distance to the limit on its good side, in the quantity's unit;
        negative or nothing where crossed.
    margin_at : ndarray
        (scenarios, limits): when that was. [s]
    x, volume : ndarray
        (scenarios, species, places), (scenarios, places) at the end.
    steps : ndarray of int
        (scenarios,): steps taken.
    whole : ndarray of bool
        (scenarios,): whether the end was reached.
    """

    crossed: Floats
    margin: Floats
    margin_at: Floats
    x: Floats
    volume: Floats
    steps: Ints
    whole: NDArray[np.bool_]


def take(tables: Tables, rows: Ints | slice) -> Tables:
    """Some of the scenarios."""
    return Tables(
        way=tables.way[rows], op=tables.op[rows], place=tables.place[rows], until=tables.until[rows],
        x=tables.x[rows], volume=tables.volume[rows], clock=tables.clock[rows],
    )  # fmt: skip

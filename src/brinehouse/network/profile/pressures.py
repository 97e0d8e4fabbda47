"""Absolute pressure and gas pressure along a reach: where the gas presses harder, bubbles can form."""

from __future__ import annotations

from brinehouse.network.profile import parts


def lines(reach: parts.Reach, barometer: float) -> tuple[tuple[parts.Line, ...], tuple[parts.Line, ...]]:
    """The pressure in the water and the pressure of its gas.

    Parameters
    ----------
    reach : Reach
    barometer : float
        Pressure of the air at the place itself. [Pa]

    Returns
    -------
    tuple
        Absolute pressure at the height of the pipe, and barometer plus ΔP; dots with their height in Pa,
        broken where the water falls free or nothing is known.
    """
    absolute: list[list[parts.Dot]] = [[]]
    gas: list[list[parts.Dot]] = [[]]
    for one in reach.stations:
        spread = (2.0 * (one.s // 2), 2.0 * (one.s // 2) + 1) if one.where == "surface" else (one.s,)
        height = one.head if one.where == "surface" else one.elevation
        if one.head is None or height is None or one.where == "fall":
            absolute.append([])
            gas.append([])
            continue
        weight = one.density * parts.GRAVITY
        low, high = (one.head if edge is None else edge for edge in (one.low, one.high))
        values = [barometer + weight * (head - height) for head in (one.head, low, high)]
        absolute[-1] += [_dot(one, s, *values) for s in spread]
        if one.gas is None:
            gas.append([])
            continue
        held = [barometer + value for value in (one.gas.value, one.gas.low, one.gas.high)]
        gas[-1] += [_dot(one, s, *held) for s in spread]
    return tuple(tuple(tuple(line) for line in found if len(line) > 1) for found in (absolute, gas))  # pyright: ignore[reportReturnType]


def _dot(one: parts.Station, s: float, value: float, low: float, high: float) -> parts.Dot:
    return parts.Dot(s=s, z=value, low=low, high=high, run=one.run, part=one.part, where=one.where)

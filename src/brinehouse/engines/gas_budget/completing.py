"""From what was typed to a full state of the water: the third number derived where only two were read."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from brinehouse import answers, findings
from brinehouse.engines.gas_budget import closure, explaining, kernel, understanding
from brinehouse.science import barometer, gases

MMHG = understanding.MMHG
DISPLAY = "from the % display"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """What every budget needs of the place: temperature, salinity, air pressure."""

    temperature: understanding.Quantity
    salinity: understanding.Quantity
    barometer: understanding.Quantity

    def values(self, oxygen: float, total: float = 100.0) -> dict[str, float]:
        """The kernel's values here, for oxygen in mg/L and a total in %."""
        here = (self.temperature.value, self.salinity.value, self.barometer.value, total, oxygen)
        t, s, b, g, o = (np.array([value]) for value in here)
        return {name: float(column[0]) for name, column in kernel.run("percent", t, s, b, g, o).items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """A full reading: the place, total and oxygen as read or derived, and all else that was given."""

    place: Place
    total: understanding.Quantity
    oxygen: understanding.Quantity
    known: understanding.Given

    @property
    def oxygen_was_read(self) -> bool:
        """Whether an instrument showed it, as a concentration or as a percentage."""
        return bool(self.oxygen.text)

    @property
    def oxygen_as_percent(self) -> bool:
        """Whether only the % display was read."""
        return self.oxygen.source == DISPLAY


def complete(known: understanding.Given) -> tuple[Ready | None, list[findings.Finding]]:
    """The full reading, or None and what is missing."""
    if known.temperature is None or known.salinity is None or known.barometer is None:
        return None, [_no_place(known)]
    place = Place(temperature=known.temperature, salinity=known.salinity, barometer=known.barometer)
    oxygen, total, nitrogen = known.oxygen, known.total, known.nitrogen
    if oxygen is None and known.saturation is not None:
        oxygen = _from_saturation(place, known.saturation)
    if total is not None and oxygen is not None:
        return Ready(place=place, total=total, oxygen=oxygen, known=known), []
    if nitrogen is not None and total is not None:
        oxygen = _derived_oxygen(place, nitrogen, total, known.total_kind)
        note = _derived("oxygen", "total gas pressure and the meter's nitrogen")
        return Ready(place=place, total=total, oxygen=oxygen, known=known), [note]
    if nitrogen is not None and oxygen is not None:
        total = _derived_total(place, nitrogen, oxygen)
        known.total_kind = "percent"
        note = _derived("total gas pressure", "oxygen and the meter's nitrogen")
        return Ready(place=place, total=total, oxygen=oxygen, known=known), [note]
    return None, [_what_would_complete(place, known, oxygen)]


def partial(known: understanding.Given) -> dict[str, answers.Value]:
    """What too few numbers give all the same: vapour, and what the total or the oxygen says alone."""
    if known.temperature is None or known.salinity is None or known.barometer is None:
        return {}
    place = Place(temperature=known.temperature, salinity=known.salinity, barometer=known.barometer)
    oxygen = known.oxygen
    if oxygen is None and known.saturation is not None:
        oxygen = _from_saturation(place, known.saturation)
    none = understanding.Quantity(value=math.nan, u=math.nan, rounding=math.nan)
    found = Ready(place=place, total=known.total or none, oxygen=oxygen or none, known=known)
    values = explaining.budget(state(found))
    return {n: v for n, v in values.items() if v.value is not None and math.isfinite(v.value)}


def state(ready: Ready) -> explaining.State:
    """The state as the kernel takes it; a stated salinity setting of the meter is taken into account."""
    place, known, oxygen = ready.place, ready.known, ready.oxygen
    if known.meter_salinity is not None and ready.oxygen_was_read and not ready.oxygen_as_percent:
        factor = explaining.corrected_oxygen_factor(
            place.temperature.value, place.salinity.value, known.meter_salinity
        )
        oxygen = replace(oxygen, value=oxygen.value * factor, u=oxygen.u * factor)
    carbon, depth = known.carbon_dioxide, known.depth
    return explaining.State(
        temperature=place.temperature.value,
        salinity=place.salinity.value,
        barometer=place.barometer.value,
        kind=known.total_kind,
        total=ready.total.value,
        oxygen=oxygen.value,
        carbon_dioxide=carbon.value if carbon else 0.0,
        depth=depth.value if depth else 0.0,
        doubt=kernel.Doubt(
            temperature=place.temperature.u,
            salinity=place.salinity.u,
            barometer=place.barometer.u,
            total=ready.total.u,
            oxygen=oxygen.u,
            carbon_dioxide=carbon.u if carbon else 0.0,
            depth=depth.u if depth else 0.0,
        ),
    )


def as_case(ready: Ready, state: explaining.State) -> closure.Case | None:
    """What a closure can be tested on; None where there is no second figure to hold against another."""
    place, known = ready.place, ready.known
    triple = known.nitrogen is not None and bool(ready.total.text) and ready.oxygen_was_read
    double = known.saturation is not None and known.oxygen is not None
    if not triple and not double:
        return None
    air, percent = state.barometer, state.kind == "percent"
    scale = 100.0 if percent else air
    return closure.case(
        temperature=state.temperature,
        salinity=state.salinity,
        barometer=air,
        total=ready.total.display / scale + (1.0 if state.kind == "delta" else 0.0),
        kind=state.kind,
        oxygen=ready.oxygen.display,
        nitrogen=known.nitrogen.value if triple and known.nitrogen else math.nan,
        saturation=known.saturation.value if double and known.saturation else math.nan,
        salinity_meter=state.salinity if known.meter_salinity is None else known.meter_salinity,
        sea_level=_sea_level(ready),
        carbon_dioxide=state.carbon_dioxide,
        u_total=ready.total.rounding / scale,
        u_oxygen=ready.oxygen.rounding,
        u_nitrogen=known.nitrogen.rounding if known.nitrogen else 0.0,
        u_saturation=known.saturation.rounding if known.saturation else 0.0,
        u_temperature=place.temperature.rounding,
        u_salinity=place.salinity.rounding,
        u_barometer=place.barometer.rounding,
        oxygen_as_percent=ready.oxygen_as_percent,
    )


def _sea_level(ready: Ready) -> float:
    """What a sea-level barometer would show now; unknown without an altitude worth speaking of."""
    altitude = ready.known.altitude
    if altitude is None or abs(altitude) < 30.0:
        return math.nan
    return float(barometer.sea_level_pressure_from_station_pressure(ready.place.barometer.value, altitude))


# ---------------------------------------------------------------------------------------------------
# The third number from the other two


def _from_saturation(place: Place, shown: understanding.Quantity) -> understanding.Quantity:
    """mg/L from the % display: the percentage does not depend on the meter's salinity setting."""
    per = place.values(1.0)["oxygen_percent"]
    gain = 0.02 * understanding.UNIFORM * shown.value
    return understanding.Quantity(
        value=shown.value / per,
        u=math.hypot(shown.rounding, gain) / per,
        rounding=shown.rounding / per,
        text=shown.text,
        source=DISPLAY,
    )


def _derived_oxygen(
    place: Place, nitrogen: understanding.Quantity, total: understanding.Quantity, kind: kernel.Total
) -> understanding.Quantity:
    """Oxygen from total and residual: the meter's own oxygen, hidden in its nitrogen.

    Its uncertainty is that of the meter's oxygen channel, and the two displays' rounding blown up by the
    arithmetic; the accuracy of the total cancels, because the residual was made from that very total.
    """
    step = 1.0 if kind == "percent" else 100.0 / place.barometer.value
    percent = total.value * step + (100.0 if kind == "delta" else 0.0)
    at_none, at_one = (place.values(oxygen, percent)["nitrogen_percent"] for oxygen in (0.0, 1.0))
    per = at_none - at_one
    more = place.values(0.0, percent + 1.0)["nitrogen_percent"] - at_none
    rounding = math.hypot(nitrogen.rounding, more * step * total.rounding) / per
    return understanding.Quantity(
        value=(at_none - nitrogen.value) / per,
        u=math.hypot(rounding, understanding.DEFAULTS["oxygen"][0]),
        rounding=rounding,
        source="from total gas pressure and the meter's nitrogen",
    )


def _derived_total(
    place: Place, nitrogen: understanding.Quantity, oxygen: understanding.Quantity
) -> understanding.Quantity:
    """Total from oxygen and residual, the same way; the cell's own accuracy stays in it."""
    here, more, less = (
        place.values(o, t)["nitrogen_percent"]
        for o, t in ((oxygen.value, 100.0), (oxygen.value, 101.0), (oxygen.value + 1.0, 100.0))
    )
    rounding = math.hypot(nitrogen.rounding, (less - here) * oxygen.rounding) / (more - here)
    return understanding.Quantity(
        value=100.0 + (nitrogen.value - here) / (more - here),
        u=math.hypot(rounding, understanding.DEFAULTS["tgp"][0]),
        rounding=rounding,
        source="from oxygen and the meter's nitrogen",
    )


# ---------------------------------------------------------------------------------------------------
# Saying what is missing


def _stop(text: str, hint: str) -> findings.Finding:
    return findings.Finding(code="gas/not-enough", level=findings.Level.STOP, text=text, hint=hint)


def _no_place(known: understanding.Given) -> findings.Finding:
    parts = (
        ("temperature", known.temperature),
        ("salinity", known.salinity),
        ("air pressure (or the altitude)", known.barometer),
    )
    missing = " and ".join(name for name, found in parts if found is None)
    return _stop(f"A budget needs the water's and the air's state: {missing} missing", f"give {missing}")


def _what_would_complete(
    place: Place, known: understanding.Given, oxygen: understanding.Quantity | None
) -> findings.Finding:
    wet = float(gases.vapour_pressure(place.temperature.value, place.salinity.value)) / MMHG
    can = [f"water vapour is {wet:.1f} mmHg"]
    if known.total is not None:
        excess = {
            "percent": (known.total.value / 100.0 - 1.0) * place.barometer.value,
            "delta": known.total.value,
            "pressure": known.total.value - place.barometer.value,
        }[known.total_kind]
        can.append(f"ΔP is {excess / MMHG:.0f} mmHg")
    if oxygen is not None:
        can.append(f"oxygen is {place.values(oxygen.value)['oxygen_percent']:.0f} % of saturation")
    best = "total gas pressure" if known.total is None else "oxygen"
    names = "total gas pressure, oxygen, the meter's nitrogen"
    return _stop(
        f"A budget takes two of {names}; so far only this can be said: {' and '.join(can)}",
        f"read {best} as well",
    )


def _derived(what: str, source: str) -> findings.Finding:
    return findings.Finding(
        code="gas/derived",
        level=findings.Level.NOTE,
        text=f"{what[0].upper()}{what[1:]} was not read but worked out from {source}: no test is left",
        hint=f"read {what} too: then the numbers test each other",
    )

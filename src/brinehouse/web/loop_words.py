"""What the marks of a loop profile say: numbers in the units of the house, in the words of the catalogue."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from brinehouse import units
from brinehouse.web import catalogue, svg
from brinehouse.workbench import loop

HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class Say:
    """Words and units for one drawing; `zone` is that of the hall's clocks."""

    t: catalogue.Words
    display: units.Display = units.Display()  # noqa: RUF009 - frozen, and without parts that change
    zone: str = "UTC"

    @property
    def length_unit(self) -> str:
        """``m`` or ``ft``."""
        return self.display.symbol("m")

    def high(self, metres: float | None, decimals: int = 2) -> str:
        """A height or depth without its unit."""
        if metres is None:
            return "–"
        return svg.digits(self.display.show(metres, "m")[0], decimals)

    def metres(self, value: float | None, decimals: int = 2) -> str:
        """A height or depth with its unit."""
        return f"{self.high(value, decimals)} {self.length_unit}"

    def spread(self, value: float, low: float | None, high: float | None) -> str:
        """A height with its ± where it has one."""
        if low is None or high is None or high - low < 1e-6:
            return self.metres(value)
        half = (high - low) / 2
        places = 2 if half < 0.095 else 1
        if abs((low + high) / 2 - value) > 0.15 * half:
            ends = f"({self.high(low, places)} … {self.high(high, places)})"
            return f"{self.high(value, places)} {ends} {self.length_unit}"
        return f"{self.high(value, places)} ± {self.high(half, places)} {self.length_unit}"

    def pressure(self, gas: loop.Excess) -> str:
        """ΔP with its ± and unit."""
        value, unit = self.display.show(gas.value, "Pa", "pressure")
        half = self.display.show((gas.high - gas.low) / 2, "Pa", "pressure")[0]
        places = 0 if half >= 1.95 else 1 if half >= 0.195 else 2
        return f"{svg.digits(value, places)} ± {svg.digits(half, places)} {unit}"

    def holds(self, gas: loop.Excess) -> list[str]:
        """What a place holds, as this house reads gas, and the day where it was read long ago."""
        told = f"ΔP {self.pressure(gas)}"
        if self.display.gas == "%" and gas.total is not None:
            half = gas.total_half or 0.0
            told = (
                f"TGP {svg.digits(gas.total, 1)} ± {svg.digits(half, 1)} %"
                if half
                else f"TGP {svg.digits(gas.total, 1)} %"
            )
        return [told, self.t("loop.read_on", day=self.day(gas.when))] if gas.old and gas.when else [told]

    def day(self, when: str) -> str:
        """A day of the hall's clock, ``25 Feb``."""
        here = datetime.fromisoformat(when).astimezone(ZoneInfo(self.zone))
        return f"{here.day} {self.t('time.months').split()[here.month - 1]}"

    def flow(self, value: float | None) -> str:
        """A flow in m³/h; empty where none is known."""
        return "" if value is None else f"{svg.digits(value * HOUR, 1)} m³/h"

    # -- one thing each -------------------------------------------------------------------------------

    def place(self, stop: loop.Stop) -> str:
        """All that is known of a place."""
        told: list[str] = []
        if stop.surface is not None and stop.elevation is not None and not stop.assumed:
            told.append(
                self.t("loop.say_water", floor=self.metres(stop.elevation), surface=self.metres(stop.surface))
            )
        elif stop.depth is not None:
            told.append(self.t("loop.say_depth", depth=self.metres(stop.depth)))
        if stop.gas is not None:
            weight = stop.density * loop.GRAVITY
            deep = self.spread(stop.gas.value / weight, stop.gas.low / weight, stop.gas.high / weight)
            told.append(
                self.t(
                    "loop.say_gas",
                    pressure=self.pressure(stop.gas),
                    depth=deep,
                    density=svg.digits(stop.density, 0),
                )
            )
            if stop.line is not None and not stop.assumed:
                told.append(self.t("loop.say_line", line=self.metres(stop.line.value)))
        else:
            told.append(self.t("loop.say_no_gas"))
        told += [self.animals(one) for one in stop.animals]
        return f"{stop.name}: {'; '.join(told)}"

    def animals(self, one: loop.Animals) -> str:
        """Animals against the gas line."""
        told = self.t("loop.say_animals", species=one.species, depth=self.metres(one.shallow))
        verdict = self.verdict(one)
        return f"{told}, {verdict}" if verdict else told

    def verdict(self, one: loop.Animals) -> str:
        """Too shallow by how much, or under the gas line by how much."""
        if one.above is None:
            return ""
        if one.state == "above":
            return self.t("loop.too_shallow", metres=self.metres(one.above))
        if one.state == "may be":
            return self.t("loop.may_be_shallow")
        return self.t("loop.deep_enough", metres=self.metres(-one.above))

    def pumps(self, stop: loop.Stop) -> str:
        """A group of pumps, which run, and what stands at their suction."""
        return f"{stop.name}: {'; '.join(self.member(one) for one in stop.members)}"

    def member(self, one: loop.Member) -> str:
        """One pump."""
        told = [self.t("loop.say_runs" if one.running else "loop.say_rests", pump=one.id)]
        if one.elevation is not None:
            told.append(self.t("loop.say_at", height=self.metres(one.elevation)))
        if one.flow:
            told.append(self.flow(one.flow))
        if one.running and one.suction is not None:
            head = self.spread(one.suction, one.suction_low, one.suction_high)
            told.append(self.t("loop.say_suction", head=head))
        return ", ".join(told)

    def machine(self, stop: loop.Stop, stations: Sequence[loop.Station]) -> str:
        """A machine with the heights at its ends."""
        named = stop.name if not stop.tag else f"{stop.tag}, {stop.name}"
        told = [self.station(one) for one in stations if one.head is not None]
        at = self.t("loop.say_at", height=self.metres(stop.elevation))
        return f"{named}: {'; '.join([at, *told])}"

    def station(self, one: loop.Station) -> str:
        """Static head and gas line at one point."""
        where = self.t(f"loop.where_{one.where}")
        head = self.spread(one.head or 0.0, one.low, one.high)
        told = f"{where}: {self.t('loop.say_head', head=head)}"
        if one.line is not None and one.gas is not None:
            told += f", {self.t('loop.say_line', line=self.metres(one.line))} (ΔP {self.pressure(one.gas)})"
        return told

    def group(self, stop: loop.Stop) -> list[str]:
        """The short label of pumps: their names, and how many run."""
        ids = [one.id for one in stop.members]
        running = sum(one.running for one in stop.members)
        names = row_of(ids, self.t("loop.to"))
        if len(ids) < 2:
            return [names, *([] if running else [self.t("loop.rests")])]
        return [names, self.t("loop.of_run", running=running, count=len(ids))]

    def suction(self, members: Iterable[loop.Member], blamed: str = "") -> list[str]:
        """What is wrong at a suction; the pump that gas comes with speaks, else the worst one."""
        low = low_suctions(members)
        if not low:
            return []
        worst = max(low, key=lambda one: (one.id == blamed, (one.elevation or 0.0) - (one.suction or 0.0)))
        depth = self.metres((worst.elevation or 0.0) - (worst.suction or 0.0))
        sure = any(one.air == "yes" for one in low)
        air = self.t("loop.air_can" if sure else "loop.air_may")
        if worst.id == blamed:
            return [self.t("loop.blamed", pump=blamed), self.t("loop.head_below", metres=depth), air]
        names = row_of([one.id for one in low], self.t("loop.to"))
        return [self.t("loop.suction", metres=depth, pump=names), air]


def low_suctions(members: Iterable[loop.Member]) -> list[loop.Member]:
    """Running pumps whose suction stands below air pressure, or is likelier to than not."""
    return [
        one
        for one in members
        if one.running
        and one.air != "no"
        and one.suction is not None
        and one.elevation is not None
        and (one.air == "yes" or one.suction < one.elevation)
    ]


def row_of(ids: Sequence[str], to: str) -> str:
    """Names in a row: first and last where they count up, else all of them.

    >>> row_of(["P-201", "P-202", "P-203"], "to"), row_of(["P-1", "P-7"], "to")
    ('P-201 to P-203', 'P-1, P-7')
    >>> row_of(["A", "B", "C", "D"], "to")
    'A, B, …'
    """
    if len(ids) > 2:
        stems = {name.rstrip("0123456789") for name in ids}
        numbers = [name[len(name.rstrip("0123456789")) :] for name in ids]
        if len(stems) == 1 and all(numbers):
            counted = [int(number) for number in numbers]
            if counted == list(range(counted[0], counted[0] + len(counted))):
                return f"{ids[0]} {to} {ids[-1]}"
    return ", ".join(ids) if len(ids) < 4 else f"{', '.join(ids[:2])}, …"

"""Stations of every run: heads that were computed, else estimated from both ends and the pump's curve."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from brinehouse.facility import model
from brinehouse.network.plumbing import chains, curves, losses, netting, parts, suction, way
from brinehouse.network.plumbing.case import Case

Known = dict[tuple[str, str], parts.Head]
"""Head by part and where, shared by the runs that pass the part."""
ABOVE = 0.05  # m: how far over the water a free fall is drawn


def stations(case: Case) -> dict[str, tuple[parts.Station, ...]]:
    """Every run's stations, in file order; those that need the highest head are laid first."""
    known: Known = dict(case.solved)
    made: dict[str, tuple[parts.Station, ...]] = {}
    for run in sorted(case.facility.runs.values(), key=lambda run: _need(case, run), reverse=True):
        made[run.id] = _Laying(case, run, known).lay()
    return {name: made[name] for name in case.facility.runs}


def _need(case: Case, run: model.Run) -> tuple[int, int, float]:
    """Driven runs first, those that start at a machine after those that pass it, the highest end first."""
    driven = way.driven(case.facility, run)
    starts = run.source in case.facility.vessels
    tops = [
        top
        for step in way.steps(case.facility, run)
        if step.kind == "column" and (top := netting.column_top(case.facility, run, step.part)) is not None
    ]
    end = case.end(run)
    if end is not None:
        tops.append(end.value)
    return int(driven), int(starts), max(tops, default=-1e9)


class _Laying:
    """One run on its way to be laid: stations gather in order."""

    def __init__(self, case: Case, run: model.Run, known: Known) -> None:
        self.case, self.run, self.known = case, run, known
        self.facility = case.facility
        self.steps = way.steps(case.facility, run)
        self.flow = case.flows.get(run.id)
        self.basis = "computed" if run.id in case.computed else "estimated"
        self.rows: list[parts.Station] = []

    def lay(self) -> tuple[parts.Station, ...]:
        """All stations of the run."""
        self.start()
        at = 1
        head = self.begin()
        while at < len(self.steps) - 1:
            step = self.steps[at]
            if step.kind == "pumps":
                at, head = self.pumped(at)
            elif step.kind in ("open", "column"):
                head = self.opened(step, head)
                at += 1
            else:
                at, head = self.closed(at, head)
        self.finish(head)
        return self.spaced()

    def add(
        self, part: str, where: str, elevation: float | None, head: parts.Head | None, *, aired: bool = False
    ) -> None:
        """One more station."""
        self.rows.append(
            parts.Station(
                run=self.run.id,
                part=part,
                where=where,
                along=0.0,
                elevation=elevation,
                head=head.value if head else None,
                low=head.low if head else None,
                high=head.high if head else None,
                basis=parts.UNKNOWN if head is None else self.basis,
                flow=self.flow,
                open=aired,
            )
        )

    # -- ends ------------------------------------------------------------------------------------------

    def start(self) -> None:
        """Surface and outlet of the place it leaves."""
        vessel = self.facility.vessels.get(self.run.source)
        if vessel is None:
            return
        level = self.case.levels.get(vessel.id)
        self.add(vessel.id, "surface", level.value if level else None, level, aired=True)
        self.add(vessel.id, "outlet", self.leaves(vessel, level), level)

    def leaves(self, vessel: model.Vessel, level: parts.Head | None) -> float | None:
        """Height at which water leaves a place: its crest, or low in it. [m]."""
        if way.overflows(self.facility, self.run):
            return vessel.crest
        if vessel.elevation is None or level is None:
            return None
        return vessel.elevation + 0.25 * max(level.value - vessel.elevation, 0.0)

    def begin(self) -> parts.Head | None:
        """Head the water sets out with."""
        source = self.run.source
        if source in self.facility.vessels:
            return self.case.levels.get(source)
        if self.steps[0].kind == "pumps":
            return self.pumps_at(0)
        if self.steps[0].kind == "column":
            pool = netting.column_pool(self.facility.equipment[source])
            return parts.Head.of(pool, 0.1) if pool is not None else None
        return self.known.get((source, "out"))

    def finish(self, head: parts.Head | None) -> None:
        """The end of the run: its high point, a free fall if there is one, and the water it comes to."""
        target = self.run.target
        end = self.case.end(self.run) if target in self.facility.vessels else self.known.get((target, "in"))
        previous = self.steps[-2].kind
        if self.run.high is not None and previous in ("pumps", "closed") and not self.ridden():
            self.high(head, end)
        level = self.case.levels.get(target)
        if target in self.facility.vessels:
            if self.case.falls_free(self.run):
                self.add(target, "fall", self.run.outlet, end, aired=True)
            elif self.falls() and level is not None:
                lip = parts.Head(level.value + ABOVE, level.low, level.high + ABOVE)
                self.add(target, "fall", level.value + ABOVE, lip, aired=True)
            self.add(target, "surface", level.value if level else None, level, aired=True)
        elif target in self.facility.equipment:
            if self.steps[-1].kind in ("open", "column"):
                self.opened(self.steps[-1], head)
            else:
                self.add(target, "in", self.facility.equipment[target].elevation, end)

    def falls(self) -> bool:
        """Whether water comes down in the open at the end: an overflow does where its mouth is not told."""
        return self.run.outlet is None and (
            self.steps[-2].kind in ("open", "column") or way.overflows(self.facility, self.run)
        )

    def ridden(self) -> bool:
        """Whether the high point is the top of a column on the way."""
        return any(step.kind == "column" for step in self.steps[1:-1])

    def high(self, head: parts.Head | None, end: parts.Head | None) -> None:
        """The highest point of the pipe, four fifths of the way along its last piece."""
        top = None
        head = self.known.get((self.run.id, "valved"), head)
        if head is not None and end is not None:
            far, near = parts.Head.of(0.8), parts.Head.of(0.2)
            if self.run.id not in self.case.computed:  # nor is it known where the hand valve stands
                far, near = parts.Head(0.8, 0.1, 3.0), parts.Head(0.2, 0.0, 1.0)
            top = chains.between(head, end, [far, near])[0]
        self.add("", "high", self.run.high, top)

    # -- machines --------------------------------------------------------------------------------------

    def pumped(self, at: int) -> tuple[int, parts.Head | None]:
        """Strainer, suction and discharge of pumps, then the closed machines behind them."""
        head = self.pumps_at(at)
        return at + 1, head

    def pumps_at(self, at: int) -> parts.Head | None:
        """The stations of one duty group; gives back the head it sends out."""
        group = self.steps[at].part
        names = way.members(self.facility, group)
        pump = next((self.facility.pumps[n] for n in names if self.case.running.get(n)), None)
        pump = pump or (self.facility.pumps[names[0]] if names else None)
        if pump is None:
            return None
        ahead, inlet = suction.inlet(self.case, pump)
        if pump.strainer is not False:
            self.add(group, "strainer", pump.elevation, ahead)
        self.add(group, "suction", pump.elevation, inlet)
        key = (group, "discharge")
        if key not in self.known:
            head = self.sent(at, pump, inlet)
            if head is not None:
                self.known[key] = head
        self.add(group, "discharge", pump.elevation, self.known.get(key))
        return self.known.get(key)

    def sent(self, at: int, pump: model.Pump, inlet: parts.Head | None) -> parts.Head | None:
        """Head behind the pumps: by the curve at its flow, else by what the way needs."""
        end, weights = self.anchor(at + 1)
        if not self.case.runs_any(self.steps[at].part):
            return end if end is not None else inlet
        lift = curves.lift(pump, self.case.pump_flows.get(pump.id))
        if lift is not None and inlet is not None:
            sent = inlet.plus(lift)
            if end is not None and sent.high < end.value:
                self.cannot_lift(pump, sent, end)
            return sent
        return chains.back(end, weights) if end is not None else None

    def cannot_lift(self, pump: model.Pump, sent: parts.Head, end: parts.Head) -> None:
        """The curve gives less than the way needs."""
        if any(one.code == "plumbing/cannot-lift" and one.data["pump"] == pump.id for one in self.case.said):
            return
        self.case.say(
            "plumbing/cannot-lift",
            f"by its curve {pump.id} brings water to {sent.value:.1f} m at its flow, and run {self.run.id} "
            f"needs {end.value:.1f} m",
            "correct the curve, the flow or an elevation: one of them is not so",
            spot=pump.spot, pump=pump.id, run=self.run.id, head=sent.value, needed=end.value,
        )  # fmt: skip

    def anchor(self, at: int) -> tuple[parts.Head | None, list[parts.Head]]:
        """The next head that is known behind a step, and the losses on the way there, its pipe last."""
        weights: list[parts.Head] = []
        for step in self.steps[at:-1]:
            if (step.part, "in") in self.known:
                return self.known[step.part, "in"], [*weights, losses.PIPE]
            if step.kind == "column":
                top = netting.column_top(self.facility, self.run, step.part)
                head = parts.Head(top, top, top + 0.3) if top is not None else None
                return head, [*weights, self.pipe()]
            if step.kind != "closed":
                level = self.facility.equipment[step.part].elevation if step.kind == "open" else None
                return (parts.Head.of(level, 0.2) if level is not None else None), [*weights, self.pipe()]
            weights.append(losses.machine(self.facility.equipment[step.part], self.flow, self.run.diameter))
        end = self.case.end(self.run)
        if end is None:
            end = self.known.get((self.run.target, "in"))
        return end, [*weights, self.pipe()]

    def pipe(self) -> parts.Head:
        """Loss of the run's own pipe."""
        return losses.pipe(self.run, self.flow)

    def closed(self, at: int, head: parts.Head | None) -> tuple[int, parts.Head | None]:
        """Closed machines one behind the other, up to the next head that is known."""
        names: list[str] = []
        while at < len(self.steps) - 1 and self.steps[at].kind == "closed":
            names.append(self.steps[at].part)
            at += 1
        for n, name in enumerate(names):
            machine = self.facility.equipment[name]
            if (name, "in") not in self.known and head is not None:
                self.known[name, "in"] = head
            entry = self.known.get((name, "in"))
            self.add(name, "in", machine.elevation, entry)
            if (name, "out") not in self.known and entry is not None:
                out = self.after(entry, at - len(names) + n)
                if out is not None:
                    self.known[name, "out"] = out
            head = self.known.get((name, "out"))
            self.add(name, "out", machine.elevation, head)
        return at, head

    def after(self, entry: parts.Head, at: int) -> parts.Head | None:
        """Head behind a closed machine."""
        own = losses.machine(self.facility.equipment[self.steps[at].part], self.flow, self.run.diameter)
        end, weights = self.anchor(at + 1)
        if own is not losses.MACHINE:
            floor = end.low if end is not None else -1e9
            out = entry.less(own)
            return parts.Head(out.value, max(out.low, min(floor, out.value)), out.high)
        if end is None:
            return None
        return chains.between(entry, end, [own, *weights])[0]

    def opened(self, step: way.Step, head: parts.Head | None) -> parts.Head | None:
        """A machine that is open to air: the lines break there, and begin again below."""
        machine = self.facility.equipment[step.part]
        if step.kind != "column":
            lip = parts.Head.of(machine.elevation, 0.2) if machine.elevation is not None else None
            self.add(step.part, "fall", machine.elevation, lip, aired=True)
            return lip
        top, pool = netting.column_top(self.facility, self.run, step.part), netting.column_pool(machine)
        over = parts.Head(top, top, top + 0.3) if top is not None else None
        self.add("", "high", top, over)
        self.add(step.part, "in", top, over)
        middle = (top + pool) / 2 if top is not None and pool is not None else None
        self.add(step.part, "fall", middle, None, aired=True)
        below = parts.Head.of(pool, 0.1) if pool is not None else None
        self.add(step.part, "pool", pool, below, aired=True)
        self.add(step.part, "out", pool - 0.2 if pool is not None else None, below)
        return below

    def spaced(self) -> tuple[parts.Station, ...]:
        """Stations set evenly along the run."""
        return tuple(_at(self.rows, n) for n in range(len(self.rows)))


def _at(rows: Sequence[parts.Station], n: int) -> parts.Station:
    return dataclasses.replace(rows[n], along=n / max(len(rows) - 1, 1))

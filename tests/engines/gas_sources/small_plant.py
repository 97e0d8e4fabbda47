"""An invented plant of two tanks over a sump, its readings simulated here step by step from mass balance."""

from datetime import UTC, datetime, timedelta

import numpy as np

from brinehouse.engines import gas_sources
from brinehouse.facility import reading

START = datetime(2026, 1, 1, tzinfo=UTC)
DRY = 700.0  # mmHg of dry air
AIR = {"oxygen": 0.20946, "inert": 0.79014}
TEXT = """
schema = 1
[facility]
name = "Small hall"
altitude = "400 m"
timezone = "UTC"
[system.s]
name = "small loop"
[tank.high]
name = "High tank"
system = "s"
volume = "20 m3"
depth = "2 m"
surface = "10 m2"
elevation = "2 m"
crest = "4 m"
[tank.low]
name = "Low tank"
system = "s"
volume = "2 m3"
depth = "0.5 m"
surface = "4 m2"
elevation = "1.5 m"
crest = "2 m"
[sump.basin]
name = "Basin"
system = "s"
volume = "4 m3"
surface = "4 m2"
elevation = "0 m"
[pump.P-1]
name = "one"
power = "1 kW"
elevation = "{elevation}"
[pump.P-2]
name = "two"
power = "1 kW"
elevation = "{elevation}"
[pump.P-3]
name = "three"
power = "1 kW"
elevation = "{elevation}"
[duty.return]
name = "returns"
pumps = ["P-1", "P-2", "P-3"]
keep = 2
[equipment.column]
kind = "packed column"
name = "column"
[run.up]
name = "supply of the high tank"
from = "basin"
through = ["return", "column"]
to = "high"
flow = "20 m3/h"
[run.side]
name = "supply of the low tank"
from = "basin"
through = ["return"]
to = "low"
flow = "6 m3/h"
[run.back]
name = "overflow of the high tank"
from = "high"
to = "basin"
flow = "20 m3/h"
[run.back-low]
name = "overflow of the low tank"
from = "low"
to = "basin"
flow = "6 m3/h"
[[animals]]
at = "low"
species = "seahorse"
mass = "0.3 kg"
depth = ["0.1 m", "0.4 m"]
"""


def facility(elevation="2.5 m"):
    """The hall, its pumps above the water of the basin or below it."""
    checked = reading.read(TEXT.replace("{elevation}", elevation))
    assert checked.facility is not None, [str(f) for f in checked.findings]
    return checked.facility


def flows(hall):
    """Its flows as stated. [m³/s]"""
    return {run.id: run.flow for run in hall.runs.values()}


def turns(days=40, hours=30.0, pumps=("P-1", "P-2", "P-3")):
    """Two of three run; each rests in its turn."""
    rest = len(pumps) - 1
    before = START - timedelta(days=3)
    made = [gas_sources.Turn(at=before, pump=p, running=n != rest) for n, p in enumerate(pumps)]
    for step in range(1, int(days * 24 / hours)):
        at = START + timedelta(hours=hours * step)
        made.append(gas_sources.Turn(at=at, pump=pumps[rest], running=True))
        rest = (rest + 1) % len(pumps)
        made.append(gas_sources.Turn(at=at, pump=pumps[rest], running=False))
    return tuple(made)


def running(pump, made, hours):
    """1 while a pump runs, at each of some hours."""
    edges = [((t.at - START).total_seconds() / 3600.0, t.running) for t in made if t.pump == pump]
    out = np.zeros(len(hours))
    for at, state in edges:
        out[np.asarray(hours) >= at] = float(state)
    return out


def water(leak, pump, made, *, share=0.119, column=0.5, churn=4.0, since=0.0, days=40):
    """ΔP and oxygen's excess of every place, each tenth of an hour. [mmHg]"""
    step = 0.1
    hours = np.arange(0.0, days * 24.0, step)
    on = running(pump, made, hours) * leak * (hours >= since)
    found = {}
    for gas, part in (("oxygen", share), ("inert", 1.0 - share)):
        high = low = basin = 0.0
        rows = []
        for now in on:
            sent = basin + part * now
            high += step / 20.0 * (20.0 * (column * sent + churn * AIR[gas] - high) - 2.0 * high)
            low += step / 2.0 * (6.0 * (sent - low) - 1.5 * low)
            basin += step / 4.0 * (20.0 * (0.8 * high - basin) + 6.0 * (0.8 * low - basin))
            rows.append((high, low, basin, basin + part * now))
        found[gas] = np.array(rows)
    return hours, found


def given(
    leak=15.0,
    pump="P-2",
    *,
    count=90,
    noise=0.6,
    seed=1,
    elevation="2.5 m",
    below_air="yes",
    share=0.119,
    since=0.0,
    made=None,
    places=("high", "low", "basin"),
):
    """What a survey needs, the truth simulated and read with noise."""
    rng = np.random.default_rng(seed)
    made = turns() if made is None else made
    hours, found = water(leak, pump, made, share=share, since=since)
    hall = facility(elevation)
    samples = []
    for at in np.sort(rng.uniform(48.0, 39 * 24.0, count)):
        k, number = int(at / 0.1), int(rng.integers(len(places)))
        name = places[number]
        spot = ("high", "low", "basin", "up").index(name)
        oxygen, inert = found["oxygen"][k, spot], found["inert"][k, spot]
        samples.append(
            gas_sources.Sample(
                at=START + timedelta(hours=float(hours[k])),
                place=name,
                delta_p=float(oxygen + inert + rng.normal(0.0, noise)),
                oxygen=100.0 + 100.0 * float(oxygen + rng.normal(0.0, noise)) / (AIR["oxygen"] * DRY),
                nitrogen=100.0 + 100.0 * float(inert) / (AIR["inert"] * DRY),
                meter="meter",
                temperature=25.0,
                salinity=34.0,
                pressure=DRY + 23.0,
            )
        )
    return gas_sources.Given(
        facility=hall,
        system="s",
        samples=tuple(samples),
        turns=made,
        flows=flows(hall),
        suctions={p: gas_sources.Suction(pump=p, below_air=below_air, why="as told") for p in hall.pumps},
        offsets={"meter": 0.5},
        gains={"meter": 0.005},
    )


def settled(leak, **how):
    """By place: ΔP that the leak adds once its pump has run long. [mmHg]"""
    always = (gas_sources.Turn(at=START - timedelta(days=9), pump="P-2", running=True),)
    with_leak, without = (water(size, "P-2", always, days=6, **how)[1] for size in (leak, 0.0))
    total = [sum(one[gas][-1] for gas in AIR) for one in (with_leak, without)]
    return dict(zip(("high", "low", "basin", "up"), (total[0] - total[1]).tolist(), strict=True))


def table(answer, name):
    """The rows of one table."""
    return next(one for one in answer.tables if one.name == name).rows


def row(rows, **wanted):
    """The first row with these cells."""
    return next(one for one in rows if all(one.get(name) == value for name, value in wanted.items()))

"""A busy plant against a second set of equations, written out here from the published relations alone."""

import numpy as np
import pytest
from scipy import integrate
from tests.network.compartments import plants

from brinehouse.network.compartments import assembly, building, conditions, plant
from brinehouse.science import carbonate, exchange, gases, heat, nitrogen, respiration, seawater

HOUR, DAY, AIR, PCO2 = 3600.0, 86400.0, 101325.0, 60.0
ROOM, FIRST = 19.0, 20.0
BACK, SIDE = 6.0 / HOUR, 2.0 / HOUR  # m³/s: through the tank, through the filter
VOLUME = np.array([5.0, 2.0, 3.0])  # m³: tank, side tank, sump
VELOCITY = np.array([4e-5, 2e-5, 3e-5])  # m/s, oxygen at 20 °C
LOSS = np.array([80.0, 30.0, 60.0])  # W/K
TURNED = np.array([[0.0, 0.0, 4e-4], [0.0, 0.0, 6e-4]])  # 1/s
PASS = (0.3, 0.5)
LEAK, REACH = 0.4, {"oxygen": 0.6, "nitrogen": 0.55, "argon": 0.58, "carbon": 0.25}
DEPTH, UNDER, UNDER_CARBON = 0.5, 0.25, 0.1
SWAP, EVAPORATED, FED, POWER, DOSED = 3e-5, 4e-4, 0.4 / DAY, 1500.0, 1.0e-5
INERT = {"oxygen": 0.20946, "nitrogen": 0.78084, "argon": 0.00934}  # Glueckauf (1951): dry air
OVER_OXYGEN = {"oxygen": 1.0, "nitrogen": 0.929, "argon": 0.98, "carbon": 0.95}  # as `building` cites them
NAMES = (
    "temperature", "salinity", "oxygen", "nitrogen", "argon", "carbon", "alkalinity", "tan", "nitrite",
    "nitrate",
)  # fmt: skip
# how near: °C and salinity; µmol/kg. Evaporation's heat is a tangent in the model and the curve here.
NEAR = dict(zip(NAMES, (1e-3, 1e-9, 5e-3, 6e-3, 2e-4, 1e-2, 1e-4, 1e-5, 1e-5, 1e-4), strict=True))


def house():
    side = '[tank.c]\nvolume = "2 m3"\ndepth = "1 m"\ntemperature = "20 °C"\nsalinity = "34 ppt"\n'
    return plants.loop(
        tank="5 m3", sump="3 m3", flow="6 m3/h", through='through = ["p", "g"]',
        extra=side + '[run.c-in]\nfrom = "b"\nthrough = ["f"]\nto = "c"\nflow = "2 m3/h"\n'
        '[run.c-out]\nfrom = "c"\nto = "b"\nflow = "2 m3/h"\n'
        '[pump.p]\nname = "p"\nflow = "6 m3/h"\npower = "1.5 kW"\n'
        '[equipment.g]\nkind = "packed column"\nname = "g"\n'
        '[equipment.f]\nkind = "biofilter"\nname = "f"\n'
        '[[animals]]\nat = "a"\nspecies = "mullet"\nmass = "25 kg"\ncount = 100\n',
    )  # fmt: skip


def built():
    calm = conditions.Fall(depth=0.0, approach=0.0, air=0.0)
    told = conditions.Conditions(
        station_pressure=AIR, pco2=PCO2, room_temperature=ROOM, humidity=0.6, alkalinity_kept=False,
        feed={"a": conditions.Feed(rate=FED)}, nitrifying={"b": (4e-4, 6e-4)}, passing={"f": PASS},
        contacts={"g": conditions.Contact(effectiveness=REACH)}, leaks={"p": conditions.Leak(air=LEAK)},
        falls={"out": conditions.Fall(depth=DEPTH, approach=UNDER, carbon=UNDER_CARBON), "c-in": calm,
               "c-out": calm},
        transfer=dict(zip("acb", VELOCITY, strict=True)), warmth=dict(zip("acb", LOSS, strict=True)),
        evaporation={"a": EVAPORATED, "b": 0.0, "c": 0.0}, dosing={"b": DOSED},
        exchange={"b": conditions.Exchange(flow=SWAP, water=conditions.Supply(temperature=16.0))},
    )  # fmt: skip
    return plants.made(house(), told)


DENSE, HOLDS = float(seawater.density(20.0, 34.0)), float(seawater.heat_capacity(20.0, 34.0))
PER = DENSE * HOLDS  # J/m³/K


def balance(gas, warm, salt, pressure=AIR):
    """What water holds of a gas under air at this pressure, in µmol/kg: Henry's law from 1 atm."""
    if gas == "carbon":
        return gases.carbon_dioxide_solubility(warm, salt) * 1e6 * PCO2 / 101325.0
    held = getattr(gases, f"{gas}_at_saturation")(warm, salt)
    wet = gases.vapour_pressure(warm, salt)
    return held * (pressure - wet) / (101325.0 - wet)


def supply(warm, salt):
    out = dict.fromkeys(NAMES, 0.0) | {"temperature": warm, "salinity": salt}
    for gas in INERT:
        out[gas] = float(balance(gas, warm, salt))
    out["alkalinity"] = 2300.0 * salt / 34.0
    out["carbon"] = float(carbonate.carbon_at_balance(out["alkalinity"], PCO2, warm, salt)) if salt else 15.0
    return np.array([out[name] for name in NAMES])


def through_column(x):
    """Pump: heat and air; then the column, each gas so far of the way to its own balance."""
    y = x.copy()
    y[0] += POWER / (PER * BACK)
    free = 1e6 * 1e-6 * LEAK * 101325.0 / (8.31446261815324 * 273.15) / (DENSE * 1e-3)  # µmol/kg: ideal gas
    for gas, share in INERT.items():
        at = NAMES.index(gas)
        y[at] += free * share
        y[at] += REACH[gas] * (balance(gas, y[0], y[1]) - y[at])
    acid = float(carbonate.co2_of(y[6], y[5], y[0], y[1]))
    y[5] -= REACH["carbon"] * (acid - float(balance("carbon", y[0], y[1])))
    return y


def falling(x):
    """Air carried under: as at the depth's pressure; carbon dioxide leaves to the air above."""
    y = x.copy()
    for gas in INERT:
        at = NAMES.index(gas)
        y[at] += UNDER * (balance(gas, y[0], y[1], AIR + DENSE * 9.80665 * DEPTH) - y[at])
    acid = float(carbonate.co2_of(y[6], y[5], y[0], y[1]))
    y[5] -= UNDER_CARBON * (acid - float(balance("carbon", y[0], y[1])))
    return y


def filtering(x):
    """Ammonia to nitrite to nitrate: 1.5 and 0.5 O2, two of alkalinity for each ammonia."""
    y = x.copy()
    first = PASS[0] * x[7]
    second = PASS[1] * (x[8] + first)
    y[7:10] += (-first, first - second, second)
    y[2] -= 1.5 * first + 0.5 * second
    y[6] -= 2.0 * first
    return y


SEA, FRESH = supply(16.0, 34.0), supply(15.0, 0.0)


def outside(_time, flat):
    """Rates of the ten species in tank, side tank and sump."""
    x = flat.reshape(len(NAMES), 3)
    a, c, b = x.T
    gone = EVAPORATED / DENSE
    flow = np.zeros_like(x)
    flow[:, 0] = BACK * through_column(b) - (BACK - gone) * a
    flow[:, 1] = SIDE * (filtering(b) - c)
    flow[:, 2] = (BACK - gone) * falling(a) + SIDE * c - (BACK + SIDE) * b
    flow[:, 2] += SWAP * (SEA - b) + gone * FRESH
    air = heat.vapour_in_air(ROOM, 0.6)
    drier = (gases.vapour_pressure(a[0], 34.0) - air) / (gases.vapour_pressure(FIRST, 34.0) - air)
    flow[0] += LOSS * (ROOM - x[0]) / PER
    flow[0, 0] -= EVAPORATED * heat.latent_heat(FIRST) * drier / PER
    speed = VELOCITY * VOLUME * 1.024 ** (x[0] - 20.0)  # surfaces of 1 m depth; theta 1.024
    acid = carbonate.co2_of(x[6], x[5], x[0], x[1])
    for gas, at in (("oxygen", 2), ("nitrogen", 3), ("argon", 4)):
        flow[at] += OVER_OXYGEN[gas] * speed * (balance(gas, x[0], x[1]) - x[at])
    flow[5] += OVER_OXYGEN["carbon"] * speed * (balance("carbon", x[0], x[1]) - acid)
    # Clarke and Johnston (1999): mmol/h of a fish; 100 of 250 g, 1.75 times resting
    breath = 100 * 1.75 * np.exp(15.7 - 5020.0 / (a[0] + 273.15)) * (250.0 / 50.0) ** 0.8 / 3600.0  # mmol/s
    flow[2, 0] -= breath * 1e3 / DENSE
    flow[5, 0] += 0.9 * breath * 1e3 / DENSE
    flow[7, 0] += FED * 0.45 * 0.092 / 0.0140067 * 1e6 / DENSE
    first, second = TURNED[0] * VOLUME * x[7], TURNED[1] * VOLUME * x[8]
    flow[7:10] += np.stack([-first, first - second, second])
    flow[2] -= 1.5 * first + 0.5 * second
    flow[6] -= 2.0 * first
    flow[5:7, 2] += DOSED * 1e6 / DENSE
    return (flow / VOLUME).ravel()


def gaps(x, wanted, order):
    rows = [plant.AT[name] for name in NAMES]
    off = np.abs(x[np.ix_(rows, [order.index(place) for place in "acb"])] - wanted).max(axis=1)
    return dict(zip(NAMES, off.tolist(), strict=True))


@pytest.fixture(scope="module")
def second_opinion():
    """The plant after a day and at rest, by the equations above."""
    start = np.repeat(supply(FIRST, 34.0)[:, None], 3, axis=1).ravel()
    day = integrate.solve_ivp(outside, (0.0, DAY), start, method="LSODA", rtol=1e-8, atol=1e-7).y[:, -1]
    rest = integrate.solve_ivp(outside, (0.0, 120 * DAY), day, method="LSODA", rtol=1e-8, atol=1e-7).y[:, -1]
    return day.reshape(len(NAMES), 3), rest.reshape(len(NAMES), 3)


def off(second_opinion):
    """How far from the second opinion the model is after a day and at rest, by species."""
    model = built()
    day = gaps(model.transient(24.0).course.x[-1], second_opinion[0], model.places)
    return day, gaps(model.steady().x, second_opinion[1], model.places)


def test_a_busy_plant_agrees_with_equations_written_a_second_time(second_opinion):
    day, rest = off(second_opinion)
    assert {name: gap for name, gap in day.items() if gap > NEAR[name]} == {}
    assert {name: gap for name, gap in rest.items() if gap > NEAR[name]} == {}


def _times(where, name, factor):
    """Something of the model's own times a factor, before it is built."""
    true = getattr(where, name)
    return lambda patch: patch.setattr(where, name, lambda *given, **more: true(*given, **more) * factor)


def _set(where, name, value):
    return lambda patch: patch.setattr(where, name, value)


def _under(rows, pressure):
    rows.machines.pressure[:, rows.machines.term == plant.WORD["air carried under"]] = pressure


BEFORE = {
    "animals": (_times(respiration, "oxygen_use", 1.01), {"oxygen", "carbon"}),
    "feed": (_times(nitrogen, "tan_from_feed", 1.01), {"tan", "nitrite", "nitrate", "alkalinity"}),
    "oxygen of nitrification": (_set(assembly, "OXYGEN_STEPS", (1.5, 0.45)), {"oxygen"}),
    "alkalinity of nitrification": (_set(assembly, "CHARGE", 1.99), {"alkalinity"}),
    "quotient": (_set(respiration, "RESPIRATORY_QUOTIENT", 0.91), {"carbon"}),
    "surface's warmth": (_set(exchange, "transfer_coefficient", lambda kla, _: kla), {"oxygen", "nitrogen"}),
    "surface of one gas": (
        lambda patch: patch.setitem(building.TRANSFER_OVER_OXYGEN, "argon", 1.0), {"argon"}),
    "dosing": (_times(assembly.Assembly, "dosing", 0.99), {"alkalinity", "carbon"}),
}  # fmt: skip
AFTER = {
    "pump heat": (lambda rows: rows.machines.heat.__imul__(1.01), {"temperature"}),
    "leak": (lambda rows: rows.machines.air.__imul__(1.01), {"oxygen", "nitrogen", "argon"}),
    "column and fall": (
        lambda rows: rows.machines.effectiveness.__imul__(1.01), {"oxygen", "nitrogen", "argon", "carbon"}),
    "depth of the fall": (lambda rows: _under(rows, AIR), {"oxygen", "nitrogen", "argon"}),
    "carbon dioxide under the fall": (lambda rows: _under(rows, AIR + 5036.0), {"carbon"}),
    "vapour in the column": (lambda rows: rows.machines.mixture[3].__imul__(0.977), {"carbon"}),
    "filter": (lambda rows: rows.machines.ammonia.__imul__(1.01), {"tan", "nitrite", "oxygen"}),
    "what lives in the sump": (lambda rows: rows.local.turning.__imul__(1.01), {"tan", "nitrite"}),
    "room": (lambda rows: rows.local.warmth.__imul__(1.01), {"temperature"}),
    "evaporation": (lambda rows: rows.local.heat.__imul__(0.99), {"temperature"}),
    "top-up": (lambda rows: rows.outside[1].__iadd__(0.01), {"salinity"}),
}  # fmt: skip


@pytest.mark.parametrize("fault", [*BEFORE, *AFTER])
def test_each_small_fault_in_the_model_is_seen_by_the_second_equations(second_opinion, monkeypatch, fault):
    if fault in BEFORE:
        spoil, seen = BEFORE[fault]
        spoil(monkeypatch)
        model = built()
    else:
        spoil, seen = AFTER[fault]
        model = built()
        spoil(model.plant)
    rest = gaps(model.steady().x, second_opinion[1], model.places)
    assert {name for name in seen if rest[name] > NEAR[name]} == seen

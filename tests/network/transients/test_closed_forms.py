"""Courses whose answer stands in a textbook, by both writings of the equations: the compiled and the peer."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks import transient_peer as peer
from benchmarks import transient_water as water
from scipy import linalg
from tests.network.transients import batches

from brinehouse.network.transients import running, tables
from brinehouse.science import carbonate, dissociation, gases, seawater
from brinehouse.science.constants import ARGON_IN_AIR, ATM, NITROGEN_IN_AIR, OXYGEN_IN_AIR

HOUR = 3600.0
OXYGEN, CARBON, ALKALINITY, TAN, NITRITE, NITRATE, TRACER = 2, 5, 6, 7, 8, 9, 10


def by_peer(structure, made, hours):
    found = [
        peer.solve(structure, made, at, hours, method="LSODA", rtol=1e-9) for at in range(made.scenarios)
    ]
    return tuple(np.array([one[part] for one in found]) for part in (0, 3, 4))


def by_kernel(structure, made, hours):
    found = running.run(structure, made, hours, rtol=1e-8)
    assert found.whole.all()
    return found.crossed, found.x, found.volume


BOTH = pytest.mark.parametrize("solved", [by_peer, by_kernel], ids=["peer", "compiled"])
NONE = (
    "velocity", "warmth", "lamps", "evaporation", "vapour_heat", "vapour_slope", "breath", "photo", "ammonia",
    "dosing", "first", "second", "tracer", "decay", "usual_in", "kept",
)  # fmt: skip
QUIET = dict.fromkeys(NONE, 0.0)
SPECIES = (
    "temperature", "salinity", "oxygen", "nitrogen", "argon", "carbon", "alkalinity", "tan", "nitrite",
    "nitrate", "tracer",
)  # fmt: skip


def tank(volume=10.0, **more):
    """Nothing happens but what is told."""
    made = batches.Plant()
    made.vessel("tank", volume, 1.0, **(QUIET | more))
    return made


def begun(made, **changed):
    x, volume = batches.rough(made)
    for species, values in changed.items():
        if species == "volume":
            volume = np.array(values)
        else:
            x[SPECIES.index(species)] = values
    return made.structure(), made.batch([[]], x, volume, until=(1e9,))


@BOTH
def test_a_stagnant_tank_comes_to_balance_with_the_air_as_its_surface_is_large(solved):
    made = tank(10.0, velocity=2e-4, pressure=ATM)
    made.limit("tank", "oxygen_percent", 80.0, False)
    structure, batch = begun(made, oxygen=50.0)
    _, x, _ = solved(structure, batch, 20.0)
    held = float(gases.oxygen_at_saturation(24.0, 34.0))
    rate = 2e-4 * 1.024**4 / 10.0
    assert x[0, OXYGEN, 0] == pytest.approx(held + (50.0 - held) * np.exp(-rate * 20 * HOUR), rel=1e-6)


@BOTH
def test_fish_in_a_stagnant_tank_use_its_oxygen_up_at_the_hour_that_integration_by_hand_gives(solved):
    # dx/dt = -u (1 - exp(-x/10)):  exp(x/10) - 1 falls as exp(-u t / 10)
    made = tank(10.0, breath=0.05 * 10.0 / HOUR * 60 / np.exp(-5020 / 297.15))
    made.day = (12.0, 0.0, 0.5, 1.0, 0.0, 0.0, 0.0, 0.0)
    made.limit("tank", "oxygen", 3.0, False)
    structure, batch = begun(made, oxygen=200.0)
    crossed, x, _ = solved(structure, batch, 90.0)
    use = 0.05 * 60 / HOUR
    first = 10.0 * np.log(1.0 + np.expm1(20.0) * np.exp(-use * 90 * HOUR / 10.0))
    assert x[0, OXYGEN, 0] == pytest.approx(first, abs=1e-5)
    limit = 3.0 / (31.9988 * 1e-6 * float(water.density(np.array([[24.0]]), np.array([[34.0]]))[0, 0]))
    when = 10.0 / use * np.log(np.expm1(20.0) / np.expm1(limit / 10.0))
    assert crossed[0, 0] == pytest.approx(when, abs=1.0)
    # what is breathed out is there as carbon
    assert x[0, CARBON, 0] == pytest.approx(2080.0 + 0.9 * (200.0 - x[0, OXYGEN, 0]), rel=1e-7)


@BOTH
def test_a_tank_without_a_chiller_comes_to_the_temperature_of_the_room(solved):
    made = tank(10.0, warmth=3e-4, room=30.0)
    made.limit("tank", "temperature", 26.0, True)
    structure, batch = begun(made, temperature=24.0)
    crossed, x, _ = solved(structure, batch, 30.0)
    assert x[0, 0, 0] == pytest.approx(30.0 - 6.0 * np.exp(-3e-5 * 30 * HOUR), abs=1e-6)
    assert crossed[0, 0] == pytest.approx(np.log(6.0 / 4.0) / 3e-5, abs=0.3)


@BOTH
def test_at_the_same_surface_a_larger_tank_cools_slower(solved):
    times = []
    for volume in (5.0, 10.0, 20.0):
        made = tank(volume, warmth=3e-4, room=15.0)
        made.limit("tank", "temperature", 20.0, False)
        structure, batch = begun(made)
        times.append(solved(structure, batch, 72.0)[0][0, 0])
    assert times[0] < times[1] < times[2]
    assert times[1] / times[0] == pytest.approx(2.0, rel=1e-4)


@BOTH
def test_a_tank_drains_through_a_hole_as_the_root_of_its_head(solved):
    made = tank(10.0)
    made.way("hole", "tank", "", tables.PORT, scale=4e-4, level=1.0, band=1e-7)
    made.limit("tank", "level", 3.0, False)
    structure, batch = begun(made)
    crossed, _, volume = solved(structure, batch, 2.5)
    assert crossed[0, 0] == pytest.approx((3.0 - np.sqrt(2.0)) * 2.0 / 4e-4, abs=0.3)
    assert volume[0, 0] == pytest.approx(1.0 + (3.0 - 0.5 * 4e-4 * 2.5 * HOUR) ** 2, abs=1e-5)


@BOTH
def test_a_tank_over_its_crest_runs_down_without_end(solved):
    made = tank(10.0)
    made.way("crest", "tank", "", tables.SPILL, scale=2e-3, level=8.0)
    structure, batch = begun(made)
    _, _, volume = solved(structure, batch, 3.0)
    assert volume[0, 0] == pytest.approx(8.0 + (2.0**-0.5 + 1e-3 * 3 * HOUR) ** -2, abs=1e-5)


@BOTH
def test_a_stuck_top_up_dilutes_as_the_water_it_brings(solved):
    made = tank(10.0)
    made.way("top-up", "", "tank", tables.PUMPED, flow=0.9, outside=batches.FRESH)
    made.limit("tank", "salinity", 30.0, False)
    structure, batch = begun(made)
    crossed, x, volume = solved(structure, batch, 10.0)
    assert volume[0, 0] == pytest.approx(19.0, abs=1e-5)
    assert x[0, 1, 0] == pytest.approx(34.0 * 10.0 / 19.0, abs=1e-5)
    assert crossed[0, 0] == pytest.approx(10.0 * (34.0 / 30.0 - 1.0) / (0.9 / HOUR), abs=0.3)


@BOTH
def test_vapour_leaves_the_salt_behind(solved):
    made = tank(10.0, evaporation=2e-5)
    structure, batch = begun(made)
    _, x, volume = solved(structure, batch, 24.0)
    assert volume[0, 0] == pytest.approx(10.0 - 2e-5 * 24 * HOUR, rel=1e-6)
    assert x[0, 1, 0] * volume[0, 0] == pytest.approx(340.0, rel=1e-6)


@BOTH
def test_constant_flows_carry_salt_and_tracer_as_the_exponential_of_their_matrix(solved):
    flows = {("a", "b"): 20.0, ("b", "c"): 12.0, ("c", "a"): 12.0, ("b", "a"): 8.0}
    volumes = {"a": 6.0, "b": 25.0, "c": 9.0}
    made = batches.Plant()
    for name, volume in volumes.items():
        made.vessel(name, volume, 1.0, **(QUIET | {"decay": 3e-6, "tracer": 1e-6}))
    for (source, target), flow in flows.items():
        ops = [batches.remove("u", 0.3)] if source == "c" else []
        made.pumped(f"{source}{target}", source, target, flow, *ops, dry=1.0)
    structure, batch = begun(made, salinity=[30.0, 34.0, 36.0], tracer=[0.5, 0.0, 0.1])
    _, x, _ = solved(structure, batch, 5.0)
    names = list(volumes)
    for row, kept, decay, source in ((1, 1.0, 0.0, 0.0), (TRACER, 0.7, 3e-6, 1e-6)):
        matrix = np.zeros((4, 4))
        for (a, b), flow in flows.items():
            s, d = names.index(a), names.index(b)
            matrix[d, s] += flow / HOUR / volumes[b] * (kept if a == "c" else 1.0)
            matrix[d, d] -= flow / HOUR / volumes[b]
        matrix[[0, 1, 2], [0, 1, 2]] -= decay
        matrix[:3, 3] = [source / volumes[name] for name in names]
        first = np.append(batch.x[0, row], 1.0)
        exact = linalg.expm(matrix * 5 * HOUR) @ first
        np.testing.assert_allclose(x[0, row], exact[:3], rtol=1e-5, atol=1e-7)


@BOTH
def test_ammonia_becomes_nitrite_and_nitrate_in_a_chain_and_uses_oxygen_and_alkalinity(solved):
    # oxygen and alkalinity far above what halts it: two first-order steps in a row (Bateman)
    made = tank(10.0, first=2e-5, second=5e-5, kept=0.0)
    structure, batch = begun(made, oxygen=400.0, tan=30.0, nitrite=0.0, nitrate=100.0)
    _, x, _ = solved(structure, batch, 24.0)
    t, a, b = 24 * HOUR, 2e-5, 5e-5
    tan, nitrite = 30.0 * np.exp(-a * t), 30.0 * a / (b - a) * (np.exp(-a * t) - np.exp(-b * t))
    assert x[0, TAN, 0] == pytest.approx(tan, rel=1e-5)
    assert x[0, NITRITE, 0] == pytest.approx(nitrite, rel=1e-5)
    assert x[0, NITRATE, 0] == pytest.approx(130.0 - tan - nitrite, rel=1e-6)
    assert x[0, OXYGEN, 0] == pytest.approx(400.0 - 1.5 * (30 - tan) - 0.5 * (30 - tan - nitrite), rel=1e-6)
    assert x[0, ALKALINITY, 0] == pytest.approx(2350.0 - 2.0 * (30.0 - tan), rel=1e-7)


WATER = np.array([26.0, 33.0, 180.0, 420.0, 11.0, 2150.0, 2300.0, 20.0, 6.0, 300.0, 0.4])


def one_pass(solved, *ops):
    """Water at the end of a way from outside, from the first seconds of a tank it runs into."""
    made = tank(1000.0)
    made.way("in", "", "tank", tables.PUMPED, flow=36.0, ops=ops, outside=WATER)
    structure, batch = begun(made)
    x0, seconds = batch.x[0, :, 0], 3600.0
    _, x, volume = solved(structure, batch, seconds / HOUR)
    share = 1.0 - 1000.0 / volume[0, 0]  # of the water now that came in
    return x0 + (x[0, :, 0] - x0) / share


@BOTH
def test_machines_along_a_way_do_what_is_written_of_them(solved):
    kept = WATER.copy()
    kept[0] += 0.5
    np.testing.assert_allclose(one_pass(solved, ("p", tables.HEAT, {"kelvin": 0.5})), kept, rtol=1e-5)
    for cooling, after in ((0.5, 25.5), (5.0, 24.5)):
        held = {"setpoint": 24.5, "cooling": cooling, "warming": 1.0}
        assert one_pass(solved, ("c", tables.HOLD, held))[0] == pytest.approx(after, abs=1e-4)
    held = {"setpoint": 30.0, "cooling": 1.0, "warming": 1.5}
    assert one_pass(solved, ("c", tables.HOLD, held))[0] == pytest.approx(27.5, abs=1e-4)
    drawn = one_pass(solved, ("a", tables.AIR, {"oxygen": 3.0, "nitrogen": 11.0, "argon": 0.3}))
    np.testing.assert_allclose(drawn[2:5], [183.0, 431.0, 11.3], rtol=1e-5)
    turned = one_pass(solved, batches.bio("b", 0.4, 0.3))
    nitrite = 0.7 * (6.0 + 8.0)
    np.testing.assert_allclose(
        turned[[TAN, NITRITE, NITRATE]], [12.0, nitrite, 300.0 + 14.0 - nitrite], rtol=1e-4
    )
    assert turned[OXYGEN] == pytest.approx(180.0 - 1.5 * 8.0 - 0.5 * (14.0 - nitrite), rel=1e-4)
    assert turned[ALKALINITY] == pytest.approx(2300.0 - 16.0, rel=1e-5)


@BOTH
def test_a_column_brings_gases_towards_what_its_own_gas_would_hold_at_its_own_temperature(solved):
    pressure, warm, salt = 95000.0, 26.5, 33.0
    machine = batches.contact("g", 0.5, carbon=0.3, pressure=pressure)
    found = one_pass(solved, ("p", tables.HEAT, {"kelvin": 0.5}), machine)
    vapour = float(gases.vapour_pressure(warm, salt))
    part = (pressure - vapour) / (ATM - vapour)
    laws = (gases.oxygen_at_saturation, gases.nitrogen_at_saturation, gases.argon_at_saturation)
    for row, law, share in zip((2, 3, 4), laws, (0.5, 0.465, 0.485), strict=True):
        along = float(law(warm, salt)) * part
        assert found[row] == pytest.approx(WATER[row] + share * (along - WATER[row]), rel=1e-5)
    free = float(carbonate.co2_of(2300.0, 2150.0, warm, salt))
    level = float(dissociation.constants(warm, salt).solubility) * 1e6 / ATM * (pressure - vapour) * 520e-6
    assert found[CARBON] == pytest.approx(2150.0 - 0.3 * (free - level), rel=1e-6)
    assert pytest.approx(0.99964) == OXYGEN_IN_AIR + NITROGEN_IN_AIR + ARGON_IN_AIR


@BOTH
def test_the_surface_takes_up_carbon_dioxide_until_the_air_of_the_hall_is_reached(solved):
    made = tank(1.0, velocity=1e-3, acid=60.0)
    structure, batch = begun(made)
    _, x, _ = solved(structure, batch, 400.0)
    free = float(carbonate.co2_of(x[0, ALKALINITY, 0], x[0, CARBON, 0], 24.0, 34.0))
    held = float(dissociation.constants(24.0, 34.0).solubility) * 1e6 / ATM * 60.0
    assert free == pytest.approx(held, rel=1e-3)


@BOTH
def test_light_of_a_day_warms_and_makes_oxygen_as_its_curve_holds(solved):
    made = tank(10.0, lamps=2e-4 * batches.HEAT, photo=0.02 / batches.MOLE)
    made.day = (13.0, 0.2, 0.4, 1.0, 0.0, 0.0, 0.0, 0.0)
    structure, batch = begun(made)
    _, x, _ = solved(structure, batch, 48.0)
    hours = np.linspace(0.0, 24.0, 200_001)[:-1]
    u = np.clip((np.cos(2 * np.pi * (hours - 13.0) / 24.0) - 0.2) / 0.4, 0.0, 1.0)
    light = float(np.mean(u * u * (3 - 2 * u))) * 48 * HOUR
    assert x[0, 0, 0] == pytest.approx(24.0 + 2e-5 * light, rel=1e-5)
    assert x[0, OXYGEN, 0] == pytest.approx(212.0 + 2e-3 * light, rel=1e-5)
    assert x[0, CARBON, 0] == pytest.approx(2080.0 - 2e-3 * light, rel=1e-5)


def test_the_peers_constants_are_those_of_science():
    chance = np.random.default_rng(3)
    warm, salt = chance.uniform(2.0, 35.0, (9, 4)), chance.uniform(1.0, 42.0, (9, 4))
    found, told = water.Known(warm, salt), dissociation.constants(warm, salt)
    for name in ("first", "boric", "water", "fluoride", "free_to_total"):
        np.testing.assert_allclose(getattr(found, name), getattr(told, name), rtol=1e-11)
    np.testing.assert_allclose(found.soluble, told.solubility, rtol=1e-11)
    np.testing.assert_allclose(found.sulphuric, told.bisulphate, rtol=1e-11)
    np.testing.assert_allclose(found.product, told.first * told.second, rtol=1e-11)
    np.testing.assert_allclose(found.vapour, gases.vapour_pressure(warm, salt), rtol=1e-11)
    laws = (gases.oxygen_at_saturation, gases.nitrogen_at_saturation, gases.argon_at_saturation)
    np.testing.assert_allclose(found.held, [law(warm, salt) for law in laws], rtol=1e-11)
    np.testing.assert_allclose(water.density(warm, salt), seawater.density(warm, salt), rtol=1e-12)
    log = water.hydrogen(
        np.full(warm.shape, 2300.0),
        np.full(warm.shape, 2100.0),
        found.part(slice(None)),
        np.full((9, 1), -18.0),
    )
    np.testing.assert_allclose(-log / np.log(10.0), carbonate.ph_of(2300.0, 2100.0, warm, salt), rtol=1e-11)


def test_the_peers_jacobian_names_every_coupling_also_where_a_sump_is_low():
    structure, batch, _ = batches.twelve()
    frame = peer.Frame(structure)
    chance = np.random.default_rng(7)
    for scenario, low in ((0, 1.0), (11, 1.0), (15, 0.25), (120, 0.3)):
        rates = peer.Phase(
            frame, batch.way[scenario, 1], batch.op[scenario, 1], batch.place[scenario, 1], 18.0
        )
        volume = batch.volume[scenario] * np.where(np.arange(12) < 2, low, chance.uniform(0.9, 1.02, 12))
        y = np.concatenate(((batch.x[scenario] * chance.uniform(0.97, 1.03, (11, 12))).ravel(), volume))
        found = rates.jacobian(0.0, y)
        moved = np.repeat(y[:, None], len(y) + 1, axis=1)
        step = 1e-7 * np.maximum(np.abs(y), rates.scale)
        moved[np.arange(len(y)), np.arange(len(y))] += step
        rise = rates(0.0, moved)
        whole = (rise[:, :-1] - rise[:, -1:]) / step
        np.testing.assert_allclose(found, whole, rtol=1e-5, atol=1e-7 * np.abs(whole).max())

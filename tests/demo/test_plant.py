"""The invented loop: sources raise gas, the column lowers it, and the grid comes to the steady state."""

import numpy as np
import pytest

from brinehouse.demo import plant, water

LOOP = plant.Loop(column=0.57, churn=5.5, fall=10.0, warming=2.5)


def run(inject, column, steps=1500):
    flat = np.ones(steps)
    forces = plant.Forces(
        inject={"nitrogen": inject * flat},
        columns={"nitrogen": column * flat},
        churn=5.5 * flat,
        fall=10.0 * flat,
        eaten=0.0 * flat,
        light=0.0 * flat,
        shares={"nitrogen": 1.0},
    )
    return plant.loop_gas(LOOP, forces, "nitrogen", 550.0 * flat, 25.4 * flat, 34.2 * flat)


def test_air_drawn_in_raises_every_place_and_the_column_lowers_them():
    usual, leak, bare = LOOP.steady(0.0, 0.57), LOOP.steady(15.0, 0.57), LOOP.steady(0.0, 1.0)
    assert all(leak[place] > usual[place] for place in usual)
    assert bare["mangrove"] > usual["mangrove"] + 2.0
    assert leak["m-supply"] - usual["m-supply"] > leak["mangrove"] - usual["mangrove"]


def test_after_a_long_while_the_grid_stands_at_the_steady_state():
    series, steady = run(15.0, 0.57), LOOP.steady(15.0, 0.57)
    for place, excess in steady.items():
        assert series[place][-1] - 550.0 == pytest.approx(excess, abs=0.05)


def test_the_tap_feels_a_start_at_once_and_mangrove_within_hours():
    flat = np.ones(300)
    on = np.where(np.arange(300) >= 100, 15.0, 0.0)
    forces = plant.Forces(
        inject={"nitrogen": on}, columns={"nitrogen": 0.57 * flat}, churn=0 * flat, fall=0 * flat,
        eaten=0 * flat, light=0 * flat,
    )  # fmt: skip
    series = plant.loop_gas(LOOP, forces, "nitrogen", 550.0 * flat, 25.4 * flat, 34.2 * flat)
    before, soon = {p: s[99] for p, s in series.items()}, {p: s[101] for p, s in series.items()}
    assert soon["m-supply"] - before["m-supply"] > 14.0
    assert soon["mangrove"] - before["mangrove"] < 5.0
    assert series["mangrove"][130] - before["mangrove"] > 10.0


def test_figures_of_water_in_balance_are_a_hundred():
    free = water.dry(725.0, 25.4, 34.0)
    shown = plant.figures(0.2095 * free, 0.7901 * free, np.float64(725.0), np.float64(25.4), np.float64(34.0))
    for name in ("oxygen %", "nitrogen %", "tgp"):
        assert shown[name] == pytest.approx(100.0, abs=0.12)


def test_temperature_swings_by_the_day_and_the_kelp_chiller_is_off_one_night():
    hours = np.arange(0.0, 24.0 * 90.0, plant.STEP)
    found = plant.temperatures(np.random.default_rng(1), hours, np.mod(hours + 6.0, 24.0))
    assert set(found) == set(plant.PLACES)
    assert found["kelp"].max() - np.median(found["kelp"]) > 1.2
    assert np.ptp(found["mangrove"]) < 2.5

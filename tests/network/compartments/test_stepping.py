"""Water in time, against closed forms, the matrix exponential and a general solver of equations."""

import numpy as np
import pytest
from scipy import integrate, linalg
from tests.network.compartments import plants

from brinehouse.network.compartments import conditions, plant, stepping

TRACER = plant.AT["tracer"]


def test_two_tanks_in_a_loop_share_what_one_was_given_as_the_closed_form_says():
    # TRN-two: Q 40, V 50/80, C0 1/0, t 1 h; computed: closed form = expm
    model = plants.made(plants.loop(), plants.shut("ab"))
    run = model.transient(1.0, {"a": {"tracer": 1.0}}, rtol=1e-8)
    assert run.values("a", "tracer")[-1] == pytest.approx(0.5523272572517001, abs=1e-7)
    assert run.values("b", "tracer")[-1] == pytest.approx(0.2797954642176875, abs=1e-7)


def test_a_tank_washes_out_as_the_exponential_says():
    # TRN-washout: textbook; C/C0 after 1 and 2 turnovers
    house = plants.loop()
    swap = {"a": conditions.Exchange(flow=50.0 / 3600.0)}
    told = plants.shut("ab", exchange=swap)
    model = plants.model.build(house, {"out": 0.0, "back": 0.0}, told)
    for hours, left in ((1.0, 0.36787944117144233), (2.0, 0.1353352832366127)):
        run = model.transient(hours, {"a": {"tracer": 1.0}}, rtol=1e-7)
        assert run.values("a", "tracer")[-1] == pytest.approx(left, abs=1e-6)


def test_a_pipe_is_a_row_of_mixed_cells_and_delays_what_passes():
    # TRN-tis (Levenspiel): F(theta=1) of n tanks in series; here n is the number of cells of a pipe
    pipe = 'length = "1000 m"\ndiameter = "0.2 m"'
    house = plants.loop(through=pipe, tank="100000 m3", sump="100000 m3")
    model = plants.made(house, plants.shut("ab"))
    delay = 1000.0 * np.pi * 0.01 / (40.0 / 3600.0)
    start = {"a": {"tracer": 0.0}, "b": {"tracer": 1.0}}
    cells = stepping.with_pipes(model.plant)
    cells.start[TRACER] = 0.0
    cells.start[TRACER, 1] = 1.0
    course = stepping.run(cells, delay, rtol=1e-6)
    count = stepping.building.CELLS
    last = course.places.index(f"back#1.{count - 1}")
    wanted = 1.0 - np.exp(-count) * sum(count**k / np.prod(np.arange(1.0, k + 1)) for k in range(count))
    assert course.x[-1, TRACER, last] == pytest.approx(wanted, abs=2e-4)  # tanks of 100000 m³ hardly change
    assert start["b"]["tracer"] == 1.0


def test_medicine_in_a_loop_follows_the_matrix_exponential():
    told = plants.shut("ab", decay=1e-5, tracer={"a": 0.02})
    model = plants.made(plants.loop(), told)
    run = model.transient(30.0, {"a": {"tracer": 1.0}}, rtol=1e-7)
    flow, volumes = 40.0 / 3600.0, np.array([50.0, 80.0])
    matrix = np.array([[-flow, flow], [flow, -flow]]) / volumes[:, None] - 1e-5 * np.eye(2)
    whole = np.zeros((3, 3))
    whole[:2, :2], whole[:2, 2] = matrix, np.array([0.02, 0.0]) / volumes
    wanted = linalg.expm(whole * 30.0 * 3600.0) @ np.array([1.0, 0.0, 1.0])
    got = [run.values(place, "tracer")[-1] for place in "ab"]
    assert got == pytest.approx(wanted[:2].tolist(), rel=1e-6)


def busy():
    house = plants.loop(
        extra='[[animals]]\nat = "a"\nspecies = "mullet"\nmass = "20 kg"\ncount = 100\n',
        tank="5 m3", sump="3 m3", flow="6 m3/h",
    )  # fmt: skip
    told = conditions.Conditions(
        feed={"a": conditions.Feed(rate=0.3 / 86400)}, nitrifying={"b": (2e-3, 3e-3)},
        exchange={"b": conditions.Exchange(flow=2e-5)}, tracer={"a": 1e-4}, decay=1e-6,
        alkalinity_kept=False, photosynthesis={"a": 1e-5}, light={"a": 200.0}, **{
            key: value for key, value in plants.QUIET.items() if key != "alkalinity_kept"
        },
    )  # fmt: skip
    return plants.made(house, told)


def test_a_busy_plant_follows_a_general_solver():
    model = busy()
    run = model.transient(4.0)
    stepper = stepping.Stepper(model.plant, 1e-6)
    shape = model.plant.start.shape
    volumes = model.plant.transport.volumes

    def slope(_time, flat):
        return (stepper.rates(flat.reshape(shape))[0] / volumes).ravel()

    peer = integrate.solve_ivp(
        slope, (0.0, 4 * 3600.0), model.plant.start.ravel(), method="LSODA", rtol=1e-7, atol=1e-7
    )
    wanted = peer.y[:, -1].reshape(shape)
    off = np.abs(run.course.x[-1] - wanted) / (np.abs(wanted) + 0.01 * stepping.settling.SCALE[:, None])
    assert float(off.max()) < 1e-4


def test_a_long_run_ends_where_the_steady_state_is():
    model = busy()
    still = model.steady()
    run = model.transient(24.0 * 400)
    for place in model.places:
        for species in ("temperature", "oxygen", "nitrogen", "tan", "nitrite"):
            want = still.x[plant.AT[species], model.places.index(place)]
            assert run.values(place, species)[-1] == pytest.approx(want, rel=1e-4, abs=1e-6)


def test_the_ledger_of_a_busy_plant_closes_and_names_lost_bubbles():
    run = busy().transient(3.0)
    assert run.ledger.closes
    assert run.ledger.worst < 1e-12
    assert run.ledger.terms["nitrogen"]["bubbles lost"] < 0.0
    assert run.ledger.terms["oxygen"]["animals"] < 0.0


@pytest.mark.parametrize("word", ["surface", "animals", "nitrification", "light"])
def test_a_term_left_out_of_the_equations_is_seen_by_the_ledger(monkeypatch, word):
    model = busy()
    true = stepping.Stepper.rates

    def forgetful(self, x):
        rates, terms = true(self, x)
        terms = terms.copy()
        terms[stepping.ledger.NAMES.index(word)] = 0.0
        return rates, terms

    monkeypatch.setattr(stepping.Stepper, "rates", forgetful)
    assert not model.transient(2.0).ledger.closes


def test_the_method_is_of_fourth_order_by_its_own_conditions():
    # Hairer and Wanner (1996), Solving ODEs II: order conditions up to four
    size = len(stepping.TIMES)
    a = np.zeros((size, size))
    for row, weights in enumerate(stepping.STAGES):
        a[row, : len(weights)] = weights
    b, c = a[-1], np.array(stepping.TIMES)
    assert np.allclose(a.sum(axis=1), c)
    wanted = {1: b.sum(), 2: 2 * b @ c, 3: 3 * b @ c**2, 4: 6 * b @ a @ c, 5: 4 * b @ c**3}
    more = {6: 8 * (b * c) @ a @ c, 7: 12 * b @ a @ c**2, 8: 24 * b @ a @ a @ c}
    assert all(value == pytest.approx(1.0, abs=1e-12) for value in (wanted | more).values())


def test_a_sump_that_nothing_tops_up_runs_dry_and_the_run_ends_there():
    model = plants.made(
        plants.loop(sump="0.5 m3"), plants.shut("ab", evaporation={"a": 0.05, "b": 0.0}, top_up=False)
    )
    run = model.transient(48.0)
    assert run.course.dry == ("b",)
    assert run.hours[-1] < 48.0
    assert any(one.code == "compartments/runs-dry" for one in run.findings)
    assert run.ledger.closes
    assert run.values("b", "level")[-1] < 0.02


def test_a_run_that_needs_too_many_steps_is_told(monkeypatch):
    monkeypatch.setattr(stepping, "MOST_STEPS", 3)
    run = busy().transient(48.0)
    assert "compartments/cut-short" in {one.code for one in run.findings}

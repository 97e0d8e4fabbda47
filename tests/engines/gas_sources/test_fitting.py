"""The fit against a general least-squares solver, a slip of the pen, and what is assumed."""

import dataclasses

import numpy as np
import pytest
import small_plant
from scipy import optimize

from brinehouse.engines.gas_sources import case as cases
from brinehouse.engines.gas_sources import fitting, loop


def parts(**how):
    given = small_plant.given(**how)
    lay = loop.of(given.facility, given.system, given.flows, ())
    return given, lay, cases.of(given, lay)


def test_the_fit_is_the_one_a_general_least_squares_solver_finds():
    given, lay, case = parts(count=40)
    leak = fitting.Leak(pump="P-2", group="return", since=-500.0)
    fit = fitting.solve(given, lay, case, leak, rounds=12, learn=False)
    mean = np.array([p.mean for p in fit.parameters])
    sd = np.array([p.sd for p in fit.parameters])
    white = np.linalg.inv(np.linalg.cholesky(fit.error))

    def misfit(scaled):
        theta = mean + sd * scaled
        left = case.seen - fitting.predict(case, fitting.named(fit.parameters, theta), leak)
        return np.concatenate([white @ left, scaled])

    peer = optimize.least_squares(misfit, np.zeros(mean.size), xtol=1e-12, ftol=1e-12)
    ours = misfit((fit.theta - mean) / sd)
    assert 0.5 * float(ours @ ours) == pytest.approx(peer.cost, rel=2e-3)
    at = [p.name for p in fit.parameters].index("leak")
    spread = float(np.sqrt(fit.covariance[at, at]))
    assert fit.theta[at] == pytest.approx(mean[at] + sd[at] * peer.x[at], abs=0.2 * spread)


def test_a_slip_of_the_pen_does_not_steer_the_fit():
    given, lay, _ = parts()
    odd = list(given.samples)
    odd[30] = dataclasses.replace(odd[30], delta_p=odd[30].delta_p + 90.0)
    case = cases.of(dataclasses.replace(given, samples=tuple(odd)), lay)
    leak = fitting.Leak(pump="P-2", group="return", since=-500.0)
    fit = fitting.solve(given, lay, case, leak)
    assert fit.slips[30] > 1.0
    clean = fitting.solve(given, lay, cases.of(given, lay), leak)
    assert fit.values["leak"] == pytest.approx(clean.values["leak"], abs=2.0)


def test_what_a_meter_may_be_off_by_widens_the_answer():
    given, lay, case = parts()
    leak = fitting.Leak(pump="P-2", group="return", since=-500.0)
    sure = fitting.solve(given, lay, case, leak)
    unsure = fitting.solve(dataclasses.replace(given, offsets={"meter": 6.0}), lay, case, leak)

    def doubt(fit):
        at = [p.name for p in fit.parameters].index("zero:meter")
        return float(fit.covariance[at, at])

    assert doubt(unsure) > 4.0 * doubt(sure)


def test_every_parameter_has_a_prior_that_is_proper():
    given, lay, case = parts()
    for parameter in fitting.parameters(given, case, lay):
        assert np.isfinite(parameter.mean), parameter
        assert parameter.sd > 0.0, parameter


def test_a_new_machine_brings_a_parameter_of_its_own():
    _, lay, _ = parts()
    more = loop.with_machine(lay, "side", "new", "packed column")
    known = {"strip:column": 0.0, **{f"surface:{p}": 0.0 for p in lay.places}}
    known |= {f"{kind}:{leg.run}": 0.0 for kind in ("fall", "carried") for leg in lay.legs}
    assert [p.name for p in fitting.new_parameters(more, known)] == ["strip:new"]

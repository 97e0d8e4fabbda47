"""Losses of pipes and fittings against the published tables, and of machines by their points."""

import pytest
from fluids import fittings

from brinehouse.facility import model, plumbed
from brinehouse.network.plumbing import losses

# nominal size in inches, bore of schedule 40 pipe [m], factor: Crane TP-410 appendix A-26 (found)
ROUGH = [(1, 0.0266, 0.022), (2, 0.0525, 0.019), (4, 0.1023, 0.016), (8, 0.2027, 0.014)]


@pytest.mark.parametrize(("inches", "bore", "factor"), ROUGH)
def test_the_factor_for_full_turbulence_is_cranes(inches, bore, factor):
    assert losses.fully_rough(bore) == pytest.approx(factor, abs=0.0008), inches


def test_fittings_agree_with_the_library_of_published_fittings():
    bore = 0.1023
    gate = fittings.K_gate_valve_Crane(D1=bore, D2=bore, angle=0.0)
    globe = fittings.K_globe_valve_Crane(D1=bore, D2=bore)
    assert losses.velocity_heads([(1, "gate valve")], bore) == pytest.approx(gate, rel=0.05)
    assert losses.velocity_heads([(2, "globe valve")], bore) == pytest.approx(2 * globe, rel=0.05)


def test_every_fitting_of_the_file_has_a_loss():
    for name in plumbed.FITTINGS:
        assert losses.velocity_heads([(1, name)], 0.08) > 0


def test_a_loss_at_one_flow_grows_with_its_square():
    loss = model.Loss(points=((0.01, 1.2),))
    assert losses.of(loss, 0.005, None) == pytest.approx(0.3)
    assert losses.of(model.Loss(heads=4.0), 0.01, 0.1) == pytest.approx(0.3305, abs=1e-3)  # 4 v²/2g by hand
    assert losses.of(model.Loss(heads=4.0), 0.01, None) is None


def test_an_older_rougher_pipe_takes_more():
    smooth, rough = (losses.friction(0.01, 50.0, 0.1, eps) for eps in (7e-6, 5e-4))
    assert rough > 1.5 * smooth


def test_cold_water_is_thicker_and_takes_more():
    warm, cold = (losses.friction(0.01, 50.0, 0.1, 7e-6, nu) for nu in (0.94e-6, 1.35e-6))
    assert cold > warm

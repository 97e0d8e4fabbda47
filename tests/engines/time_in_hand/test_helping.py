"""What helps, and what does not."""

import pytest
from tests.engines.time_in_hand import still_water

from brinehouse.engines.time_in_hand import answering
from brinehouse.network.transients import effects

Effect = effects.Effect


def helps(*happens, mass=6.0, **told):
    plant = still_water.facility(mass=mass)
    work = answering.Work(still_water.asked(plant, effects={"it": happens}, **told))
    return {one.kind: one for one in work.table().rows[0].helps}, work.table().rows[0]


def test_a_valve_that_is_put_back_leaves_no_limit_to_be_crossed():
    found, row = helps(Effect("valve", "up", 0.0))
    assert found["valve"].gained == float("inf")
    assert row.helps[0].kind == "valve"
    assert row.helps[0].title == "set the hand valve of up as it was"


def test_a_stuck_top_up_is_shut_by_hand():
    found, _ = helps(Effect("top-up", "s", 1e-4))
    assert found["valve"].gained > 0.0


def test_a_chiller_that_cools_without_end_is_switched_off():
    found, row = helps(Effect("full-on", "C"))
    assert row.first.quantity == "temperature"
    assert found["stop"].title == "switch off Chiller"


def test_what_comes_too_late_is_not_offered():
    found, row = helps(Effect("stop", "D"), notice=10.0, travel=10.0)
    assert row.left < 0.0
    assert found == {}


def test_what_helps_is_counted_from_the_hour_somebody_is_there():
    soon, _ = helps(Effect("power"), notice=0.05, travel=0.05, mass=12.0)
    late, row = helps(Effect("power"), notice=0.5, travel=0.5, mass=12.0)
    assert soon["no-feed"].hours > late["no-feed"].hours > row.hours


@pytest.mark.parametrize("kind", ["power"])
def test_no_pump_is_started_without_power(kind):
    found, _ = helps(Effect(kind))
    assert "start" not in found

"""Bodies of water made ready: limits at their places, and from where they start."""

import numpy as np
import pytest
from tests.engines.time_in_hand import still_water

from brinehouse.engines.time_in_hand import preparing
from brinehouse.network.transients import tables


def test_limits_stand_in_the_tables_units_at_their_places():
    limits = '[[limit]]\nquantity = "carbon dioxide"\nact = "above 10 mg/L"\n'
    water = preparing.prepare(still_water.asked(still_water.facility(limits=limits))).courses.waters[0]
    at = [line.quantity for line in water.lines].index("co2")
    # 10 mg/L over 44.0095 g/mol and 1022.4 kg/m3 (25 °C, salinity 34): 222 µmol/kg
    assert water.structure.limit_value[at] == pytest.approx(222.0, abs=1.0)
    assert tables.QUANTITIES[water.structure.limit_quantity[at]] == "co2"
    assert bool(water.structure.limit_upper[at])


def test_every_line_of_the_answer_is_a_limit_of_the_batch_in_the_same_order():
    ready = preparing.prepare(still_water.asked())
    for water in ready.courses.waters:
        assert len(water.lines) == len(water.structure.limit_place)
        names = [water.structure.places[at] for at in water.structure.limit_place]
        assert names == [line.place for line in water.lines]


def test_from_now_the_readings_stand_over_the_balance():
    asked = still_water.asked(known={"t": {"temperature": 26.5, "oxygen": 6.0}})
    water = preparing.prepare(asked).courses.waters[0]
    t, s = water.body.home["t"], water.body.home["s"]
    assert water.x[0, t] == 26.5
    assert water.x[0, s] != 26.5
    assert water.clock == 20.0


def test_the_worst_hour_is_the_one_nearest_to_a_limit_of_a_day_without_failure():
    easy = preparing.prepare(still_water.asked(begin="worst")).courses.waters[0]
    ready = preparing.prepare(still_water.asked(begin="worst"))
    assert ready.start.clock == easy.clock
    assert preparing.clock(ready.start.clock) in ready.start.text
    assert " at Tank is then" in ready.start.text or " at Sump is then" in ready.start.text


def test_the_worst_hour_does_not_hang_on_the_hour_at_which_it_is_asked():
    one, two = (preparing.prepare(still_water.asked(begin="worst", clock=hour)) for hour in (3.0, 15.0))
    assert one.start == two.start
    assert np.array_equal(one.courses.waters[0].x, two.courses.waters[0].x)

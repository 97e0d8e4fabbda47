"""The invented facilities of these tests are sound, varied, and the same each time."""

import pytest
from tests.engines.time_in_hand import facilities

from brinehouse.facility import reading


@pytest.mark.parametrize("seed", facilities.SEEDS)
def test_each_passes_every_check_without_a_word(seed):
    assert [str(one) for one in reading.read(facilities.generated(seed)).findings] == []
    assert facilities.generated(seed) == facilities.generated(seed)


def test_they_differ_in_tanks_systems_and_in_what_is_told():
    halls = [reading.read(facilities.generated(seed)).facility for seed in facilities.SEEDS]
    assert {len(hall.tanks) for hall in halls} == set(range(2, 11)) | {12}
    curves = [any(pump.curve for pump in hall.pumps.values()) for hall in halls]
    assert curves == [seed % 2 == 1 for seed in facilities.SEEDS]


def test_the_first_tells_of_flows_only():
    hall = reading.read(facilities.generated(0)).facility
    assert all(run.flow for run in hall.runs.values())
    assert not any(pump.curve or pump.elevation or pump.power for pump in hall.pumps.values())
    assert not any(place.depth or place.surface or place.elevation for place in hall.places)
    assert not hall.boards

import inspect

import numpy as np
import pytest

from brinehouse.science import (
    barometer,
    bubbles,
    carbonate,
    dissociation,
    excess,
    exchange,
    gases,
    gases_by_author,
    heat,
    nitrogen,
    ranges,
    respiration,
    seawater,
    total_gas,
)

MODULES = (
    barometer, bubbles, carbonate, dissociation, excess, exchange, gases, gases_by_author, heat, nitrogen,
    respiration, seawater, total_gas,
)  # fmt: skip
RELATIONS = {
    name: function
    for module in MODULES
    for name, function in inspect.getmembers(module, inspect.isfunction)
    if function.__module__ == module.__name__ and not name.startswith("_")
}


@pytest.mark.parametrize("name", sorted(set(ranges.RANGES) & set(RELATIONS)))
def test_every_limit_is_for_an_argument_that_the_relation_has(name):
    has = set(inspect.signature(RELATIONS[name]).parameters)
    assert set(ranges.RANGES[name]) <= has
    for low, high in ranges.RANGES[name].values():
        assert low < high


def test_every_relation_has_a_range_or_says_that_it_has_none():
    silent = [
        name
        for name, function in RELATIONS.items()
        if name not in ranges.RANGES
        and not any(
            word in (function.__doc__ or "")
            for word in ("No range", "no range", "A definition", "Undoes", "As `", "as `", "Range of")
        )
    ]
    assert silent == []


def test_both_ends_belong_to_the_range():
    inside = ranges.outside("oxygen_at_saturation", temperature=[-2.0, 40.0], salinity=[0.0, 42.0])
    assert inside.tolist() == [False, False]


def test_inputs_beyond_either_end_are_marked_row_by_row():
    marks = ranges.outside("oxygen_at_saturation", temperature=[[10.0], [41.0]], salinity=[-0.1, 35.0, 43.0])
    assert marks.tolist() == [[True, False, True], [True, True, True]]


def test_a_missing_value_is_not_beyond_the_range():
    assert ranges.outside("density", temperature=np.nan, salinity=35.0).tolist() is False


def test_arguments_without_a_limit_only_lend_their_shape():
    marks = ranges.outside(
        "oxygen_partial_pressure", concentration=[1e9, 1.0], temperature=20.0, salinity=35.0
    )
    assert marks.tolist() == [False, False]


def test_a_barometer_beyond_belief_is_marked():
    assert bool(ranges.outside("total_gas_percent", delta_p=0.0, station_pressure=30.0))


def test_a_relation_that_is_not_known_is_refused():
    with pytest.raises(KeyError, match="no range is known"):
        ranges.outside("oxygen_at_saturaton", temperature=1.0)

"""Every check of the compartments fails where the fault it stands against is planted."""

import numpy as np
import pytest
from tests.network.compartments import test_devices, test_settling, test_stepping

from brinehouse.network.compartments import assembly, building, devices, stepping, transport
from brinehouse.science import exchange


def _after(where, name, change):
    """A planted fault: what a function gives is changed before it is used."""
    true = getattr(where, name)

    def spoilt(*given, **more):
        return change(true(*given, **more), *given)

    return lambda patch: patch.setattr(where, name, spoilt)


def _inner(test, **given):
    """A check over many plants, on one of them."""
    return lambda: test.hypothesis.inner_test(**given)


def _more_arrives(matrix, *_):
    return matrix + 1e-5 * np.clip(matrix, 0.0, None)


def _more_leaves(matrix, *_):
    return matrix + 1e-4 * np.diag(np.diagonal(matrix))


def _other_gas(found, self, _x, gas, setting):
    """The balance of another gas at the column."""
    slopes, offsets, surface = found
    row, other = (assembly.ROW[name] for name in (gas, "argon" if gas == "nitrogen" else "nitrogen"))
    share = self.plant.machines.effectiveness[row]
    return slopes, offsets + share * (setting.along[other] - setting.along[row]), surface


def _half_way(found, *_):
    slopes, offsets, surface = found
    return 0.5 * (1.0 + slopes), 0.5 * offsets, surface


def _wrong_way(patch):
    true = assembly.Assembly._balance

    def spoilt(self, taken, slopes, offsets, local, x):
        if "room" in local:
            rate, slope = local["room"]
            local = dict(local) | {"room": (-0.1 * rate, -0.1 * slope)}
        return true(self, taken, slopes, offsets, local, x)

    patch.setattr(assembly.Assembly, "_balance", spoilt)


def _last_favoured(local, *_):
    local.velocity[:, -1] *= 1.001
    return local


def _short_pipe(way, *_):
    return transport.replace(way, pipe=0.95 * way.pipe)


def _times(factor):
    return lambda value, *_: value * factor


MATRIX = (transport.Transport, "matrix")
WASHOUT = test_stepping.test_a_tank_washes_out_as_the_exponential_says
FAULTS = {
    "mass closes: more arrives than left": (
        _inner(test_settling.test_mass_closes_whatever_the_plant, seed=3), _after(*MATRIX, _more_arrives)),
    "ledger of a busy plant: more leaves than is told": (
        test_stepping.test_the_ledger_of_a_busy_plant_closes_and_names_lost_bubbles,
        _after(*MATRIX, _more_leaves)),
    "degasser: balance of another gas": (
        _inner(test_settling.test_a_degasser_brings_each_gas_nearer_its_own_balance_at_its_outlet,
               reach=0.8, leak=0.3), _after(assembly.Assembly, "gas", _other_gas)),
    "degasser: half of its way": (
        _inner(test_settling.test_a_degasser_brings_each_gas_nearer_its_own_balance_at_its_outlet,
               reach=0.8, leak=0.3), _after(assembly.Assembly, "gas", _half_way)),
    "temperature: the room pushes away": (
        _inner(test_settling.test_without_evaporation_and_inner_heat_temperature_stays_between_inlet_and_room,
               room=12.0, water=22.0, flow=5e-4), _wrong_way),
    "temperature: lamps nobody told of": (
        _inner(test_settling.test_without_evaporation_and_inner_heat_temperature_stays_between_inlet_and_room,
               room=21.9, water=22.0, flow=1e-4),
        _after(building.Building, "_lamps", lambda lamps, *_: lamps + 50.0)),
    "swapping: the last place is favoured": (
        test_settling.test_swapping_identical_tanks_changes_nothing,
        _after(building.Building, "local", _last_favoured)),
    "washout: a little more leaves": (WASHOUT, _after(*MATRIX, _more_leaves)),
    "two tanks: a little more leaves": (
        test_stepping.test_two_tanks_in_a_loop_share_what_one_was_given_as_the_closed_form_says,
        _after(*MATRIX, _more_leaves)),
    "tanks in series: a shorter pipe": (
        test_stepping.test_a_pipe_is_a_row_of_mixed_cells_and_delays_what_passes,
        _after(transport, "_way", _short_pipe)),
    "medicine: more put in than told": (
        test_stepping.test_medicine_in_a_loop_follows_the_matrix_exponential,
        _after(building.Building, "_by_place", _times(1.001))),
    "pump heat: each pump twice": (
        test_settling.test_pump_power_warms_a_loop_by_its_power_over_what_the_water_holds,
        _after(devices.Fitting, "pumps_of", lambda names, *_: names * 2)),
    "dilution: more put in than told": (
        test_settling.test_water_changed_dilutes_what_is_fed_in_to_input_over_exchange,
        _after(building.Building, "_by_place", _times(1.001))),
    "first-order ammonia: held back": (
        test_settling.test_ammonia_in_a_filter_settles_at_what_comes_over_what_turns_it,
        _after(assembly.Assembly, "_allowed", lambda both, *_: (0.99 * both[0], 0.99 * both[1]))),
    "flow-through gas: exchange too quick": (
        test_settling.test_gas_in_a_tank_run_through_is_the_flow_through_form,
        _after(exchange, "transfer_coefficient", _times(1.01))),
    "evaporation: none counted": (
        test_settling.test_water_that_evaporates_and_is_not_replaced_has_no_steady_salinity,
        _after(building.Building, "evaporated", lambda lost, *_: dict.fromkeys(lost, 0.0))),
    "top-up: too little": (
        test_settling.test_topped_up_water_keeps_its_salt,
        _after(building.Building, "_need", _times(0.99))),
    "runs dry: no evaporation": (
        test_stepping.test_a_sump_that_nothing_tops_up_runs_dry_and_the_run_ends_there,
        _after(building.Building, "evaporated", lambda lost, *_: dict.fromkeys(lost, 0.0))),
    "dosing: alkalinity given where none is": (
        test_settling.test_alkalinity_that_runs_out_is_said,
        _after(assembly.Assembly, "dosing", lambda given, *_: given + 50.0)),
    "dosing: what is put into a closed tank is forgotten": (
        test_settling.test_a_tank_by_itself_keeps_its_tracer_and_one_that_is_dosed_has_no_rest,
        _after(building.Building, "_by_place", _times(0.0))),
    "oxygen runs out: animals that do not breathe": (
        test_settling.test_oxygen_that_runs_out_is_said_and_never_negative,
        _after(assembly.Assembly, "breathing", _times(0.0))),
    "shorter run: no air drawn in": (
        test_settling.test_a_tank_on_a_shorter_run_reads_about_a_point_higher_because_less_stands_between_it_and_the_source,
        lambda patch: patch.setattr(devices.Fitting, "_leak", lambda *_: None)),
    "time to rest: eigenvalues of another plant": (
        test_settling.test_time_to_rest_by_eigenvalues_is_that_of_the_run,
        _after(np.linalg, "eigvals", _times(1.3))),
    "the method: one weight wrong": (
        test_stepping.test_the_method_is_of_fourth_order_by_its_own_conditions,
        lambda patch: patch.setattr(stepping, "TIMES", (1 / 4, 3 / 4, 11 / 20, 0.51, 1.0))),
    "leak: more of the bubble dissolves": (
        lambda: test_devices.test_air_drawn_in_raises_gases_as_the_science_floor_says(0.6),
        _after(devices, "dissolved_shares", lambda both, *_: (1.02 * both[0], 1.02 * both[1]))),
    "leak: lost bubbles are forgotten": (
        test_devices.test_what_does_not_dissolve_is_lost_and_nothing_else,
        _after(devices.Fitting, "_leak", lambda _none, self, *_: self.rows.lost.fill(0.0))),
    "fall: twice the depth": (
        test_devices.test_air_carried_under_can_lift_gas_no_higher_than_its_depth_allows,
        lambda patch: patch.setattr(devices, "GRAVITY", 2.0 * devices.GRAVITY)),
}  # fmt: skip


@pytest.mark.parametrize("name", list(FAULTS))
def test_a_planted_fault_is_seen_by_its_check(monkeypatch, name):
    check, plant_it = FAULTS[name]
    plant_it(monkeypatch)
    with pytest.raises(AssertionError):
        check()

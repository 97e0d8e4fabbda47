"""Stated flows as they stand, omitted ones from balances, and what nothing tells named."""

import importlib.resources

import numpy as np
import pytest

from brinehouse import findings
from brinehouse.facility import reading
from brinehouse.network import flows

M3H = 1 / 3600.0

HALL = """\
schema = 1
[facility]
name = "Small hall"
timezone = "Europe/London"
[tank.reef]
volume = "26 m3"
[tank.side]
volume = "1 m3"
[sump.basin]
volume = "5 m3"
[pump.P-1]
flow = "20 m3/h"
[pump.P-2]
flow = "20 m3/h"
[duty.return]
pumps = ["P-1", "P-2"]
keep = 2
[run.supply]
from = "basin"
through = ["return"]
to = "reef"
flow = "18 m3/h"
[run.overflow]
from = "reef"
to = "basin"
{overflow}
[run.fall]
from = "reef"
to = "side"
flow = "6 m3/h"
[run.back]
from = "side"
to = "basin"
{back}
"""


def hall(overflow='flow = "12 m3/h"', back='flow = "6 m3/h"', more=""):
    text = HALL.replace("{overflow}", overflow).replace("{back}", back) + more
    checked = reading.read(text)
    assert checked.facility is not None, [str(found) for found in checked.findings]
    return checked.facility


def example(name, package):
    text = importlib.resources.files(package).joinpath(name).read_text("utf-8")
    facility = reading.read(text).facility
    assert facility is not None
    return facility


def test_stated_flows_stand_as_they_were_stated():
    found = flows.stated(hall())
    assert found.flows["supply"] == pytest.approx(18 * M3H)
    assert found.basis["supply"] == "stated"
    assert found.u["supply"] == pytest.approx(0.05 * 18 * M3H)  # common practice, no source
    assert not found.findings
    assert not found.unknown


def test_an_omitted_flow_follows_from_the_balances():
    found = flows.stated(hall(overflow="", back=""))
    assert found.flows["overflow"] == pytest.approx(12 * M3H)
    assert found.flows["back"] == pytest.approx(6 * M3H)
    assert found.basis["overflow"] == "balance"
    assert found.u["back"] > 0


def test_what_the_balances_do_not_tell_is_named_and_left_out():
    more = '[run.drain]\nfrom = "reef"\nto = "basin"\n'
    found = flows.stated(hall(overflow="", more=more))
    assert set(found.unknown) == {"overflow", "drain"}
    assert "drain" not in found.flows
    assert {one.code for one in found.findings} == {"flows/not-determined"}
    assert all(one.hint and one.code in findings.codes() for one in found.findings)


def test_a_flow_that_would_run_backwards_is_asked_about():
    found = flows.stated(hall(overflow="", more='[run.more]\nfrom="reef"\nto="basin"\nflow="30 m3/h"\n'))
    assert [one.code for one in found.findings] == ["flows/backwards"]


def test_with_one_of_two_pumps_everything_that_follows_is_halved():
    found = flows.stated(hall(), running={"P-1": True, "P-2": False})
    for name, flow in (("supply", 9), ("overflow", 6), ("fall", 3), ("back", 3)):
        assert found.flows[name] == pytest.approx(flow * M3H)
    assert found.pumps == {"P-1": pytest.approx(9 * M3H), "P-2": 0.0}
    assert [one.code for one in found.findings] == ["flows/in-proportion"]
    assert found.u["supply"] > 0.05 * 18 * M3H


def test_with_no_pump_no_water_moves():
    found = flows.stated(hall(), running={"P-1": False, "P-2": False})
    assert all(flow == 0.0 for flow in found.flows.values())
    assert all(u > 0 for u in found.u.values())


def test_the_demo_hall_closes_and_its_pumps_share_their_water_alike():
    facility = example("hall.toml", "brinehouse.demo")
    found = flows.stated(facility)
    gaps = flows.balances(facility).gaps(found.flows)
    assert {"mangrove", "pipefish", "estuary", "sump-m", "kelp", "sump-k", "cold-bench"} <= set(gaps)
    assert max(abs(gap) for gap in gaps.values()) < 1e-12
    assert found.pumps["P-201"] == pytest.approx(24 * M3H)


def test_a_tank_fed_by_a_hose_is_not_balanced():
    facility = example("example.toml", "brinehouse.facility")
    assert "kelp" not in flows.balances(facility).places
    assert set(flows.stated(facility).unknown) == {"kelp-back", "top-up"}


def test_closing_changes_flows_as_little_as_it_can_and_leaves_no_gap():
    facility = hall(overflow='flow = "12.3 m3/h"')
    start = flows.stated(facility).flows
    shut = flows.closed(facility, start)
    assert max(abs(gap) for gap in flows.balances(facility).gaps(shut).values()) < 1e-15
    assert np.allclose([shut[n] for n in start], [start[n] for n in start], rtol=0.03)
    assert max(abs(gap) for gap in flows.balances(facility).gaps(start).values()) > 1e-5  # and it had one

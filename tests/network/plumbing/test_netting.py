"""Runs that go on from a machine belong to the water that came to it."""

import pytest
from tests.network.transients import halls

from brinehouse.network import plumbing


def test_runs_that_part_behind_a_machine_are_computed_with_the_run_that_leads_to_it():
    layout = plumbing.stations(halls.parting(curves=True))
    assert layout.computed == {"lead", "to-a", "to-b"}
    assert layout.flows["lead"] > 0.0
    assert layout.flows["to-a"] + layout.flows["to-b"] == pytest.approx(layout.flows["lead"], abs=1e-9)
    assert "plumbing/moves-nothing" not in [one.code for one in layout.findings]


def test_what_a_machine_at_their_meeting_takes_is_counted():
    free, lost = (plumbing.stations(halls.parting(curves=True, loss=head)) for head in ("0.1 m", "2 m"))
    assert lost.flows["lead"] < free.flows["lead"]

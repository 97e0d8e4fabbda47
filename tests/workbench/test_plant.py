"""The plant as data: every run's water on its way, states as written down, nothing drawn twice."""

import dataclasses
import importlib.resources
from datetime import UTC, datetime

import pytest

from brinehouse.facility import reading
from brinehouse.workbench import plant

AT = datetime(2026, 3, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def facility():
    text = importlib.resources.files("brinehouse.demo").joinpath("hall.toml").read_text("utf-8")
    return reading.read(text).facility


def running(facility, *resting):
    return {pump: (pump not in resting, AT) for pump in facility.pumps}


def scheme(facility, id, *resting):
    look = plant.of(facility, running(facility, *resting))
    return next(one for one in look.schemes if one.id == id)


def test_every_place_and_machine_is_drawn_once_or_stands_alone(facility):
    look = plant.of(facility)
    drawn = [part.id for one in look.schemes for part in one.parts if ":" not in part.id]
    alone = [part.id for part in look.alone]
    assert len(drawn) == len(set(drawn))
    assert set(drawn) | set(alone) == {*facility.vessels, *facility.pumps, *facility.equipment}
    assert not set(drawn) & set(alone)


def test_water_that_enters_a_part_of_the_drawing_leaves_it(facility):
    for one in plant.of(facility, running(facility, "P-204", "P-302", "P-401")).schemes:
        resting = {part.id for part in one.parts if part.state == "rests"}
        pipes = [pipe for pipe in one.pipes if not {pipe.source, pipe.target} & resting]
        for part in one.parts:
            if part.id in resting:
                continue
            entering = sum(pipe.flow for pipe in pipes if pipe.target == part.id)
            leaving = sum(pipe.flow for pipe in pipes if pipe.source == part.id)
            assert entering == pytest.approx(leaving, rel=1e-9), part.id


def test_a_forgotten_pipe_would_be_seen(facility):
    one = scheme(facility, "m", "P-204")
    lame = dataclasses.replace(one, pipes=tuple(p for p in one.pipes if p.runs != ("m-side",)))
    entering = sum(p.flow for p in lame.pipes if p.target == "pipefish")
    leaving = sum(p.flow for p in lame.pipes if p.source == "pipefish")
    assert entering != pytest.approx(leaving)


def test_runs_that_share_machines_share_a_pipe(facility):
    one = scheme(facility, "m", "P-204")
    pipe = next(p for p in one.pipes if p.id == "chiller-m > uv-m")
    assert pipe.runs == ("m-supply", "m-estuary")
    assert pipe.flow == pytest.approx(64.0 / 3600.0)


def test_a_group_with_too_few_pumps_running_is_short(facility):
    (group,) = scheme(facility, "m", "P-203", "P-204").groups
    assert (group.running, group.keep, group.short) == (2, 3, True)
    (group,) = scheme(facility, "m", "P-204").groups
    assert not group.short


def test_what_nobody_wrote_down_is_not_known(facility):
    look = plant.of(facility)
    states = {part.state for one in look.schemes for part in one.parts if part.kind == "pump"}
    assert states == {"unknown"}
    assert [group.running for one in look.schemes for group in one.groups] == [None, None, None]


def test_probes_that_log_and_points_read_by_hand_have_their_letters(facility):
    one = scheme(facility, "m")
    tags = {part.id: {tag.letters: tag.points for tag in part.tags} for part in one.parts}
    assert tags["mangrove"] == {"AI": ("mangrove-low", "mangrove-rail"), "TIT": ("mangrove-probe",)}


def test_water_from_outside_and_to_outside_has_ends_of_its_own():
    text = """
schema = 1
[facility]
name = "Open Hall"
timezone = "UTC"
[tank.bay]
volume = "5 m3"
[run.intake]
from = "outside"
to = "bay"
flow = "3 m3/h"
[run.drain]
from = "bay"
to = "outside"
flow = "3 m3/h"
"""
    (one,) = plant.of(reading.read(text).facility).schemes
    assert {part.kind for part in one.parts} == {"tank", plant.INLET, plant.OUTLET}
    assert [pipe.id for pipe in one.pipes] == ["from outside:intake > bay", "bay > to outside:drain"]

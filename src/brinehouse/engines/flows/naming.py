"""Runs, places and points as a keeper calls them."""

from __future__ import annotations

from brinehouse.engines.flows import question
from brinehouse.facility import hidden, model


def named(facility: model.Facility, run: str) -> str:
    """A run by its name, or its id where it has none."""
    return facility.runs[run].name or hidden.visible(run) if run in facility.runs else hidden.visible(run)


def place_named(facility: model.Facility, place: str) -> str:
    """A place or machine by its name."""
    for shelf in (facility.vessels, facility.equipment, facility.duties, facility.pumps):
        if place in shelf:
            return shelf[place].name or hidden.visible(place)
    return hidden.visible(place)


def where(facility: model.Facility, item: question.Item) -> str:
    """Where a statement was made: its run, else the machine it was taken at."""
    return named(facility, item.run) if item.run else place_named(facility, item.key)

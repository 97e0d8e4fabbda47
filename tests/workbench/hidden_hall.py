"""The demo hall's history as a logbook would give it, for tests that look for its hidden truths."""

import functools

from brinehouse.demo import generator, truths
from brinehouse.facility import reading
from brinehouse.workbench import investigation


@functools.lru_cache(maxsize=4)
def history(seed, laws=None):
    """Facility, effective readings and facts in order of time, and the truths."""
    made = generator.generate(seed, quick=True, laws=laws or truths.Laws())
    gone = {one.supersedes for one in [*made.readings, *made.facts] if one.supersedes}
    readings = sorted((one for one in made.readings if one.id not in gone), key=lambda one: one.measured)
    facts = sorted((one for one in made.facts if one.id not in gone), key=lambda one: one.measured)
    return reading.read(made.facility_text).facility, readings, facts, made.truths


@functools.lru_cache(maxsize=4)
def examined(seed, laws=None):
    """The investigation of a seed, from its readings alone."""
    facility, readings, facts, _ = history(seed, laws)
    return investigation.examine(facility, readings, facts, as_of=truths.END)


def row(table, **wanted):
    """The first row of a table with these cells."""
    return next(one for one in table.rows if all(one[name] == value for name, value in wanted.items()))


def table(answer, name):
    """A table of an answer by its name."""
    return next(one for one in answer.tables if one.name == name)

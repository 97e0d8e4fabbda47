"""A hall with an administrator and a keeper, for tests of who may come in."""

import contextlib
from dataclasses import replace

import pytest

from brinehouse.workbench import entering, guessing, mishaps, people, sealing

PASSWORD = "brown kettle under nine ladders"
OTHER = "violet ladders in a row of jam"
PIN = "480713"
CHEAP = sealing.Cost(passes=1, memory=8, lanes=1)


@contextlib.contextmanager
def refused(code):
    """What runs inside is refused, with this code."""
    with pytest.raises(mishaps.Refused) as refusal:
        yield
    assert code in {one.code for one in refusal.value.findings}, refusal.value


def door(place, device="", address="192.0.2.9", guesses=None, replaces=""):
    """Somebody stands at the door."""
    return entering.Door(
        place=place, guesses=guesses or guessing.Guesses(), device=device, address=address, replaces=replaces
    )


def phone(place, number=1, name="phone 3"):
    """A phone that is the hall's: its number."""
    ticket = entering.by_code(
        door(place), people.device_code(place, replace(people.NOBODY, number=number)), device_name=name
    )
    return entering.device(place, ticket)["id"]


def chosen(place, number):
    """A person who has chosen a password and a PIN."""
    code = people.reset(place, number, people.OPEN)
    who = entering.who(place, entering.by_code(door(place), code).ticket)
    who = entering.who(place, entering.set_password(door(place), who, "", PASSWORD).ticket)
    entering.set_pin(place, who, PIN)
    return who

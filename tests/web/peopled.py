"""A small hall with one person of each role, for tests of who may do what."""

import contextlib
from dataclasses import dataclass, field

from brinehouse.web import app
from brinehouse.workbench import entering, guessing, people, sealing
from conftest import FIVE, visiting

PASSWORD = "brown kettle under nine ladders"
PIN = "480713"
CHEAP = sealing.Cost(passes=1, memory=8, lanes=1)
"""Hashes for tests; `test_sealing` sees that the product's own cost is another."""


@contextlib.contextmanager
def cheaply():
    """Hashes cost next to nothing while a test runs."""
    before, sealing.cost = sealing.cost, CHEAP
    yield
    sealing.cost = before


@dataclass
class Peopled:
    """The hall, a visitor to it, and who is who."""

    visitor: object
    numbers: dict = field(default_factory=dict)
    cookies: dict = field(default_factory=lambda: {"nobody": ""})

    @property
    def hall(self):
        return self.visitor.app.state.desk.hall()

    def door(self, device=""):
        return entering.Door(place=self.hall, guesses=guessing.Guesses(), device=device, address="127.0.0.1")

    def fresh(self, role, device="", kind="password"):
        """The cookie of a new session."""
        if role == "nobody":
            return ""
        ticket, act = entering._session(self.numbers[role], device, kind)
        people.do(self.hall, [act])
        return f"brinehouse={ticket}"

    def who(self, role):
        return entering.who(self.hall, self.cookies[role].partition("=")[2])

    def state(self):
        """All that a change could have touched."""
        return (
            self.hall.book.head(),
            people.everyone(self.hall),
            [(one["id"], one["ended"]) for one in people.devices(self.hall)],
            self.hall.file.read_bytes(),
        )


@contextlib.contextmanager
def visited(folder):
    """Such a hall in a folder."""
    with cheaply(), visiting(app.create_app(folder)) as visitor:
        assert visitor.post("/begin", data=FIVE).status_code == 303
        made = Peopled(visitor)
        made.numbers["administrator"] = people.first(made.hall, "Administrator Wren", PASSWORD)
        by = people.OPEN
        for role in people.ROLES[:-1]:
            number, _ = people.add(made.hall, f"{role.capitalize()} Wren", role, by)
            made.numbers[role] = number
            kept = {
                "password": sealing.hashed(PASSWORD),
                "pin": sealing.hashed(sealing.with_key(made.hall.folder, PIN)),
                "needs_change": False,
            }
            people.do(made.hall, [["change account", {"person": number, **kept}]])
        for role in people.ROLES:
            made.cookies[role] = made.fresh(role)
        yield made

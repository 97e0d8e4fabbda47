"""Who may come in, said by whoever owns the folder."""

import pytest

from brinehouse.workbench import entering, guessing, people
from brinehouse.workbench import hall as halls


@pytest.fixture
def ada(run, hall):
    said = run("people", "add", "Ada Wren", hall, "--role", "administrator", "--json")
    assert said.status == 0
    return said.json


def test_a_hall_without_people_says_so(run, hall):
    said = run("people", "list", hall)
    assert (said.status, "no people yet" in said.out) == (0, True)
    assert run("people", "list", hall, "--json").json == {"people": [], "findings": []}


def test_the_first_is_an_administrator(run, hall):
    said = run("people", "add", "Bo Tern", hall)
    assert said.status == 2
    assert "people/first-administrator" in said.err


def test_the_code_that_is_printed_lets_the_person_in(run, hall, ada):
    with halls.open_hall(hall) as place:
        door = entering.Door(place=place, guesses=guessing.Guesses())
        assert entering.by_code(door, ada["code"]).person == ada["number"]
    said = run("people", "add", "Bo Tern", hall)
    assert said.status == 0
    assert "Bo Tern is number 2" in said.out
    assert "/enter/code" in said.out


def test_roles_are_given_and_people_sent_away(run, hall, ada):
    number = run("people", "add", "Bo Tern", hall, "--json").json["number"]
    assert "Bo Tern, lead" in run("people", "role", number, "lead", hall).out
    assert run("people", "disable", number, hall, "--json").json["state"] == "may not come in"
    assert "has a code" in run("people", "disable", number, hall, "--again").out
    assert len(run("people", "reset", number, hall, "--json").json["code"]) == 11
    listed = run("people", "list", hall)
    assert listed.status == 1  # one administrator, by a password alone
    assert "people/one-administrator" in listed.out
    said = run("people", "blank", number, hall, "--reason", "asked for it")
    assert "taken out" in said.out
    assert run("people", "blank", 1, hall, "--reason", "x").status == 2
    assert [one["name"] for one in run("people", "list", hall, "--json").json["people"]] == ["Ada Wren"]
    assert run("people", "role", 99, "lead", hall).status == 2
    assert run("verify", hall).status == 0


def test_pages_leave_the_machine_only_once_there_is_an_administrator(run, hall, ada, monkeypatch):
    from brinehouse.web import serving

    asked = {}
    monkeypatch.setattr(serving, "serve", lambda folder, **told: asked.update(told) or 0)
    assert run("serve", hall, "--host", "192.0.2.7", "--name", "hall.lan", "--port", "0").status == 0
    assert asked["host"] == "192.0.2.7"
    with halls.open_hall(hall) as place:
        assert people.has_people(place)


def test_a_command_is_written_down_as_such(run, hall, ada):
    from brinehouse.workbench import door_log

    with halls.open_hall(hall) as place:
        (event,) = door_log.events(place)
    assert (event.what, event.about, event.address.split()[0]) == ("added", "Ada Wren", "command")

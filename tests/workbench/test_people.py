"""Who may come in: added, changed, sent away, and taken out by name."""

import datetime as dt

import peopled_hall as hall_of
import pytest
from peopled_hall import refused

from brinehouse.workbench import clock, door_log, entering, people, sealing


@pytest.fixture
def place(peopled_place):
    return peopled_place


ADMINISTRATOR, KEEPER = 1, 2


def test_the_first_account_is_an_administrator_s_and_made_once(hall, cheap):
    assert not people.has_people(hall)
    assert people.everyone(hall) == []
    with refused("people/password-common"):
        people.first(hall, "Ada Wren", "Password2026!")
    with refused("people/no-name"):
        people.first(hall, "  ", hall_of.PASSWORD)
    assert not people.has_people(hall)
    number = people.first(hall, "Ada  Wren", hall_of.PASSWORD)
    assert people.account(hall, number).name == "Ada Wren"
    assert people.account(hall, number).role == "administrator"
    assert people.has_people(hall)
    with refused("people/not-first"):
        people.first(hall, "Bo Tern", hall_of.PASSWORD)


def test_nobody_else_is_first(hall, cheap):
    with refused("people/first-administrator"):
        people.add(hall, "Bo Tern", "keeper", people.OPEN)
    assert not people.has_people(hall)


def test_the_store_itself_refuses_a_second_first(place):
    told = {"person": KEEPER, "role": "reader", "made": 1, "first": True}
    with refused("people/not-first"):
        people.do(place, [["add account", told]])
    with refused("people/has-account"):
        people.do(place, [["add account", {**told, "first": False}]])


def test_whether_there_is_an_administrator_is_told_of_a_folder(place, tmp_path):
    assert not people.has_administrator(tmp_path / "nowhere")
    assert people.has_administrator(place.folder)


def test_somebody_who_stands_in_the_log_by_name_keeps_the_number(place):
    number = place.person("Cy Rail")
    assert [one.name for one in people.without_account(place)] == ["Cy Rail"]
    assert people.add(place, "Cy Rail", "reader", people.OPEN)[0] == number
    assert people.without_account(place) == []
    with refused("people/has-account"):
        people.add(place, "Cy Rail", "reader", people.OPEN)
    with refused("people/no-role"):
        people.add(place, "Di Knot", "owner", people.OPEN)


def test_the_last_administrator_stays(place):
    for change in (
        lambda: people.change_role(place, ADMINISTRATOR, "lead", people.OPEN),
        lambda: people.disable(place, ADMINISTRATOR, people.OPEN),
        lambda: people.blank(place, ADMINISTRATOR, "has left", people.OPEN),
    ):
        with refused("people/last-administrator"):
            change()
    assert people.account(place, ADMINISTRATOR).role == "administrator"
    people.change_role(place, KEEPER, "administrator", people.OPEN)
    people.disable(place, ADMINISTRATOR, people.OPEN)
    assert people.account(place, ADMINISTRATOR).disabled is not None
    people.enable(place, ADMINISTRATOR, people.OPEN)
    assert people.account(place, ADMINISTRATOR).disabled is None


def test_a_name_taken_out_goes_with_all_that_lets_its_person_in(place):
    who = hall_of.chosen(place, KEEPER)
    head = place.book.head()
    with refused("people/no-reason"):
        people.blank(place, KEEPER, " ", people.OPEN)
    people.blank(place, KEEPER, "asked for it", people.OPEN)
    assert [one.number for one in people.everyone(place)] == [ADMINISTRATOR]
    with place.book._reading.connect() as connection:
        for table in ("account", "passkey", "session", "entry_code"):
            query = f"SELECT count(*) FROM {table} WHERE person = {KEEPER}"
            assert connection.exec_driver_sql(query).scalar() == 0, table
    assert place.book.verify(against=head) == []
    assert place.book.head()[0] == head[0] + 1
    assert who.name not in str(door_log.events(place))
    with refused("people/no-account"):
        people.account(place, KEEPER)


def test_a_phone_that_was_sent_away_lets_nobody_in(place):
    hall_of.chosen(place, KEEPER)
    device = hall_of.phone(place)
    ticket = entering.by_pin(hall_of.door(place, device), KEEPER, hall_of.PIN).ticket
    assert entering.who(place, ticket).device == device
    people.end_device(place, device, people.OPEN)
    assert entering.who(place, ticket) == people.NOBODY
    with refused("people/no-device"):
        people.end_device(place, device, people.OPEN)
    assert [one["ended"] is not None for one in people.devices(place)] == [True]


def test_what_a_phone_kept_is_taken_for_whoever_had_signed_in_on_it(place):
    hall_of.chosen(place, KEEPER)
    device, other = hall_of.phone(place), hall_of.phone(place, name="phone 4")
    now = clock.now()
    entering.by_pin(hall_of.door(place, device), KEEPER, hall_of.PIN)
    hour = dt.timedelta(hours=1)
    assert people.wrote(place, device, KEEPER, now + hour)
    assert people.wrote(place, device, KEEPER, now + 23 * hour)
    assert not people.wrote(place, device, KEEPER, now + 25 * hour)
    assert not people.wrote(place, device, KEEPER, now - hour)
    assert not people.wrote(place, other, KEEPER, now + hour)
    assert not people.wrote(place, device, ADMINISTRATOR, now + hour)
    assert not people.wrote(place, "", KEEPER, now + hour)
    people.disable(place, KEEPER, people.OPEN)
    assert not people.wrote(place, device, KEEPER, now + hour)


def test_what_happened_at_the_door_names_no_secret_and_cannot_be_changed(place):
    import sqlite3

    hall_of.chosen(place, KEEPER)
    with refused("people/not-let-in"):
        entering.by_password(hall_of.door(place), "Bo Tern", "a canary of a password")
    events = door_log.events(place)
    assert events[0].what == "refused"
    assert events[0].about == "Bo Tern"
    assert {"first", "added", "reset", "entered", "password", "pin"} <= {one.what for one in events}
    whole = str(events)
    for secret in ("canary", hall_of.PASSWORD, hall_of.PIN):
        assert secret not in whole
    raw = sqlite3.connect(place.folder / "logbook.sqlite")
    for statement in ("UPDATE security_event SET note = ''", "DELETE FROM security_event"):
        with pytest.raises(sqlite3.IntegrityError, match="only added to"):
            raw.execute(statement)
    raw.close()


def test_no_secret_stands_in_the_folder_as_it_was_typed(place):
    hall_of.chosen(place, KEEPER)
    place.book.house_later([]).result()
    for path in place.folder.iterdir():
        content = path.read_bytes()
        for secret in (hall_of.PASSWORD, hall_of.PIN):
            assert secret.encode() not in content, path


def test_odd_things_about_the_door_are_told(place, monkeypatch):
    def codes():
        return {one.code for one in door_log.odd(place)}

    assert codes() == {"people/one-factor", "people/one-administrator"}
    hall_of.chosen(place, KEEPER)
    hall_of.phone(place)
    key = place.folder / sealing.FILE
    key.chmod(0o644)
    assert "people/key-open" in codes()
    key.rename(key.with_suffix(".away"))
    assert "people/key-gone" in codes()
    key.with_suffix(".away").rename(key)
    monkeypatch.setattr(door_log, "REFUSED_A_DAY", 1)
    with refused("people/not-let-in"):
        entering.by_password(hall_of.door(place), "Bo Tern", "wrong")
    assert "people/many-tries" in codes()
    now = clock.now()
    clock.freeze(now + dt.timedelta(days=91))
    assert {"people/unused", "people/phone-unused"} <= codes()

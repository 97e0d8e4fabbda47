"""Who may come in, as the store keeps it: beside the chain, in the same file, under the same writer."""

import pytest
import sqlalchemy as sa

from brinehouse.logbook import house, house_tables, kept, store, tables

ACCOUNT = ["add account", {"person": 1, "role": "administrator", "made": 1, "first": True}]


def test_people_are_no_part_of_the_chain(book):
    head = book.head()
    book.house_later([ACCOUNT], {"at": 1, "what": "first", "person": 1}).result()
    assert book.head() == head
    assert book.verify() == []
    assert book.house(house.any_account)


def test_what_is_refused_leaves_nothing_and_notes_nothing(book):
    book.house_later([ACCOUNT]).result()
    demoted = ["change account", {"person": 1, "role": "reader"}]
    code = ["add code", {"id": "x", "kind": "device", "person": None, "by": 1, "until": 9}]
    with pytest.raises(kept.Refused, match="people/last-administrator"):
        book.house_later([code, demoted], {"at": 1, "what": "role"}).result()
    assert book.house(lambda c: house.code(c, "x")) is None
    assert book.house(house.events) == []


def test_a_refusal_beside_readings_of_the_same_commit_takes_nothing_with_it(book, reading):
    """Jobs that wait share a commit; one that is refused is taken back alone."""
    book.house_later([ACCOUNT]).result()
    bad = book.house_later([ACCOUNT])
    good = book.append_later([reading(1)], person=1)
    with pytest.raises(kept.Refused, match="people/not-first"):
        bad.result()
    assert good.result()[0].state == "new"
    assert book.verify() == []


def test_events_are_numbered_on_and_counted(book):
    for at in (1, 2, 3):
        book.house_later([], {"at": at, "what": "refused"}).result()
    assert [row["seq"] for row in book.house(house.events)] == [3, 2, 1]
    assert [row["seq"] for row in book.house(lambda c: house.events(c, before=3, limit=1))] == [2]
    assert book.house(lambda c: house.counted(c, 2)) == {"refused": 2}


def test_a_session_that_ended_is_kept_for_a_month_and_then_goes(book):
    book.house_later([ACCOUNT]).result()

    def begin(id, at):
        told = {"id": id, "person": 1, "kind": "pin", "begun": at, "seen": at, "until": at + 1}
        return ["begin session", {**told, "at": at, "replaces": ""}]

    book.house_later([begin("a", 1)]).result()
    book.house_later([begin("b", 2 + house.KEPT)]).result()
    assert book.house(lambda c: house.session(c, "a")) is not None
    book.house_later([begin("c", 3 + house.KEPT)]).result()
    assert book.house(lambda c: house.session(c, "a")) is None
    with pytest.raises(ValueError, match="whose"):
        book.house_later([["end sessions", {"at": 1}]]).result()


def test_every_table_but_the_events_goes_with_the_name(book):
    """A table added later that names a person is either here, or holds numbers alone."""
    about = {
        table.name
        for table in tables.metadata.tables.values()
        if "person" in table.c and table.name in _own() and table.name != "security_event"
    }
    assert about == {"account", "passkey", "session", "entry_code"}
    book.house_later([ACCOUNT]).result()
    with pytest.raises(kept.Refused, match="people/last-administrator"):
        book.blank_person(1, "x", at=store.canon.EPOCH)


def _own():
    return {one.name for one in vars(house_tables).values() if isinstance(one, sa.Table)}


@pytest.mark.parametrize(
    "statement", ["UPDATE security_event SET what = 'entered'", "DELETE FROM security_event"]
)
def test_an_event_can_neither_be_changed_nor_taken_out(book, statement):
    book.house_later([], {"at": 1, "what": "refused"}).result()
    with pytest.raises(sa.exc.DBAPIError, match="only added to"):
        book._writer.submit(lambda end: end.connection.exec_driver_sql(statement)).result()
    assert [row["what"] for row in book.house(house.events)] == ["refused"]

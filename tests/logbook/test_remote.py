"""A logbook in a database: whose it is, one writer at a time, and what is said when it is not there."""

import json
import re
import threading

import pytest
import sqlalchemy as sa

from brinehouse.logbook import belonging, kept, lock, remote, store

pytestmark = pytest.mark.part("postgresql")


@pytest.fixture
def hall(folder):
    folder.mkdir()
    return folder


def opened(database, folder=None, **more):
    return store.open_logbook(database.address, create=True, folder=folder, **more)


def refusal(*arguments, **more):
    with pytest.raises(kept.Refused) as refused:
        store.open_logbook(*arguments, **more)
    return refused.value.finding


# -- whose it is ----------------------------------------------------------------------------------------


def test_a_database_belongs_to_the_hall_that_wrote_there_first(on_server, hall, tmp_path, reading):
    with opened(on_server, hall) as book:
        book.append([reading(1)])
    with opened(on_server, hall) as book:
        assert book.readings() == [reading(1)]
        assert book.facts() == []  # the claim is an entry of the chain, and none of the hall's facts
        assert book.verify(book.head()) == []
    other = tmp_path / "other"
    other.mkdir()
    said = refusal(on_server.address, create=True, folder=other)
    assert said.code == "logbook/another-hall"
    assert on_server.server.password not in str(said.as_json())
    assert list(other.iterdir()) == []


def test_without_the_look_at_its_owner_another_hall_would_be_let_in(on_server, hall, tmp_path, monkeypatch):
    opened(on_server, hall).close()
    (tmp_path / "other").mkdir()
    monkeypatch.setattr(belonging, "check", lambda *_: True)
    opened(on_server, tmp_path / "other").close()


def test_a_hall_whose_database_was_emptied_or_mistyped_begins_no_new_logbook(on_server, hall, reading):
    with opened(on_server, hall) as book:
        book.append([reading(1)])
    on_server.empty()
    assert refusal(on_server.address, create=True, folder=hall).code == "logbook/hall-lost"
    assert on_server.ask("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'") == [(0,)]


def test_a_hall_with_its_logbook_in_a_database_begins_no_file_beside_it(on_server, hall):
    opened(on_server, hall).close()
    said = refusal(hall, create=True)
    assert said.code == "logbook/in-a-database"
    assert "BRINEHOUSE_DATABASE" in said.hint
    assert not (hall / "logbook.sqlite").exists()


def test_a_hall_with_entries_in_its_file_does_not_leave_them_behind(on_server, hall, reading):
    with store.open_logbook(hall, create=True) as book:
        book.append([reading(1)])
    assert refusal(on_server.address, create=True, folder=hall).code == "logbook/two-logbooks"
    assert not (hall / belonging.MARK).exists()
    with opened(on_server) as moved:  # as if it had been moved there
        moved.append([reading(1)])
    opened(on_server, hall).close()


@pytest.mark.parametrize("killed", ["before", "after"])
def test_a_program_killed_while_it_claims_a_database_is_forgiven(on_server, hall, monkeypatch, killed):
    class Killed(BaseException):
        pass

    def die(*_arguments):
        raise Killed

    # either the mark is written and the entry is not, or the entry is and the mark still says "claiming"
    module, name = (belonging.canon, "internal") if killed == "before" else (belonging, "settle")
    with monkeypatch.context() as dying:
        dying.setattr(module, name, die)
        with pytest.raises(Killed):
            opened(on_server, hall)
    assert belonging.mark(hall).claiming
    opened(on_server, hall).close()
    assert not belonging.mark(hall).claiming
    assert on_server.ask("SELECT count(*) FROM entry WHERE kind = 'hall-mark'") == [(1,)]


def test_a_mark_that_cannot_be_read_is_no_mark_of_a_new_hall(on_server, hall):
    opened(on_server, hall).close()
    (hall / belonging.MARK).write_text("half a li")
    assert refusal(on_server.address, create=True, folder=hall).code == "logbook/mark-unreadable"


def test_the_mark_holds_no_password(on_server, hall):
    opened(on_server, hall).close()
    text = (hall / belonging.MARK).read_text()
    assert on_server.server.password not in text
    assert re.fullmatch(r"postgresql://127\.0\.0\.1:\d+/hall", json.loads(text)["database"])


# -- one writer -------------------------------------------------------------------------------------------


def test_a_server_holds_the_databases_lock_and_the_folders(on_server, hall, tmp_path, reading):
    with opened(on_server, hall) as server:
        token = server.hold("127.0.0.1", 8750)
        assert lock.owner(hall).token == token
        server.append([reading(1)])
        with opened(on_server, wait=0.05) as command:  # from elsewhere: without the hall's folder
            with pytest.raises(kept.Busy) as busy:
                command.append([reading(2)])
            assert command.readings() == [reading(1)]
        assert "brinehouse writes, process" in busy.value.finding.text
        with (
            opened(on_server, hall, wait=0.05) as command,
            pytest.raises(kept.Busy, match=r"127\.0\.0\.1:8750"),
        ):
            command.append([reading(2)])
        assert server.append([reading(3)])[0].state == "new"
    with opened(on_server) as command:
        assert command.append([reading(2)])[0].state == "new"


def test_without_the_lock_two_programs_would_write_one_chain(on_server, reading, monkeypatch):
    monkeypatch.setattr(remote, "take", lambda *_, **__: None)
    faults = []

    def write(book, first):
        try:
            for number in range(first, first + 60):
                book.append([reading(number)])
        except kept.Refused as fault:
            faults.append(fault)
        except sa.exc.IntegrityError as fault:  # both gave the next entry the same number
            faults.append(fault)

    with opened(on_server) as one, opened(on_server) as two:
        threads = [threading.Thread(target=write, args=pair) for pair in ((one, 0), (two, 1000))]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert faults


def test_readers_of_a_database_cannot_write(on_server):
    opened(on_server).close()
    engine = remote.reading_engine(remote.normal(on_server.address))
    with engine.connect() as connection, pytest.raises(sa.exc.InternalError, match="read-only"):
        connection.exec_driver_sql("INSERT INTO person (number, name) VALUES (9, 'x')")
    engine.dispose()


def test_saved_means_on_the_disk_even_where_the_server_was_told_otherwise(on_server):
    with on_server.server.raw() as raw:
        raw.execute("ALTER DATABASE hall SET synchronous_commit = off")
    try:
        engine = remote.writing_engine(remote.normal(on_server.address))
        with engine.connect() as connection:
            assert connection.exec_driver_sql("SHOW synchronous_commit").scalar() == "on"
        engine.dispose()
    finally:
        with on_server.server.raw() as raw:
            raw.execute("ALTER DATABASE hall RESET synchronous_commit")


# -- what was written stays ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET note = note",
        "DELETE FROM aside",
        "TRUNCATE entry CASCADE",
        "TRUNCATE security_event",
    ],
)
def test_no_row_of_a_database_can_be_changed_or_taken_out(on_server, statement, reading):
    import psycopg

    with opened(on_server) as book:
        book.append([reading(1)])
        book.append([reading(1, value=2.0)])
    with pytest.raises(psycopg.errors.RaiseException, match="only added to"):
        on_server.ask(statement)


# -- what is said -------------------------------------------------------------------------------------------


def test_a_wrong_password_is_said_and_neither_is_shown(on_server):
    wrong = on_server.address.replace(on_server.server.password, "tide-table")
    said = refusal(wrong, create=True)
    assert said.code == "logbook/database-away"
    assert "tide-table" not in str(said.as_json())


def test_a_database_of_something_else_is_refused_and_left_alone(on_server):
    on_server.empty()
    on_server.behind("CREATE TABLE recipes(name text)")
    assert refusal(on_server.address, create=True).code == "logbook/not-a-logbook"
    assert on_server.ask("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'") == [(1,)]


def test_a_database_without_a_logbook_is_said(on_server):
    on_server.empty()
    assert refusal(on_server.address).code == "logbook/not-there"


def test_an_older_program_refuses_a_newer_database(on_server, hall):
    opened(on_server, hall).close()
    on_server.behind("UPDATE alembic_version SET version_num = '9999'")
    on_server.whole = False
    assert refusal(on_server.address, create=True, folder=hall).code == "logbook/newer-data"


def test_a_missing_driver_is_a_plain_finding(on_server, monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "psycopg", None)
    said = refusal(on_server.address, create=True)
    assert said.code == "logbook/no-driver"
    assert "brinehouse[postgresql]" in said.hint


# -- a commit whose answer is lost --------------------------------------------------------------------------


def lose_the_answer(book, *, committed):
    """The next commit happens, or does not, and its answer never comes."""
    import psycopg

    left = [1]

    def lose(connection):
        if left:
            left.pop()
            raw = connection.connection.driver_connection
            raw.commit() if committed else raw.rollback()
            raise sa.exc.OperationalError("COMMIT", None, psycopg.OperationalError("the server is gone"))

    sa.event.listen(book._writer._engine, "commit", lose)


def settled(book):
    book.append([])  # the connection and its lock are there: the next commit is the one that is lost
    return book


def test_a_commit_that_happened_and_could_not_say_so_is_asked_about_and_is_saved(on_server, reading):
    with opened(on_server) as book:
        book.hold()
        lose_the_answer(settled(book), committed=True)
        assert [o.state for o in book.append([reading(1)])] == ["new"]
        assert [o.state for o in book.append([reading(1)])] == ["same"]
        assert book.verify(book.head()) == []


def test_a_commit_that_did_not_happen_is_not_saved_and_the_same_may_be_sent_again(on_server, reading):
    with opened(on_server) as book:
        book.hold()
        lose_the_answer(settled(book), committed=False)
        with pytest.raises(kept.NotSaved) as refused:
            book.append([reading(1)])
        assert refused.value.finding.code == "logbook/not-saved"
        assert [o.state for o in book.append([reading(1)])] == ["new"]
        assert book.verify(book.head()) == []


def test_where_nobody_can_be_asked_it_is_said_that_it_may_be_stored_or_not(on_server, reading, monkeypatch):
    from brinehouse.logbook import writer

    monkeypatch.setattr(writer, "ASK", 0.0)
    with opened(on_server) as book:
        book.hold()
        lose_the_answer(settled(book), committed=True)
        with monkeypatch.context() as away:
            away.setattr(remote, "take", lambda *_, **__: (_ for _ in ()).throw(kept.refused("x/y", "away")))
            with pytest.raises(kept.NotSaved) as refused:
                book.append([reading(1)])
        assert refused.value.finding.code == "logbook/unconfirmed"
        assert [o.state for o in book.append([reading(1)])] == ["same"]  # asked by its id, not stored twice


def test_another_database_put_in_its_place_is_noticed(on_server, reading):
    with opened(on_server) as book:
        book.hold()
        book.append([reading(1)])
        on_server.made()  # as if an empty one had been brought back, behind the server's back
        for _ in range(2):
            with pytest.raises(kept.Refused) as refused:
                book.append([reading(2)])
        assert refused.value.finding.code == "logbook/damaged"
        assert on_server.ask("SELECT count(*) FROM entry") == [(0,)]

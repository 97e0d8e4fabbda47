"""Batches that wait share a commit; nobody hears "saved" before it."""

import pathlib
import sqlite3
import subprocess
import sys
import threading

import pytest
import sqlalchemy as sa

from brinehouse.logbook import database, kept, lock, store, writer


@pytest.fixture
def slow(book, reading):
    """A job that holds the writer until it is let go, so that others gather behind it."""
    gate, entered = threading.Event(), threading.Event()

    def facts():
        entered.set()
        gate.wait(5)
        yield reading(0)

    book.append_later(facts())
    entered.wait(5)
    yield gate
    gate.set()


def commits(book):
    """Count the commits of the writer's engine."""
    counted = []
    sa.event.listen(book._writer._engine, "commit", lambda _connection: counted.append(1))
    return counted


def test_batches_that_wait_share_one_commit(book, slow, reading):
    counted = commits(book)
    waiting = [book.append_later([reading(i)]) for i in range(1, 101)]
    assert not any(future.done() for future in waiting)
    slow.set()
    assert [future.result()[0].state for future in waiting] == ["new"] * 100
    assert len(counted) == 2
    assert book.verify() == []


def test_a_refused_batch_leaves_the_others_in_its_group_alone(book, slow, reading):
    good = [book.append_later([reading(i)]) for i in (1, 2)]
    bad = book.append_later([reading(3), reading(4, value=float("nan"))])
    more = book.append_later([reading(5)])
    slow.set()
    assert {future.result()[0].state for future in [*good, more]} == {"new"}
    assert isinstance(bad.exception(), kept.Refused)
    assert [r.id for r in book.readings()] == [reading(i).id for i in (0, 1, 2, 5)]
    assert book.verify() == []


def fail_once(book):
    """The next commit is refused by the disk, as it were."""
    failures = [1]

    def fail(_connection):
        if failures:
            failures.pop()
            raise sa.exc.OperationalError("COMMIT", None, sqlite3.OperationalError("disk I/O error"))

    sa.event.listen(book._writer._engine, "commit", fail)


def test_nothing_is_called_saved_when_the_commit_fails(book, slow, reading):
    waiting = [book.append_later([reading(i)]) for i in range(1, 11)]
    fail_once(book)
    slow.set()
    codes = [
        getattr(future.exception(), "finding", None) and future.exception().finding.code for future in waiting
    ]
    assert codes == [None] * 10
    assert len(book.readings()) == 10  # the first alone was in the group that failed
    again = book.append([reading(i) for i in range(11)])
    assert [o.state for o in again] == ["new"] + ["same"] * 10
    assert book.verify() == []


def test_a_whole_group_hears_of_a_failed_commit(book, slow, reading):
    waiting = [book.append_later([reading(i)]) for i in range(1, 11)]
    slow.set()
    waiting[0].result()
    head = book.head()
    fail_once(book)
    with pytest.raises(kept.NotSaved) as refused:
        book.append([reading(20), reading(21)])
    assert refused.value.finding.code == "logbook/not-saved"
    assert "disk I/O error" in refused.value.finding.text
    assert book.head() == head
    assert {o.state for o in book.append([reading(20), reading(21)])} == {"new"}
    assert book.verify(head) == []


def test_a_server_keeps_the_lock_through_a_failed_write(folder, reading):
    with store.open_logbook(folder, create=True) as book:
        book.hold("127.0.0.1", 8750)
        fail_once(book)
        with pytest.raises(kept.NotSaved):
            book.append([reading(1)])
        assert lock.owner(folder).port == 8750
        assert book.append([reading(1)])[0].state == "new"
    assert lock.owner(folder) is None


def test_a_chain_that_ends_where_it_may_not_stops_the_writing(folder, file_book, reading):
    book = file_book
    book.append([reading(1)])
    engine = database.writing_engine(folder / database.FILE)
    with engine.connect() as connection:
        with pytest.raises(kept.Refused, match="logbook/damaged"):
            writer._settle(connection, {(7, "f" * 64)})
        writer._settle(connection, {book.head()})
    engine.dispose()


def test_a_close_waits_for_what_was_sent(place, reading):
    book = place.open(create=True)
    waiting = [book.append_later([reading(i)]) for i in range(300)]
    book.close()
    assert all(future.done() for future in waiting)
    with place.open() as again:
        assert len(again.readings()) == 300


def test_eight_threads_write_and_read_without_hearing_of_locks(book, reading):
    faults = []

    def work(number):
        try:
            for i in range(30):
                book.append([reading(number * 1000 + i)])
                if i % 10 == 0:
                    book.readings(limit=5)
        except Exception as error:
            faults.append(error)

    threads = [threading.Thread(target=work, args=(n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert len(book.readings()) == 240
    assert book.verify(book.head()) == []


def test_eight_programs_write_without_hearing_of_locks(place, book):
    """Eight processes, each opening, writing and closing in turns: nothing lost, nothing doubled."""
    rounds = 4 if isinstance(place.where, pathlib.Path) else 1  # a server begins a program for each of them
    program = """
import os, sys
from datetime import UTC, datetime
from brinehouse import records
from brinehouse.logbook import store
now = datetime(2026, 3, 1, tzinfo=UTC)
def write(number):
    for start in range(0, int(sys.argv[2]), 5):
        with store.open_logbook(sys.argv[1], wait=60) as book:
            for i in range(start, start + 5):
                book.append([records.Reading(id=f"{number}-{i}", measured=now, entered=now, place="p",
                                             quantity="oxygen", value=1.0, unit="mg/L", text="1 mg/L")])
children = []
for number in range(8):
    children.append(os.fork())
    if children[-1] == 0:
        write(number)
        os._exit(0)
print(sum(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0 for child in children))
"""
    done = subprocess.run(
        [sys.executable, "-c", program, place.where, str(5 * rounds)],
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert (done.stdout, done.stderr) == ("8\n", "")
    assert len({r.id for r in book.readings()}) == len(book.readings()) == 40 * rounds
    assert book.verify(book.head()) == []

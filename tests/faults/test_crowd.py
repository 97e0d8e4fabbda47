"""Several programs write one logbook, long readers look at it, and copies are taken meanwhile."""

import contextlib
import json
import os
import pathlib
import shutil
import statistics
import subprocess
import sys
import threading
import time

import pytest
import sqlalchemy as sa

from brinehouse.logbook import copies, database, queries, store, tables

HERE = pathlib.Path(__file__).parent
MOST_LOG = 64 * 1024 * 1024


def crowd(folder, programs, writes, wait):
    """What so many programs met that write at once."""
    begun = [
        subprocess.Popen(
            [sys.executable, HERE / "crowd.py", folder, str(who), str(writes), str(wait)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
        )
        for who in range(programs)
    ]
    told = []
    for one in begun:
        out, err = one.communicate(timeout=300)
        assert one.returncode == 0, err.decode()[-2000:]
        told.append(json.loads(out))
    return told


def everybody_wrote(folder, harness, programs, writes):
    store.open_logbook(folder, create=True).close()
    told = crowd(folder, programs, writes, wait=120)
    saved = {one for each in told for one in each["saved"]}
    assert sum(each["busy"] for each in told) == 0
    assert len(saved) == programs * writes
    assert harness.check(folder, saved) is None
    waits = sorted(one for each in told for one in each["waits"])
    print({"p50": statistics.median(waits), "p95": waits[int(0.95 * len(waits))], "longest": waits[-1]})


def test_programs_that_write_at_once_lose_nothing_and_none_hears_of_a_lock(beside, tmp_path):
    everybody_wrote(tmp_path / "hall", beside("harness"), 4, 25)


@pytest.mark.soak
def test_eight_programs_write_twenty_thousand_entries(beside, tmp_path):
    everybody_wrote(tmp_path / "hall", beside("harness"), 8, 2_500)


def test_the_check_of_a_crowd_bites(beside, tmp_path):
    folder = tmp_path / "hall"
    with store.open_logbook(folder, create=True) as book:
        book.hold()  # somebody holds the lock for good: without waiting, every write is refused
        told = crowd(folder, 1, 3, wait=0.01)
    assert told[0]["busy"] == 3
    assert "lost" in beside("harness").check(folder, {"r0000001"})


# A long reader ------------------------------------------------------------------------------------------


def log_size(folder):
    return (folder / f"{database.FILE}-wal").stat().st_size


def written_under_a_reader(folder, harness, writes):
    """The log's size while a reader looks on, and after it has gone and some more was written."""
    with store.open_logbook(folder, create=True) as book:
        book.hold()
        book.append([harness.reading(number) for number in range(100)])
        reading = database.reading_engine(folder / database.FILE)
        with reading.connect() as connection, connection.begin():
            before = connection.execute(sa.select(sa.func.count()).select_from(tables.entry)).scalar()
            for number in range(100, 100 + writes):
                book.append([harness.reading(number)])
            under = log_size(folder)
            after = connection.execute(sa.select(sa.func.count()).select_from(tables.entry)).scalar()
        reading.dispose()
        assert before == after, "the reader sees one moment"
        for number in range(100 + writes, 400 + writes):
            book.append([harness.reading(number)])
        return under, log_size(folder)


def test_a_long_reader_does_not_stop_writers_and_the_log_stays_small(beside, tmp_path):
    under, after = written_under_a_reader(tmp_path / "hall", beside("harness"), 400)
    print({"under": under, "after": after})
    assert 0 < after <= 1.05 * under <= MOST_LOG
    with store.open_logbook(tmp_path / "alone", create=True) as book:  # the control: it is the reader
        book.hold()
        for number in range(500):
            book.append([beside("harness").reading(number)])
        assert log_size(tmp_path / "alone") < under


def read_slowly(folder, harness, look, writes):
    """The log's size after a whole logbook was read by `look` while so much was written between its rows."""
    with store.open_logbook(folder, create=True) as book:
        book.hold()
        book.append([harness.reading(number) for number in range(100)])
        seen = []
        for one in look(book):
            seen.append(one)
            for number in range(writes * (len(seen) - 1), writes * len(seen)):
                book.append([harness.reading(100 + number)])
        return seen, log_size(folder)


def of_one_moment(book):
    """The control: the same rows from one transaction."""
    with book._looking() as connection:
        yield from queries.everything(lambda: contextlib.nullcontext(connection))


def test_our_own_long_readers_let_the_log_begin_anew(beside, monkeypatch, tmp_path):
    monkeypatch.setattr(queries, "CHUNK", 10)
    seen, size = read_slowly(tmp_path / "hall", beside("harness"), store.Logbook.everything, 5)
    held, grown = read_slowly(tmp_path / "held", beside("harness"), of_one_moment, 5)
    print({"chunks": size, "one transaction": grown})
    assert [row[1].id for row in seen] == [row[1].id for row in held]
    assert len(seen) == 100, "what is written meanwhile is not in it"
    assert size < 0.6 * grown


@pytest.mark.soak
def test_a_reader_of_ten_minutes_leaves_a_log_of_bounded_size(beside, tmp_path):
    under, after = written_under_a_reader(tmp_path / "hall", beside("harness"), 5_000)
    print({"under": under, "after": after})
    assert under > MOST_LOG >= after


# Copies meanwhile ---------------------------------------------------------------------------------------


def copied_under_load(folder, harness, size, seconds):
    """Copies taken while entries come in: each holds all that was called saved before it was begun."""
    saved, ended = [], threading.Event()
    with store.open_logbook(folder, create=True) as book:
        book.hold()
        book.append([harness.reading(number) for number in range(size)])

        def work():
            number = size
            while not ended.is_set():
                saved.extend(one.id for one in book.append([harness.reading(number)]))
                number += 1
                time.sleep(0.005)

        thread = threading.Thread(target=work)
        thread.start()
        told, end = [], time.monotonic() + seconds
        try:
            while time.monotonic() < end or len(told) < 2:
                before, begun = set(saved), time.monotonic()
                copy = folder.parent / f"copy-{len(told)}"
                head = book.copy(copy)
                told.append((copy, head, before, time.monotonic() - begun))
        finally:
            ended.set()
            thread.join()
    return told, set(saved)


def ids(path):
    engine = database.reading_engine(path)
    with engine.connect() as connection:
        found = {row[0] for row in connection.execute(sa.select(tables.entry.c.id))}
    engine.dispose()
    return found


def proved(told, saved):
    for copy, head, before, took in told:
        assert copies.examine(copy, head) == []
        assert before <= ids(copy), "what was called saved before the copy was begun is in it"
        assert took <= 60.0
    assert any(saved - ids(copy) for copy, *_ in told), "entries came in while copies were taken"


def test_copies_taken_under_load_are_of_one_moment_and_hold_what_was_saved_before(beside, tmp_path):
    told, saved = copied_under_load(tmp_path / "hall", beside("harness"), 1_000, 0.5)
    proved(told, saved)
    begun = time.monotonic()
    back = tmp_path / "back"
    back.mkdir()
    shutil.copy(told[-1][0], back / database.FILE)
    with store.open_logbook(back) as book:
        assert book.head() == told[-1][1]
    print({"restore": time.monotonic() - begun, "copies": len(told)})


@pytest.mark.soak
def test_copies_of_a_hundred_thousand_readings_under_load(beside, tmp_path):
    proved(*copied_under_load(tmp_path / "hall", beside("harness"), 100_000, 60.0))


def test_the_check_of_copies_bites(beside, tmp_path):
    """A file copied as files are copied does not hold what was saved: the check must see that."""
    harness, folder = beside("harness"), tmp_path / "hall"
    with store.open_logbook(folder, create=True) as book:
        book.append([harness.reading(number) for number in range(100)])
    with store.open_logbook(folder) as book:
        book.hold()
        saved = {one.id for one in book.append([harness.reading(100)])}
        shutil.copy(folder / database.FILE, tmp_path / "plain")
        assert not saved <= ids(tmp_path / "plain")
        assert copies.examine(tmp_path / "plain", book.head()) != []

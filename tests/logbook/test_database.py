"""How the database is opened."""

import sqlite3
from pathlib import Path

import pytest
import sqlalchemy as sa

from brinehouse.logbook import database, kept, store


@pytest.fixture
def place(in_file):
    """All of this is about the file."""
    return in_file


MOUNTS = """\
21 1 254:0 / / rw,relatime - ext4 /dev/root rw
30 21 0:40 / /mnt/share rw - nfs4 host:/share rw
31 21 0:41 / /mnt/box rw - cifs //host/box rw
32 21 0:42 / /home/her\\040files rw - fuse.sshfs host: rw
33 30 254:1 / /mnt/share/local rw - xfs /dev/b rw
"""


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/srv/hall", "ext4"),
        ("/mnt/share/hall", "nfs4"),
        ("/mnt/shared/hall", "ext4"),
        ("/mnt/box", "cifs"),
        ("/home/her files/hall", "fuse.sshfs"),
        ("/mnt/share/local/hall", "xfs"),
    ],
)
def test_a_folder_on_another_machine_is_refused(path, kind):
    assert database.file_system(Path(path), MOUNTS) == kind
    if kind in database.NETWORK:
        with pytest.raises(kept.Refused) as refused:
            database.refuse_network(Path(path), MOUNTS)
        assert refused.value.finding.code == "logbook/network-disk"
        assert refused.value.finding.data == {"file_system": kind}
    else:
        database.refuse_network(Path(path), MOUNTS)


def test_opening_asks_for_the_file_system(folder, monkeypatch):
    monkeypatch.setattr(database, "file_system", lambda path, mounts=None: "nfs")
    with pytest.raises(kept.Refused, match="logbook/network-disk"):
        store.open_logbook(folder, create=True)
    assert not (folder / database.FILE).exists()


def test_the_writer_syncs_every_commit_and_the_readers_cannot_write(folder, book):
    writing, reading = (
        database.writing_engine(folder / database.FILE),
        database.reading_engine(folder / database.FILE),
    )
    with writing.connect() as connection:
        raw = connection.connection.driver_connection
        asked = (
            "journal_mode",
            "synchronous",
            "foreign_keys",
            "recursive_triggers",
            "mmap_size",
            "busy_timeout",
        )
        assert [raw.execute(f"PRAGMA {name}").fetchone()[0] for name in asked] == ["wal", 2, 1, 1, 0, 5000]
    with reading.connect() as connection:
        raw = connection.connection.driver_connection
        asked = ("journal_mode", "query_only", "wal_autocheckpoint", "mmap_size", "busy_timeout")
        assert [raw.execute(f"PRAGMA {name}").fetchone()[0] for name in asked] == ["wal", 1, 0, 0, 5000]
        with pytest.raises(sa.exc.OperationalError, match="readonly"):
            connection.exec_driver_sql("INSERT INTO person(number, name) VALUES (7, 'x')")
    writing.dispose()
    reading.dispose()


def test_the_last_reader_to_leave_moves_nothing(folder, book, reading):
    """A checkpoint by a reader would be a second writer; the log still stands when the last one closes."""
    writer = sqlite3.connect(folder / database.FILE, isolation_level=None)
    writer.execute("PRAGMA wal_autocheckpoint = 0")
    book.append([reading(1)])
    with store.open_logbook(folder) as reader:
        before = (folder / database.FILE).read_bytes()
        assert len(reader.readings()) == 1
    assert (folder / database.FILE).read_bytes() == before
    writer.close()


def test_a_log_written_anew_is_the_same_log(folder, book, reading):
    book.hold()
    book.append([reading(i) for i in range(500)])
    wal = folder / f"{database.FILE}-wal"
    before = wal.read_bytes()
    assert len(before) > 100_000
    database.rewrite_log(folder)
    assert wal.read_bytes() == before
    assert len(book.readings()) == 500
    database.rewrite_log(folder / "nowhere")


def test_a_folder_may_have_any_name(tmp_path, reading):
    for name in ("a hall?mode=ro#1", "Höhle %41 ’s", "-x"):
        with store.open_logbook(tmp_path / name, create=True) as book:
            book.append([reading(1)])
        assert (tmp_path / name / database.FILE).exists()

"""What the doctor says about the store."""

import sqlite3

import pytest

from brinehouse import findings
from brinehouse.logbook import database, health, lock


@pytest.fixture
def place(in_file):
    """All of this is about the file."""
    return in_file


def test_a_sound_logbook_hears_only_notes(folder, book, reading, codes):
    book.append([reading(1)])
    found = health.doctor(folder)
    assert {f.level for f in found if f.code != "logbook/disk-low"} == {findings.Level.NOTE}
    assert "logbook/head" in codes(found)
    assert any(f.code == "logbook/head" and f.data["seq"] == 1 for f in found)


def test_a_missing_logbook_is_said(tmp_path, codes):
    assert "logbook/not-there" in codes(health.doctor(tmp_path))
    assert "logbook/not-there" in codes(health.doctor(tmp_path / "nowhere"))
    assert not (tmp_path / "nowhere").exists()


# sqlite.org, "Write-Ahead Logging", on the WAL-reset bug: 3.7.0 to 3.51.2 have it; 3.52.0 was withdrawn.
@pytest.mark.parametrize(
    ("version", "affected"),
    [("3.6.23", False), ("3.7.0", True), ("3.40.1", True), ("3.51.2", True), ("3.51.3", False),
     ("3.52.0", True), ("3.53.0", False)],
)  # fmt: skip
def test_a_sqlite_with_the_race_is_named(version, affected):
    assert [f.code for f in health.races(version)] == ["logbook/sqlite-race"] * affected
    assert [f.code for f in health._sqlite(version)] == [
        "logbook/sqlite-race" if affected else "logbook/sqlite"
    ]


@pytest.mark.parametrize(("free", "level"), [(50, None), (10, None), (9, "watch"), (4, "act"), (0, "act")])
def test_a_filling_disk_is_said_in_time(free, level):
    found = health.disk(free * 10**9, 100 * 10**9)
    assert [f.level.value for f in found] == ([level] if level else [])
    assert [f.code for f in found] == (["logbook/disk-low"] if level else [])


def test_a_file_that_another_program_took_out_of_its_mode_is_said(folder, book, codes):
    book.close()
    raw = sqlite3.connect(folder / database.FILE)
    raw.execute("PRAGMA journal_mode = DELETE")
    raw.close()
    assert "logbook/journal-mode" in codes(health.doctor(folder))


def test_who_writes_now_is_said(folder, book, codes):
    held = lock.take(folder)
    held.announce("127.0.0.1", 8750)
    found = health.doctor(folder)
    held.release()
    assert "logbook/has-writer" in codes(found)
    assert "127.0.0.1:8750" in next(f.text for f in found if f.code == "logbook/has-writer")


def test_damage_newer_data_and_network_disks_are_said(folder, book, behind, codes, monkeypatch):
    book.close()
    monkeypatch.setattr(database, "file_system", lambda path, mounts=None: "nfs")
    assert "logbook/network-disk" in codes(health.doctor(folder))
    behind("UPDATE alembic_version SET version_num = '9999'")
    assert "logbook/newer-data" in codes(health.doctor(folder))
    (folder / database.FILE).write_bytes(b"x" * 9000)
    assert "logbook/damaged" in codes(health.doctor(folder))

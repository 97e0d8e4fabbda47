"""What the doctor says of a hall's folder, its store, disk, clock, copies and photos."""

import datetime as dt
import pathlib
import sqlite3

import pytest

from brinehouse import findings, records
from brinehouse.logbook import health
from brinehouse.workbench import attachments, clock, copying, doctoring
from brinehouse.workbench import hall as halls

PHOTO = (pathlib.Path(__file__).parents[1] / "corpus" / "a03_gps_and_rotation.jpg").read_bytes()


def codes(found, *levels):
    return [one.code for one in found if not levels or one.level.value in levels]


@pytest.fixture
def written(hall):
    at = clock.now()
    hall.write([records.Fact(id="ab" * 16, kind="note", measured=at, entered=at, note="seen")])
    return hall


def look(place, **how):
    return doctoring.look(place.folder, **how)


def test_a_hall_that_asks_for_no_copies_is_told_and_nothing_else_is_wrong(written):
    found = look(written)
    assert [code for code in codes(found, "watch", "act", "stop", "ask") if code != "logbook/disk-low"] == [
        "copy/none-asked"
    ]
    assert doctoring.status(found) == 1
    assert {
        "doctor/clock",
        "doctor/facility",
        "doctor/files",
        "logbook/head",
        "doctor/no-tls",
        "doctor/python",
        "logbook/file-system",
    } <= set(codes(found))


def test_what_is_odd_about_the_door_is_told_where_there_are_people(peopled_place):
    found = look(peopled_place)
    assert {"people/one-factor", "people/one-administrator"} <= set(codes(found, "watch"))
    assert doctoring.status(found) == 1
    on_the_page = codes(doctoring.of_open(peopled_place))
    assert not [code for code in on_the_page if code.startswith("people/")]  # names are for /people alone


def test_a_hall_with_copies_elsewhere_is_well(written, tmp_path, monkeypatch):
    to = tmp_path / "copies"
    with written.file.open("a", encoding="utf-8") as page:
        page.write(f'\n[backup]\nto = "{to}"\n')
    copying.make(written, to)
    found = look(written)
    assert "copy/newest" in codes(found)
    assert "copy/same-disk" in codes(found, "watch")  # this test has one disk only
    assert codes(found, "act", "stop") in ([], ["logbook/disk-low"])
    clock.freeze(clock.now() + dt.timedelta(days=4))
    assert "copy/overdue" in codes(look(written), "act")


def test_a_changed_entry_is_found(written):
    written.close()
    raw = sqlite3.connect(written.folder / "logbook.sqlite")
    raw.execute("DROP TRIGGER entry_no_update")
    raw.execute("UPDATE entry SET note = 'other' WHERE seq = 2")
    raw.commit()
    raw.close()
    found = look(written)
    assert "logbook/entry-changed" in codes(found, "stop")
    assert doctoring.status(found) == 2
    assert "logbook/entry-changed" not in codes(look(written, whole=False))


def test_a_clock_behind_the_logbook_or_long_past_is_told(written):
    clock.freeze(clock.now() - dt.timedelta(hours=2))
    assert "doctor/clock-behind" in codes(look(written), "act")
    clock.freeze(dt.datetime(1970, 1, 1, tzinfo=dt.UTC))
    assert "doctor/clock-early" in codes(look(written), "act")


def test_a_facility_file_with_faults_stops(written):
    with written.file.open("a", encoding="utf-8") as page:
        page.write('\n[tank.x]\nvolume = "1 m"\n')
    found = look(written)
    assert "doctor/facility-faults" in codes(found, "stop")
    assert doctoring.status(found) == 2


def test_a_lost_photo_is_told(written, tmp_path):
    kept = attachments.keep(written, PHOTO, "gills.jpg", about="ab" * 16, person=None)
    attachments.path_of(written.folder, kept.sha256).unlink()
    assert "attachment/lost" in codes(look(written), "act")


def test_a_folder_without_anything_is_told(tmp_path):
    found = doctoring.look(tmp_path / "nowhere")
    assert "logbook/not-there" in codes(found, "stop")
    assert doctoring.status(found) == 2


@pytest.mark.parametrize(
    ("free", "says"), [(9, "before photos"), (4, "photos are refused"), (1, "make room now")]
)
def test_a_filling_disk_says_what_waits(free, says):
    assert says in health.disk(free, 100)[0].hint


def test_a_disk_that_is_only_memory_is_told(monkeypatch, written):
    from brinehouse.logbook import database

    monkeypatch.setattr(database, "file_system", lambda _path, mounts=None: "tmpfs")
    assert "logbook/in-memory" in codes(look(written), "act")


@pytest.mark.part("postgresql")
def test_a_database_is_looked_at_too(folder, set_database):
    with halls.open_hall(folder) as place:
        at = clock.now()
        place.write([records.Fact(id="ab" * 16, kind="note", measured=at, entered=at, note="seen")])
    found = doctoring.look(folder)
    assert {"logbook/postgresql", "logbook/head"} <= set(codes(found, "note"))
    set_database.empty()
    assert findings.Level.NOTE in {one.level for one in found}


def test_a_certificate_that_ends_is_told(written, monkeypatch):
    from brinehouse.workbench import tls

    tls.make(written.folder, "Test Hall", ["hall.local"])
    assert "doctor/tls" in codes(look(written), "note")
    until = tls.state(written.folder).until
    monkeypatch.setattr(doctoring, "ENDS_SOON", until - clock.now() + dt.timedelta(days=1))
    assert "doctor/tls-ends" in codes(look(written), "watch")


def test_an_unsafe_database_is_told():
    assert (
        health.unsafe({"fsync": "off", "full_page_writes": "on"}, "x")[0].code == "logbook/postgresql-unsafe"
    )
    assert health.unsafe({"fsync": "on", "full_page_writes": "on"}, "x") == []

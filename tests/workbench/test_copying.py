"""Copies of a hall: of one moment, tried before they count, let go in order, and brought back whole."""

import datetime as dt
import json
import pathlib
import shutil
import sqlite3
import tarfile
import threading
import zipfile

import pytest

from brinehouse import records
from brinehouse.facility import copies
from brinehouse.workbench import (
    attachments,
    bringing_back,
    clock,
    copying,
    keeping,
    mishaps,
    moving_out,
    packing_list,
    unpacking,
)
from brinehouse.workbench import hall as halls

CORPUS = pathlib.Path(__file__).parents[1] / "corpus"
PHOTO = (CORPUS / "a03_gps_and_rotation.jpg").read_bytes()


def note(place, text="seen", person=None):
    at = clock.now()
    fact = records.Fact(
        id=halls.new_id(), kind="note", measured=at, entered=at, place="mangrove", note=text, person=person
    )
    place.write([fact], person=person)
    return fact


def fill(place):
    """A hall with a bit of everything in it."""
    person = place.person("Ann Example")
    about = note(place, "=HYPERLINK(1)", person)
    place.supersede(about.id, reason="+1 wrong", entered=clock.now(), person=person, note="-torn fin")
    attachments.keep(place, PHOTO, "gills.jpg", about=about.id, person=person)
    at = clock.now()
    reading = records.Reading(
        id=halls.new_id(), measured=at, entered=at, place="mangrove", quantity="temperature", value=-0.5,
        unit="°C", text="-0.5 °C", origin="file-1:2",
    )  # fmt: skip
    place.keep_import("file-1", "../up.csv", b"when,what\n", [reading], at=at, person=person)
    place.remember("file-1", "unit", "°C", at=at)
    return place


@pytest.fixture
def full(hall):
    return fill(hall)


def refused(call, *given, **named):
    with pytest.raises(mishaps.Refused) as caught:
        call(*given, **named)
    return caught.value.findings[0]


# Made and tried -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("one_file", [False, True])
def test_a_copy_comes_back_with_the_same_entries_and_photos(full, tmp_path, one_file):
    before = full.book.contents()
    made = copying.make(full, tmp_path / "copies", copies.Copies(to="", one_file=one_file))
    assert made.path.is_file() == one_file
    assert made.findings == []
    back = bringing_back.bring_back(made.path, tmp_path / "back")
    assert back.head == made.list.head
    with halls.open_hall(tmp_path / "back") as place:
        rows = place.book.contents()
        assert {name: count for name, (count, _) in rows.items() if name != "entry"} == {
            name: count for name, (count, _) in before.items() if name != "entry"
        }
        assert rows["person"] == before["person"]
        assert rows["import_file"] == before["import_file"]
        assert place.book.verify(made.list.head) == []
        assert attachments.look_over(place) == []
        assert [one.details["what"] for one in place.facts(["backup"])] == ["restored"]
        assert [one.details["what"] for one in full.facts(["backup"])] == ["made"]
    assert (tmp_path / "back" / "facility.toml").read_bytes() == full.file.read_bytes()


def test_the_list_names_each_file_with_its_hash_and_where_the_chain_ends(full, tmp_path):
    head = full.book.head()
    made = copying.make(full, tmp_path / "copies")
    told = json.loads((made.path / "copy.json").read_text("utf-8"))
    assert (told["head"], told["begins"]) == (list(head), full.book.begins())
    assert sorted(told["files"]) == sorted(
        path.relative_to(made.path).as_posix()
        for path in made.path.rglob("*")
        if path.is_file() and path.name != "copy.json"
    )
    assert full.facts(["backup"])[0].details["head"] == f"{head[0]}:{head[1][:12]}"


def test_secrets_stay_where_they_are_unless_asked_for(full, tmp_path):
    (full.folder / "house.key").write_text("CANARY-KEY")
    (full.folder / "tls").mkdir()
    (full.folder / "tls" / "authority.key").write_text("CANARY-TLS")
    made = copying.make(full, tmp_path / "copies")
    assert not [path for path in made.path.rglob("*") if path.is_file() and b"CANARY" in path.read_bytes()]
    asked = copying.make(full, tmp_path / "copies", copies.Copies(to="", keys=True))
    assert (asked.path / "house.key").read_text() == "CANARY-KEY"
    bringing_back.bring_back(asked.path, tmp_path / "back")
    assert (tmp_path / "back" / "tls" / "authority.key").stat().st_mode & 0o077 == 0


def test_a_copy_taken_while_others_write_is_of_one_moment(full, tmp_path):
    ended, told = threading.Event(), []

    def work():
        while not ended.is_set():
            told.append(note(full).id)

    thread = threading.Thread(target=work)
    thread.start()
    try:
        made = [copying.make(full, tmp_path / "copies") for _ in range(3)]
    finally:
        ended.set()
        thread.join()
    heads = [one.list.head[0] for one in made]
    assert heads == sorted(heads)
    assert heads[-1] > heads[0]
    for one in made:
        assert copying.tried(one.path, one.list) == []


def test_photos_that_did_not_change_are_shared_with_the_copy_before(full, tmp_path):
    first, second = (copying.make(full, tmp_path / "copies") for _ in range(2))
    name = next(one for one in second.list.files if one.startswith("files/"))
    assert (first.path / name).stat().st_ino == (second.path / name).stat().st_ino


def test_a_photo_damaged_in_the_hall_comes_from_the_copy_before_or_is_told(full, tmp_path):
    kept = attachments.kept_of(full, [one.details["sha256"] for one in full.facts(["file"])])[0]
    path = attachments.path_of(full.folder, kept.sha256)
    copying.make(full, tmp_path / "copies")
    path.write_bytes(b"rot")
    assert copying.make(full, tmp_path / "copies").findings == []
    alone = copying.make(full, tmp_path / "elsewhere")
    assert [one.code for one in alone.findings] == ["copy/damaged-file"]
    assert not [one for one in alone.list.files if one.startswith("files/")]


def test_a_copy_that_does_not_pass_is_not_left_as_one(full, tmp_path, monkeypatch):
    take = full.book.copy

    def spoiled(to, **how):
        head = take(to, **how)
        raw = sqlite3.connect(to)
        raw.execute("DROP TRIGGER entry_no_update")
        raw.execute("UPDATE entry SET note = 'other' WHERE seq = 2")
        raw.commit()
        raw.close()
        return head

    monkeypatch.setattr(full.book, "copy", spoiled)
    found = refused(copying.make, full, tmp_path / "copies")
    assert found.code == "logbook/entry-changed"
    assert list((tmp_path / "copies").iterdir()) == []
    assert full.facts(["backup"]) == []


def test_copies_do_not_lie_inside_the_hall_or_nowhere(full, tmp_path):
    assert refused(copying.make, full, full.folder / "copies").code == "copy/inside"
    assert refused(copying.make, full, tmp_path / "no" / "such").code == "copy/not-there"


def test_a_disk_without_room_is_told_before_anything_is_written(full, tmp_path, monkeypatch):
    import types

    monkeypatch.setattr(
        copying.shutil, "disk_usage", lambda _: types.SimpleNamespace(total=9, used=9, free=0)
    )
    assert refused(copying.make, full, tmp_path / "copies").code == "copy/no-room"


# What stays ---------------------------------------------------------------------------------------------


def test_the_newest_and_the_last_of_each_day_and_week_stay():
    wants = copies.Copies(to="", newest=2, daily=3, weekly=2)
    begin = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)  # a Monday
    made = [begin + dt.timedelta(hours=6 * count) for count in range(4 * 21)]
    stay = sorted(copying.staying(made, wants))
    assert stay[-2:] == made[-2:]
    assert {one.date().day for one in stay} == {15, 20, 21, 22}
    assert all(one.hour == 18 or one == made[-2] for one in stay)


def test_only_copies_of_this_hall_are_let_go(full, tmp_path):
    to = tmp_path / "copies"
    copying.make(full, to)
    other = to / "other"
    shutil.copytree(next(to.iterdir()), other)
    told = json.loads((other / "copy.json").read_text("utf-8"))
    (other / "copy.json").write_text(json.dumps(told | {"begins": "0" * 64}))
    (to / "letters").mkdir()
    one = copies.Copies(to="", newest=1, daily=0, weekly=0)
    clock.freeze(clock.now() + dt.timedelta(hours=1))
    made = copying.make(full, to, one)
    assert len(made.removed) == 1
    assert {path.name for path in to.iterdir()} == {"other", "letters", made.path.name}


# Brought back -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("spoil", ["facility.toml", "logbook.sqlite", "photo", "copy.json", "less"])
def test_a_copy_that_is_not_whole_leaves_the_folder_as_it_was(full, tmp_path, spoil):
    made = copying.make(full, tmp_path / "copies")
    name = spoil if spoil in made.list.files or spoil == "copy.json" else next(
        one for one in made.list.files if one.startswith("files/")
    )  # fmt: skip
    path = made.path / name
    if spoil == "less":
        path.unlink()
    else:
        content = bytearray(path.read_bytes())
        content[len(content) // 2] ^= 4
        path.unlink()  # photos are shared with other copies
        path.write_bytes(content if spoil != "copy.json" else content[: len(content) // 2])
    found = refused(bringing_back.bring_back, made.path, tmp_path / "back")
    assert found.code in ("copy/file-changed", "copy/file-missing", "copy/list-unreadable")
    assert not (tmp_path / "back").exists()
    assert [one.name for one in tmp_path.iterdir() if one.name.startswith(".")] == []


def test_a_folder_that_holds_something_is_never_written_over(full, tmp_path):
    made = copying.make(full, tmp_path / "copies")
    assert refused(bringing_back.bring_back, made.path, full.folder).code == "copy/folder-used"
    (tmp_path / "back").mkdir()
    assert bringing_back.bring_back(made.path, tmp_path / "back").head == made.list.head


def test_an_archive_that_climbs_out_is_refused_by_name_and_nothing_is_unpacked(tmp_path):
    index = {one["file"]: one for one in json.loads((CORPUS / "INDEX.json").read_text("utf-8"))["files"]}
    assert index["a05_zip_slip.zip"]["verdict"] == "reject-file"
    found = refused(bringing_back.bring_back, CORPUS / "a05_zip_slip.zip", tmp_path / "deep" / "back")
    assert found.code == "copy/climbs-out"
    assert "outside its own folder" in found.text
    assert ".." in found.text
    assert [one for one in tmp_path.rglob("*") if one.is_file()] == []


@pytest.mark.parametrize("kind", ["climbs", "whole path", "link", "hard link", "device", "twice", "cut"])
def test_a_tar_of_any_other_make_is_refused(tmp_path, kind):
    path = tmp_path / "copy.tar"
    with tarfile.open(path, "w") as page:
        member = tarfile.TarInfo("copy.json")
        if kind in ("climbs", "whole path"):
            member.name = "a/../../x" if kind == "climbs" else "/tmp/x"
        elif kind in ("link", "hard link"):
            member.type = tarfile.SYMTYPE if kind == "link" else tarfile.LNKTYPE
            member.linkname = "/etc/passwd"
        elif kind == "device":
            member.type = tarfile.CHRTYPE
        page.addfile(member)
        if kind == "twice":
            page.addfile(tarfile.TarInfo("./copy.json"))
    if kind == "cut":
        path.write_bytes(path.read_bytes()[:300])
    into = tmp_path / "into"
    into.mkdir()
    assert refused(unpacking.unpack, path, into).code in ("copy/climbs-out", "copy/no-archive")
    assert list(into.iterdir()) == []


def test_an_archive_larger_than_the_disk_is_refused_unread(tmp_path, monkeypatch):
    import types

    with zipfile.ZipFile(tmp_path / "big.zip", "w", zipfile.ZIP_DEFLATED) as page:
        page.writestr("a", bytes(2_000_000))
    monkeypatch.setattr(unpacking.shutil, "disk_usage", lambda _: types.SimpleNamespace(free=1_000_000))
    (tmp_path / "into").mkdir()
    assert refused(unpacking.unpack, tmp_path / "big.zip", tmp_path / "into").code == "copy/no-room"


def test_nobody_is_signed_in_where_a_copy_is_brought_back(full, tmp_path):
    import sqlalchemy as sa

    from brinehouse.logbook import house_tables

    raw = sqlite3.connect(full.folder / "logbook.sqlite")
    raw.execute("INSERT INTO session (id, person, kind, begun, seen, until) VALUES ('a', 1, 'pin', 1, 1, 9)")
    raw.commit()
    raw.close()
    made = copying.make(full, tmp_path / "copies")
    bringing_back.bring_back(made.path, tmp_path / "back")
    with halls.open_hall(tmp_path / "back") as place:
        rows = place.book.house(lambda c: c.execute(sa.select(house_tables.session.c.ended)).all())
    assert [row[0] is not None for row in rows] == [True]


# Out and in ---------------------------------------------------------------------------------------------


def test_everything_goes_out_and_comes_back_with_the_same_head(full, tmp_path):
    before, head = full.book.contents(), full.book.head()
    out = moving_out.move_out(full, tmp_path / "out")
    assert out.list.head == head
    assert out.rows == {
        "readings.csv": 1, "facts.csv": 3, "people.csv": 1, "files.csv": 1, "imports.csv": 1,
        "facility.csv": 1, "set-aside.csv": 0,
    }  # fmt: skip
    back = moving_out.move_in(out.path, tmp_path / "in")
    assert back.head == head
    with halls.open_hall(tmp_path / "in") as place:
        after = place.book.contents()
        assert {name: one for name, one in after.items() if name != "entry"} == {
            name: one for name, one in before.items() if name != "entry"
        }
        again = moving_out.move_out(place, tmp_path / "again")
    assert (again.path / "readings.csv").read_bytes() == (out.path / "readings.csv").read_bytes()
    lines = (again.path / "facts.csv").read_text("utf-8").splitlines()
    assert lines[:4] == (out.path / "facts.csv").read_text("utf-8").splitlines()
    assert len(lines) == 5  # it was written down that all of it was moved in


def test_no_cell_that_goes_out_is_a_formula(full, tmp_path):
    import csv

    out = moving_out.move_out(full, tmp_path / "out")
    for table in out.path.glob("*.csv"):
        with table.open(encoding="utf-8", newline="") as page:
            for row in list(csv.reader(page))[1:]:
                for cell in row:
                    if cell.startswith(("=", "+", "-", "@", "\t", "\r")):
                        float(cell)
    text = (out.path / "facts.csv").read_text("utf-8")
    assert "'=HYPERLINK" in text
    assert "'-torn fin" in text
    assert "'+1 wrong" in text
    assert ",-0.5," in (out.path / "readings.csv").read_text("utf-8")


def test_the_page_that_goes_with_it_explains_each_column(full, tmp_path):
    out = moving_out.move_out(full, tmp_path / "out")
    page = (out.path / "README.md").read_text("utf-8")
    for table in out.path.glob("*.csv"):
        part = page[page.index(f"## {table.name}") :].partition("\n## ")[0]
        for column in table.read_text("utf-8").splitlines()[0].split(","):
            assert f"| `{column}` |" in part


def test_passwords_and_phones_stay_behind(full, tmp_path):
    raw = sqlite3.connect(full.folder / "logbook.sqlite")
    raw.execute("INSERT INTO account (person, role, password, made) VALUES (1, 'lead', 'CANARY', 1)")
    raw.commit()
    raw.close()
    out = moving_out.move_out(full, tmp_path / "out")
    assert not [path for path in out.path.rglob("*") if path.is_file() and b"CANARY" in path.read_bytes()]
    made = copying.make(full, tmp_path / "copies")
    assert b"CANARY" in (made.path / "logbook.sqlite").read_bytes()


def test_an_export_is_no_copy_and_a_copy_no_export(full, tmp_path):
    out = moving_out.move_out(full, tmp_path / "out")
    made = copying.make(full, tmp_path / "copies")
    assert refused(bringing_back.bring_back, out.path, tmp_path / "a").hint == "use 'brinehouse move-in'"
    assert refused(moving_out.move_in, made.path, tmp_path / "a").code == "copy/other-kind"
    assert refused(bringing_back.bring_back, CORPUS, tmp_path / "a").code == "copy/no-list"


@pytest.mark.part("postgresql")
def test_a_hall_moves_between_the_two_kinds_of_database_and_keeps_its_head(
    full, tmp_path, on_server, monkeypatch
):
    from brinehouse.logbook import copies as copied

    before, head = full.book.contents(), full.book.head()
    out = moving_out.move_out(full, tmp_path / "out")
    with monkeypatch.context() as there:
        there.setenv("BRINEHOUSE_DATABASE", on_server.address)
        assert moving_out.move_in(out.path, tmp_path / "in").head == head
        assert not (tmp_path / "in" / "logbook.sqlite").exists()
        with halls.open_hall(tmp_path / "in") as place:
            after = place.book.contents()
            assert {k: v for k, v in after.items() if k != "entry"} == {
                k: v for k, v in before.items() if k != "entry"
            }
            assert place.book.verify(head) == []
            made = copying.make(place, tmp_path / "copies")
            assert (made.list.kept_in, made.findings) == ("postgresql", [])
        found = refused(_again, tmp_path / "out", tmp_path / "second")
        assert found.code == "logbook/not-empty"
    back = bringing_back.bring_back(made.path, tmp_path / "back")
    assert back.head == made.list.head
    with halls.open_hall(tmp_path / "back") as place:
        assert place.book.verify(head) == []
        assert attachments.look_over(place) == []
    assert copied.examine(made.path / "logbook.sqlite", made.list.head) == []


def _again(out, folder):
    from brinehouse.logbook import kept

    try:
        moving_out.move_in(out, folder)
    except kept.Refused as refusal:
        raise mishaps.Refused(refusal.finding) from refusal


def test_a_list_that_names_files_outside_is_refused():
    told = {"form": 1, "files": {"../x": [1, "a"]}}
    assert refused(packing_list.understood, told).code == "copy/climbs-out"
    assert refused(packing_list.understood, {"form": 2}).code == "copy/newer"


# When ---------------------------------------------------------------------------------------------------


@pytest.fixture
def asked(full, tmp_path):
    """The hall asks for copies."""
    text = full.file.read_text("utf-8") + f'\n[backup]\nto = "{tmp_path}/copies"\nevery = "12 h"\n'
    full.file.write_text(text, "utf-8")
    return full


def later(hours):
    clock.freeze(clock.now() + dt.timedelta(hours=hours))


def test_copies_are_made_when_they_are_due_and_told_when_they_are_not(asked, tmp_path):
    assert keeping.concerns_of(asked) == [] or all("disk" in one.code for one in keeping.concerns_of(asked))
    assert keeping.attempt(asked) is not None
    assert keeping.attempt(asked) is None
    later(11.9)
    assert keeping.attempt(asked) is None
    later(0.2)
    assert keeping.attempt(asked) is not None
    assert len(copying.all_in(tmp_path / "copies")) == 2
    later(17)
    assert codes(asked) == []
    later(2)
    assert codes(asked) == ["copy/overdue"]
    later(20)
    assert [one.level.value for one in keeping.concerns_of(asked) if one.code == "copy/overdue"] == ["act"]


def codes(place):
    return [one.code for one in keeping.concerns_of(place) if one.code.startswith("copy/")]


def test_a_copy_that_could_not_be_made_is_told_once_and_tried_again(asked, tmp_path):
    (tmp_path / "copies").write_text("in the way")
    assert refused(keeping.attempt, asked)
    assert codes(asked) == ["copy/failed"]
    assert keeping.attempt(asked) is None  # not at once
    later(1.1)
    assert refused(keeping.attempt, asked)
    assert len([one for one in asked.facts(["backup"]) if one.details["what"] == "failed"]) == 1
    (tmp_path / "copies").unlink()
    later(1.1)
    assert keeping.attempt(asked) is not None
    assert codes(asked) == []


def test_a_hall_without_any_copy_is_told(asked):
    later(19)
    assert codes(asked) == ["copy/none"]


def test_a_hall_that_asks_for_none_gets_none(full):
    assert keeping.attempt(full) is None
    assert codes(full) == []

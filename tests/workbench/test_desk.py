"""What the pages hold on to between requests: one folder, with a hall in it or not yet."""

import os

import pytest

from brinehouse.logbook import lock
from brinehouse.workbench import desk, logging_book, mishaps


def test_an_empty_folder_has_no_hall_and_breaks_nothing(tmp_path):
    table = desk.Desk(tmp_path)
    assert (table.has_hall(), table.facility_or_none(), table.revision(), table.language()) == (
        False,
        None,
        "0",
        "en",
    )
    with pytest.raises(mishaps.Refused):
        table.hall()
    table.close()


def test_a_hall_is_opened_once_and_its_head_is_told_short(folder):
    table = desk.Desk(folder)
    hall = table.hall()
    assert table.hall() is hall
    assert table.revision() == "0"
    logging_book.note(hall, "calm")
    number, _, digest = table.revision().partition("/")
    assert (int(number), len(digest)) == (hall.book.head()[0], 8)
    assert not table.is_demo()
    table.close()


def test_a_file_that_does_not_pass_shows_no_facility(folder):
    (folder / "facility.toml").write_text("schema = 1\n", "utf-8")
    table = desk.Desk(folder)
    assert table.facility_or_none() is None
    table.close()


def test_a_server_holds_the_lock_from_the_first_use_until_it_closes(folder):
    table = desk.Desk(folder)
    table.door = ("127.0.0.1", 8750)
    assert lock.owner(folder) is None
    table.hall()
    owner = lock.owner(folder)
    assert (owner.pid, owner.address, owner.port) == (os.getpid(), "127.0.0.1", 8750)
    assert owner.token == table.token != ""
    logging_book.note(table.hall(), "calm")
    table.close()
    assert lock.owner(folder) is None


def test_a_folder_that_another_server_holds_is_refused_with_its_address(folder, monkeypatch):
    first = desk.Desk(folder)
    first.door = ("127.0.0.1", 8750)
    first.hall()
    second = desk.Desk(folder)
    second.door = ("127.0.0.1", 8751)
    monkeypatch.setattr(os, "getpid", lambda: 1)  # as another process sees it
    with pytest.raises(mishaps.Refused) as refusal:
        second.hall()
    assert refusal.value.findings[0].code == "serve/already"
    assert "http://127.0.0.1:8750/" in refusal.value.findings[0].hint
    first.close()

"""A logbook put together by hand: copied while it was written, without its log, or over another's log."""

import shutil

import pytest

from brinehouse.logbook import arrival, database, kept, store

FILE, LOG = database.FILE, f"{database.FILE}-wal"


@pytest.fixture
def place(in_file):
    """All of this is about the file."""
    return in_file


@pytest.fixture
def served(folder, reading):
    """A logbook that a server holds, with entries that are only in its log so far."""
    with store.open_logbook(folder, create=True) as book:
        book.append([reading(number) for number in range(200)])
    with store.open_logbook(folder) as book:
        book.hold()
        book.append([reading(number) for number in range(200, 400)])
        yield book


def copied(folder, to, *names):
    """The folder as `cp` would copy it while it is written; only some files of it where they are named."""
    to.mkdir()
    for one in folder.iterdir():
        if (one.name in names or not names) and not one.name.endswith("-shm"):
            shutil.copy(one, to / one.name)
    return to


def refused(folder):
    with pytest.raises(kept.Refused) as caught:
        store.open_logbook(folder).close()
    return caught.value.finding


def test_a_file_copied_while_it_is_written_without_its_log_is_refused(served, folder, tmp_path):
    there = copied(folder, tmp_path / "there", FILE, arrival.NOTE)
    found = refused(there)
    assert found.code == "logbook/log-missing"
    assert LOG in found.text
    (there / arrival.NOTE).unlink()  # the control: without the note nobody would know
    with store.open_logbook(there) as book:
        assert book.head()[0] < served.head()[0]


def test_a_whole_folder_copied_in_one_moment_opens(served, folder, tmp_path):
    with store.open_logbook(copied(folder, tmp_path / "there")) as book:
        assert book.head() == served.head()
        assert book.verify() == []


def test_a_log_that_went_missing_after_a_crash_is_told(served, folder, tmp_path):
    there = copied(folder, tmp_path / "there")
    (there / LOG).unlink()
    told = (there / arrival.NOTE).read_text()
    inode = (there / FILE).stat().st_ino
    (there / arrival.NOTE).write_text(told.replace(str(arrival.note_of(folder).inode), str(inode)))
    assert refused(there).code == "logbook/log-missing"


def test_a_copy_put_over_a_file_whose_log_stayed_is_refused(served, folder, tmp_path):
    served.copy(tmp_path / "copy.sqlite")
    there = copied(folder, tmp_path / "there")
    shutil.copy(tmp_path / "copy.sqlite", there / FILE)
    found = refused(there)
    assert found.code == "logbook/mixed"
    assert LOG in found.hint
    (there / LOG).unlink()  # as the hint says
    (there / arrival.NOTE).unlink()
    with store.open_logbook(there) as book:
        assert book.head() == served.head()


def test_a_file_and_a_log_of_different_moments_are_refused_or_whole(served, folder, reading, tmp_path):
    early = copied(folder, tmp_path / "early")
    for number in range(400, 6000, 200):  # many checkpoints: the log begins anew in between
        served.append([reading(one) for one in range(number, number + 200)])
    late = copied(folder, tmp_path / "late")
    torn = copied(early, tmp_path / "torn", FILE, arrival.NOTE)
    shutil.copy(late / LOG, torn / LOG)
    found = refused(torn)
    assert found.code in ("logbook/arrived-broken", "logbook/damaged")
    (torn / arrival.NOTE).unlink()  # the control: it would have opened, and been wrong
    try:
        with store.open_logbook(torn) as book:
            assert book.verify() != []
    except kept.Refused:
        pass


def test_a_server_that_ends_leaves_a_file_that_can_be_copied_alone(folder, reading, tmp_path):
    with store.open_logbook(folder, create=True) as book:
        book.hold()
        book.append([reading(1)])
        head = book.head()
    assert not arrival.note_of(folder).writing
    with store.open_logbook(copied(folder, tmp_path / "there", FILE, arrival.NOTE)) as book:
        assert book.head() == head


def test_after_a_server_was_killed_the_next_one_opens_as_ever(served, folder, reading, tmp_path):
    there = copied(folder, tmp_path / "there")  # what a killed server leaves
    for number in (9001, 9002):
        with store.open_logbook(there) as book:
            book.append([reading(number)])
    assert not arrival.note_of(there).writing


@pytest.mark.parametrize("told", ["", "{", "[]", '{"number": "x"}', "\x00"])
def test_a_note_that_cannot_be_read_stands_in_nobodys_way(folder, reading, told):
    with store.open_logbook(folder, create=True) as book:
        book.append([reading(1)])
    (folder / arrival.NOTE).write_text(told)
    with store.open_logbook(folder) as book:
        assert book.head()[0] == 1


def test_every_logbook_and_every_copy_carries_a_number_of_its_own(served, folder, tmp_path):
    numbers = {arrival.number_of(folder / FILE)}
    for name in ("a", "b"):
        served.copy(tmp_path / name)
        numbers.add(arrival.number_of(tmp_path / name))
    assert len(numbers - {0}) == 3

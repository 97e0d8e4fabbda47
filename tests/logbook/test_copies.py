"""A copy of the whole logbook: one file, of one moment, that says when it is not what its list says."""

import sqlite3

import pytest

from brinehouse import findings
from brinehouse.logbook import copies, database, kept, queries


@pytest.fixture
def written(book, reading):
    book.append([reading(number) for number in range(5)])
    return book


def refused(call, *given, **named):
    with pytest.raises(kept.Refused) as caught:
        call(*given, **named)
    return caught.value.finding.code


def test_a_copy_ends_where_the_logbook_did_and_is_one_file(written, tmp_path, reading):
    head = written.copy(tmp_path / "copy")
    assert head == written.head()
    assert copies.examine(tmp_path / "copy", head) == []
    assert sorted(one.name for one in tmp_path.glob("copy*")) == ["copy"]
    written.append([reading(9)])
    assert copies.examine(tmp_path / "copy", head) == []
    found = copies.examine(tmp_path / "copy", written.head())
    assert [one.code for one in found] == ["logbook/copy-ends"]


def test_nothing_is_copied_over_something(written, tmp_path):
    (tmp_path / "copy").write_text("letters")
    assert refused(written.copy, tmp_path / "copy") == "logbook/copy-there"
    assert (tmp_path / "copy").read_text() == "letters"


def test_a_copy_that_cannot_be_written_leaves_nothing(written, tmp_path):
    assert refused(written.copy, tmp_path / "no" / "copy") in ("logbook/disk", "logbook/damaged")


def test_a_copy_with_a_changed_entry_is_found_out(written, tmp_path):
    head = written.copy(tmp_path / "copy")
    raw = sqlite3.connect(tmp_path / "copy")
    raw.execute("DROP TRIGGER entry_no_update")
    raw.execute("UPDATE entry SET value = 1 WHERE seq = 2")
    raw.commit()
    raw.close()
    found = copies.examine(tmp_path / "copy", head)
    assert [one.code for one in found] == ["logbook/entry-changed"]
    assert found[0].level is findings.Level.STOP


def test_what_is_no_database_is_no_copy(tmp_path):
    (tmp_path / "copy").write_bytes(b"letters" * 1000)
    assert [one.code for one in copies.examine(tmp_path / "copy")] == ["logbook/damaged"]


def test_rows_carried_over_one_by_one_are_the_same_rows(written, tmp_path):
    written.add_person("Ann Example")
    head = written.copy(tmp_path / "copy", without=copies.AT_DOOR)
    assert head == written.head()
    engine = database.reading_engine(tmp_path / "copy")
    with engine.connect() as connection:
        assert copies.contents(connection) == written.contents()
        assert copies.begins(connection) == written.begins()
        assert copies.last_entered(connection) == written.last_entered()
    engine.dispose()


def test_contents_tell_when_one_cell_differs(written, tmp_path):
    before = written.contents()
    written.copy(tmp_path / "copy")
    raw = sqlite3.connect(tmp_path / "copy")
    raw.execute("DROP TRIGGER entry_no_update")
    raw.execute("UPDATE entry SET place = 'other' WHERE seq = 2")
    raw.commit()
    raw.close()
    engine = database.reading_engine(tmp_path / "copy")
    with engine.connect() as connection:
        assert copies.contents(connection)["entry"] != before["entry"]
    engine.dispose()


def test_everything_comes_in_the_order_of_the_chain_and_says_what_stands(written, reading):
    at = reading(20).entered
    written.supersede(reading(1).id, reason="typed wrong", entered=at, value=7.0, text="7.0 mg/L")
    written.withdraw(reading(2).id, reason="wrong tank", entered=at)
    told = list(written.everything())
    assert [one[0] for one in told] == sorted(one[0] for one in told)
    stands = {one[1].id: one[2] for one in told}
    assert not stands[reading(1).id]
    assert not stands[reading(2).id]
    assert stands[reading(3).id]
    assert len(told) == 7


def test_everything_is_of_the_moment_it_was_begun_though_looked_up_in_pieces(written, reading, monkeypatch):
    monkeypatch.setattr(queries, "CHUNK", 2)
    at = reading(20).entered
    told = written.everything()
    first = next(told)
    written.supersede(reading(4).id, reason="typed wrong", entered=at, value=7.0, text="7.0 mg/L")
    written.withdraw(reading(3).id, reason="wrong tank", entered=at)
    assert [one[1:] for one in (first, *told)] == [(reading(number), True) for number in range(5)]
    later = {one[1].id: one[2] for one in written.everything()}
    assert not later[reading(4).id], "the control: begun now, it says what was corrected"
    assert not later[reading(3).id]

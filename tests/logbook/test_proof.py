"""Faults planted behind the triggers, each found and named."""

import pytest

from brinehouse.logbook import canon, kept, proof


@pytest.fixture
def ten(book, reading):
    """Ten entries; returns the head that was printed."""
    book.append([reading(i) for i in range(1, 11)], person=1)
    return book.head()


def test_an_untouched_chain_is_whole(book, ten):
    assert book.verify() == []
    assert book.verify(ten) == []
    assert book.verify(f"{ten[0]}:{ten[1]}") == []
    assert book.verify(f" {ten[0]} {ten[1][:12].upper()} ") == []


@pytest.mark.parametrize(
    "column",
    [name for name in canon.COLUMNS if name not in ("seq", "id", "import_id", "prev", "hash", "digest")],
)
def test_a_change_to_any_column_is_found_and_its_entry_named(book, ten, behind, codes, column):
    behind(f"UPDATE entry SET {column} = 2 WHERE seq = 4")
    found = book.verify()
    assert codes(found) == ["logbook/entry-changed"]
    assert found[0].data["seq"] == 4
    assert "entry 4" in found[0].text


@pytest.mark.parametrize("column", ["id", "digest", "hash", "prev", "import_id"])
def test_a_change_to_the_links_is_found(book, ten, behind, column):
    behind(f"UPDATE entry SET {column} = 'x' WHERE seq = 4")
    found = book.verify()
    assert found[0].data["seq"] == 4


def test_an_entry_taken_out_is_found(book, ten, behind, codes):
    behind("DELETE FROM entry WHERE seq = 4")
    found = book.verify()
    assert codes(found) == ["logbook/entry-missing"]
    assert found[0].data == {"seq": 4, "last": 4}
    behind("DELETE FROM entry WHERE seq <= 3")
    assert book.verify()[0].data == {"seq": 1, "last": 4}


def test_entries_that_changed_places_are_found(book, ten, behind):
    behind(
        "UPDATE entry SET seq = 99 WHERE seq = 4",
        "UPDATE entry SET seq = 4 WHERE seq = 5",
        "UPDATE entry SET seq = 5 WHERE seq = 99",
    )
    found = book.verify()
    assert [f.data["seq"] for f in found][:2] == [4, 5]


def test_an_end_cut_off_is_found_only_against_a_printed_head(book, ten, behind, codes):
    behind("DELETE FROM entry WHERE seq > 7")
    assert book.verify() == []
    found = book.verify(ten)
    assert codes(found) == ["logbook/cut-off"]
    assert found[0].data == {"seq": 7, "printed": 10}
    behind("DELETE FROM entry")
    assert codes(book.verify(ten)) == ["logbook/cut-off"]


def rewrite(place, behind, from_seq, to_seq):
    """A patient forger: change an entry and make every hash up to `to_seq` fit again."""
    rows = place.ask(f"SELECT {','.join(canon.COLUMNS)} FROM entry WHERE seq >= {from_seq} ORDER BY seq")
    prev, changes = rows[0][-2], []
    for row in rows[: to_seq - from_seq + 1]:
        content = list(row[5:-2])
        if row[0] == from_seq:
            content[canon.CONTENT.index("value")] = 99.0
        text = canon.written(content)
        digest = canon.digest_of(text)
        own = canon.link(prev, row[0], (row[1], row[2], row[3]), digest, text)
        changes.append(
            ("UPDATE entry SET value = ?, digest = ?, prev = ?, hash = ? WHERE seq = ?",
             (content[canon.CONTENT.index("value")], digest, prev, own, row[0]))
        )  # fmt: skip
        prev = own
    behind(*changes)


def test_an_entry_written_anew_with_its_hash_breaks_the_next(book, ten, behind, place, codes):
    rewrite(place, behind, 4, 4)
    found = book.verify()
    assert codes(found) == ["logbook/chain-broken"]
    assert found[0].data["seq"] == 5


def test_a_whole_chain_written_anew_differs_from_a_printed_head(book, ten, behind, place, codes):
    rewrite(place, behind, 4, 10)
    assert book.verify() == []
    assert codes(book.verify(ten)) == ["logbook/head-differs"]
    assert codes(book.verify(f"{ten[0]}:{ten[1][:12]}")) == ["logbook/head-differs"]


def test_a_head_of_long_ago_still_counts(book, ten, reading):
    book.append([reading(i) for i in range(20, 30)])
    assert book.verify(ten) == []


@pytest.mark.parametrize("text", ["", "12", "12:xyz", "12:abc", "abc:0123456789ab"])
def test_what_is_not_a_head_is_refused(book, text):
    with pytest.raises(kept.Refused, match="logbook/not-a-head"):
        book.verify(text)


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("facility_text", "text = 'schema = 2'"),
        ("facility_text", "since = since - 1"),
        ("import_file", bytes.fromhex("789c030000000001")),
        ("import_file", b"\0"),
        ("import_file", "name = 'other.csv'"),
        ("answer_kept", "answer = 'CET'"),
        ("aside", "offered = '[]'"),
    ],
)
def test_a_change_beside_the_entries_is_found(book, reading, behind, table, change):
    book.append([reading(1)])
    book.append([reading(1, value=1.0)])
    book.keep_facility("schema = 1", reading(1).measured)
    book.keep_import("file-1", "week.csv", b"a,b", [], at=reading(3).entered)
    book.remember("week.csv", "zone", "UTC")
    assert book.verify() == []
    if isinstance(change, bytes):
        behind((f"UPDATE {table} SET content = ?", (change,)))
    else:
        behind(f"UPDATE {table} SET {change}")
    assert {f.code for f in book.verify()} & {"logbook/kept-text-changed", "logbook/damaged"}
    behind(f"DELETE FROM {table}")
    assert [f.code for f in book.verify()] == ["logbook/kept-text-changed"]


def test_a_damaged_page_is_said_in_words(file_book, reading, folder, codes):
    file_book.append([reading(i) for i in range(2_000)])
    file_book.close()
    path = folder / "logbook.sqlite"
    page = bytearray(path.read_bytes())
    middle = len(page) // 2 // 4096 * 4096
    page[middle : middle + 4096] = bytes(4096)
    path.write_bytes(page)
    from brinehouse.logbook import store

    with store.open_logbook(folder) as again:
        found = again.verify()
    assert "logbook/damaged" in codes(found)
    assert len(found) <= proof.ENOUGH

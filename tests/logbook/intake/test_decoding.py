"""From bytes to text."""

import pytest

from brinehouse.logbook.intake import decoding

ROW = "time,place\n2026,Müller\n"


def test_utf8_with_and_without_its_mark_is_read_without_a_word():
    for data in (ROW.encode(), ROW.encode("utf-8-sig")):
        found = decoding.decode(data)
        assert (found.kind, found.encoding, found.faults) == ("csv", "utf-8-sig", ())


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_either_utf16_is_told_by_its_mark(encoding):
    mark = "\ufeff".encode(encoding)
    found = decoding.decode(mark + ROW.encode(encoding))
    assert (found.encoding, found.faults[0].code) == ("utf-16", "intake/utf-16")


def test_a_cut_utf16_is_damaged():
    assert decoding.decode("\ufeff".encode("utf-16-le") + b"a").faults[0].code == "intake/damaged"


def test_the_byte_that_is_not_utf8_is_named_by_its_line():
    data = ROW.encode("cp1252")
    found = decoding.decode(data)
    assert dict(found.bad) == {2: data.index(b"\xfc")}
    assert not found.mixed


def test_lines_of_both_kinds_are_noticed():
    found = decoding.decode(ROW.encode() + ROW.encode("cp1252"))
    assert found.mixed
    assert list(found.bad) == [4]


def test_old_line_ends_count_as_lines():
    assert list(decoding.decode(b"a\rb\r\xfc\r").bad) == [3]


def test_a_told_encoding_is_used_and_said():
    found = decoding.decode(ROW.encode("cp1252"), "windows-1252")
    assert (found.encoding, found.faults[0].code) == ("windows-1252", "intake/encoding-told")


def test_a_told_encoding_that_does_not_fit_is_refused():
    assert decoding.decode(b"a,\x81\n", "windows-1252").faults[0].code == "intake/damaged"


@pytest.mark.parametrize(
    ("start", "what"),
    [(b"\x1f\x8b", "gzip"), (b"%PDF-", "PDF"), (b"\x89PNG", "picture"), (b"\xd0\xcf\x11\xe0", "workbook"),
     (b"<!DOCTYPE html>", "web page"), (b"BZh", "bzip2"),
     (b"SQLite format 3\0", "database"), (b"a\0b", "bytes that no text has")],
)  # fmt: skip
def test_what_is_no_table_is_called_by_its_name(start, what):
    (fault,) = decoding.decode(start + b"xxxx").faults
    assert what in fault.text
    assert fault.hint


def test_a_long_file_is_searched_to_its_end():
    data = b"a,b\n" * 400_000 + b"\xb0\n"
    assert decoding.first_bad(data) == len(data) - 2

"""Bytes to TOML, or why not, in our own words and at the right place."""

import pytest

from brinehouse.facility import reading, syntax


def refused(text):
    (found,) = reading.read(text).findings
    assert found.level == "stop"
    return found


@pytest.mark.parametrize(
    ("text", "said", "line", "column"),
    [
        ('a = "x\n', "a text is opened here and not closed", 1, 5),
        ("x = 1\nvolume = 12 m3\n", "an amount stands without quotes", 2, 10),
        ("x = 1\nt = 84 °F\n", "an amount stands without quotes", 2, 5),
        ("[t.a]\nx = 1\n[t.a]\n", "this table stands twice; first in line 1", 3, 1),
        ("a = 1\nb = 2\na = 3\n", "this word stands twice in the same table; first in line 1", 3, 1),
        ("x = [1,\n", "the file ends before a value does", 1, None),
        ("[tank.big tank]\n", "a heading is not closed", 1, None),
        ("a = tru\n", "what stands after '=' is not a value", 1, 5),
        ("b\n", "a word has no '=' after it", 1, None),
        ("a = {b = 1\n", "braces are opened with '{' and never closed", 1, None),
        ("d = 2026-02-31\n", "this is not a day that exists", 1, None),
        ('a = "\\q"\n', "a backslash starts a sign TOML does not know", 1, None),
        ('a = "x\x07"\n', "the character U+0007 BELL may not stand here", 1, 7),
        ("a = '''\nx\n", "a text is opened and never closed", 2, None),
        ("= 3\n", "neither a heading nor a word", 1, 1),
    ],
)
def test_a_break_of_the_rules_is_told_in_a_keepers_words(text, said, line, column):
    found = refused(text)
    assert found.code == "facility/not-toml"
    assert said in found.text
    assert found.spot.line == line
    assert column is None or found.spot.column == column
    assert "(at line" not in found.text


def test_the_mark_stands_under_the_place():
    shown, mark = refused('schema = 1\nname = "Kelp\n').text.split("\n")[1:]
    assert shown[mark.index("^")] == '"'
    assert mark.strip() == "^"


def test_the_mark_stands_right_in_a_very_long_line():
    found = refused("a = [" + "1, " * 3000 + '"x\n')
    shown, mark = found.text.split("\n")[1:]
    assert len(shown) < 100
    assert shown[mark.index("^")] == '"'


def test_what_is_not_utf8_is_named_by_line_and_byte():
    found = refused('schema = 1\nname = "Küste"\n'.encode("latin-1"))
    assert (found.code, found.spot.line, found.spot.column) == ("facility/not-utf8", 2, 10)
    assert "0xFC" in found.text


def test_a_fault_behind_a_byte_order_mark_is_counted_right():
    found = refused(b'\xef\xbb\xbfname = "K\xfcste"\n')
    assert (found.spot.line, found.spot.column) == (1, 11)


def test_utf16_is_named_as_such():
    assert "UTF-16" in refused("schema = 1".encode("utf-16")).text


def test_a_byte_order_mark_and_windows_line_ends_are_no_fault(good):
    raw = b"\xef\xbb\xbf" + good.replace("\n", "\r\n").encode()
    checked = reading.read(raw)
    assert checked.findings == ()
    assert checked.facility.spots["sump.basin.volume"].line == good.splitlines().index('volume = "5 m3"') + 1


def test_a_file_nested_beyond_reason_is_refused():
    assert refused("a = " + "[" * 100_000).code in ("facility/too-deep", "facility/not-toml")
    assert refused("a = " + "[" * 100_000 + "]" * 100_000).code in (
        "facility/too-deep",
        "facility/unknown-word",
    )


def test_a_file_of_many_megabytes_is_refused():
    assert refused(b"#" * (syntax.LARGEST + 1)).code == "facility/too-large"


def test_a_number_of_thousands_of_digits_is_refused():
    assert refused("schema = " + "9" * 5000).code in ("facility/not-toml", "facility/future-schema")


def test_a_later_schema_is_refused_and_nothing_is_read():
    found = refused("schema = 99\n[whatever]\nx = 1\n")
    assert found.code == "facility/future-schema"
    assert "schema 99; this version knows up to 1" in found.text


@pytest.mark.parametrize("schema", ["true", '"1"', "1.0", "0", "-1"])
def test_a_schema_is_a_whole_number(schema):
    assert refused(f"schema = {schema}\n").code == "facility/wrong-kind"


@pytest.mark.parametrize("text", ["", "\n\n", "# only a note\n", b"\xef\xbb\xbf"])
def test_an_empty_file_is_sent_to_init(text):
    found = refused(text)
    assert found.code == "facility/empty"
    assert "brinehouse init" in found.hint


def test_a_missing_schema_does_not_hide_the_other_faults(good):
    checked = reading.read(good.replace("schema = 1\n", "").replace('volume = "5 m3"', "volume = 5"))
    assert sorted(one.code for one in checked.findings) == ["facility/missing", "facility/no-unit"]

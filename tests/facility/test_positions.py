"""The line scanner against texts whose places are known because the test wrote them."""

import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from brinehouse.facility import positions, starting

BARE = st.text("abcdefghijklmnopqrstuvwxyzABC0123456789_-", min_size=1, max_size=8)
QUOTED = st.text(st.characters(codec="utf-8", exclude_characters="\x7f", min_codepoint=32), max_size=8)
SPACE = st.sampled_from(["", " ", "  ", "\t"])
LINE = st.sampled_from(["", "   ", "# a note = 1", "  # [not.a.table]", '# "open'])


def basic(text):
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


LITERALS = st.one_of(
    st.sampled_from([
        "1", "-3.5", "true", "2026-03-01", "2026-03-01 07:32:00", "1e3", "'lit [x] # no'", "[]", "{}", '""',
        "''", '"#"',
        '"""long\n[a.b]\nc = 1\n"""', "'''\nlong ' quote\n'''", '"""ends with "two"""""',
        '"""\\\n  x"""', "inf", "0x1F",
        "[1, 2 , # note ]\n 3,\n]", '[["a", "b"], ["]", "#"]]', '{ a = 1, b.c = "}", "d e" = [1, {f = 2}] }',
    ]),
    QUOTED.map(basic),
)  # fmt: skip


@st.composite
def documents(draw):
    """A text, and where each key and value of it begins."""
    lines, known = [], {}
    single, counts = set(), {}
    for _ in range(draw(st.integers(0, 5))):
        name = draw(st.one_of(st.sampled_from(["tank", "limit"]), BARE, QUOTED))
        several = name in counts or draw(st.booleans())
        if name in single:
            continue
        if not several:
            single.add(name)
        lines += draw(st.lists(LINE, max_size=2))
        indent, inside = draw(SPACE), draw(SPACE)
        key = name if name and all(c.isascii() and (c.isalnum() or c in "_-") for c in name) else basic(name)
        shut = ("[[", "]]") if several else ("[", "]")
        lines.append(f"{indent}{shut[0]}{inside}{key}{inside}{shut[1]} # x")
        path = (name,)
        if several:
            counts[name] = counts.get(name, -1) + 1
            path = (name, counts[name])
        known[path] = (_row(lines), len(indent) + 1)
        for word in draw(st.lists(BARE, max_size=4, unique=True)):
            before, after, literal = draw(SPACE), draw(SPACE), draw(LITERALS)
            dotted = draw(st.booleans())
            written = f"{word}.x" if dotted else word
            lines.append(f"{before}{written}{after}={after}{literal} {draw(st.sampled_from(['', '# note']))}")
            row = _row(lines) - literal.count("\n")
            known[(*path, word, "x") if dotted else (*path, word)] = (
                row,
                len(before + written + after * 2) + 2,
            )
        lines += draw(st.lists(LINE, max_size=2))
    return draw(st.sampled_from(["\n", "\r\n"])).join("\n".join(lines).split("\n")) + "\n", known


def _row(lines):
    return "\n".join(lines).count("\n") + 1


@given(documents())
@settings(max_examples=100, deadline=None)
def test_every_value_is_found_where_it_was_written(made):
    text, known = made
    tomllib.loads(text)
    found = positions.scan(text)
    for path, (line, column) in known.items():
        place = found.places[path]
        assert (place.value_line, place.value_column) == (line, column), path


def leaves(value, path=()):
    if isinstance(value, dict) and value:
        for name, inside in value.items():
            yield from leaves(inside, (*path, name))
    elif isinstance(value, list) and value:
        for index, inside in enumerate(value):
            yield from leaves(inside, (*path, index))
    elif path:
        yield path


@given(documents())
@settings(max_examples=60, deadline=None)
def test_everything_the_parser_reads_has_a_place(made):
    text, _ = made
    found = positions.scan(text)
    for path in leaves(tomllib.loads(text)):
        assert path in found.places


def test_everything_in_the_example_file_has_a_place():
    text = starting.example()
    found = positions.scan(text)
    lines = text.splitlines()
    for path in leaves(tomllib.loads(text)):
        place = found.places[path]
        if isinstance(path[-1], str):
            assert lines[place.line - 1][place.column - 1 :].startswith(path[-1])
            assert lines[place.value_line - 1][place.value_column - 1] in '"[{0123456789tf'


@given(st.text(st.sampled_from("ab[]{}=.\"'#\\\n\r ,1é"), max_size=60))
@settings(max_examples=500, deadline=None)
def test_text_that_is_no_toml_does_no_harm(text):
    positions.scan(text)


def test_lists_nested_beyond_reason_get_the_place_of_their_parent():
    found = positions.scan("a = " + "[" * 5000 + "]" * 5000)
    deep = ("a",) + (0,) * 2000
    assert found.spot(deep).line == 1


def test_what_is_missing_points_to_its_table():
    found = positions.scan('[tank.reef]\nname = "x"\n', "facility.toml")
    spot = found.spot(("tank", "reef", "volume"))
    assert (str(spot), spot.field) == ("facility.toml:1:1", "tank.reef.volume")


def test_a_heading_of_its_own_outdoes_one_that_was_implied():
    found = positions.scan("[tank.reef]\n[tank]\nx = 1\n")
    assert found.spot(("tank",)).line == 2


def test_three_thousand_places_are_all_found():
    text = "".join(f'[pump.P-{number}]\npower = "4 kW"\nflow = "48 m3/h"\n' for number in range(1000))
    assert len(positions.scan(text).places) == 3001

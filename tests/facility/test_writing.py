"""One value changed, everything else kept to the letter."""

import difflib
import re
import tomllib

import pytest

from brinehouse.facility import starting, writing

EXAMPLE = starting.example()


def changed_lines(text):
    before, after = EXAMPLE.splitlines(), text.splitlines()
    return [line for line in difflib.ndiff(before, after) if line[0] in "+-"]


def test_a_changed_value_keeps_its_note_and_every_other_line():
    text = writing.set_value(EXAMPLE, "tank.reef.elevation", "1.9 m")
    assert tomllib.loads(text)["tank"]["reef"]["elevation"] == "1.9 m"
    removed, added = changed_lines(text)
    assert removed.startswith('- elevation = "1.8 m"')
    assert re.fullmatch(r'\+ elevation = "1\.9 m" +# of its floor above the plant-room datum', added)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("facility.allowance", "3 %"),
        ("tank.kelp.depth", "1.7 m"),
        ("limit[0].act", "outside 21 °C to 28 °C"),
        ("duty.return.keep", 2),
        ("duty.return.pumps", ["P-1"]),
        ("duty.return.pumps[1]", "P-1"),
        ("tank.quarantine.stands_alone", False),
        ("tank.quarantine.depth", "1 m"),
        ("source[0].map[0].register", 40002),
        ("facility.units.temperature", "°F"),
        (("tank", "reef", "name"), 'Reef "two"'),
        ("tank.new.volume", "3 m3"),
    ],
)
def test_any_value_can_be_changed_or_added(path, value):
    text = writing.set_value(EXAMPLE, path, value)
    page = tomllib.loads(text)
    for step in writing.split(path) if isinstance(path, str) else path:
        page = page[step]
    assert page == value
    assert len([line for line in changed_lines(text) if line.strip("+- ")]) <= 2
    assert text.count("#") == EXAMPLE.count("#")


def test_a_value_can_be_taken_out():
    text = writing.set_value(EXAMPLE, "tank.reef.salinity", None)
    assert changed_lines(text) == ['- salinity = "34 ppt"']


@pytest.mark.parametrize("path", ["limit[7].act", "duty.return.pumps[9]"])
def test_what_is_not_there_cannot_be_changed(path):
    with pytest.raises(KeyError):
        writing.set_value(EXAMPLE, path, "x")
    with pytest.raises(KeyError):
        writing.set_value(EXAMPLE, "tank.reef.nothing", None)


def test_windows_line_ends_are_kept():
    text = writing.set_value(EXAMPLE.replace("\n", "\r\n"), "facility.name", "New name")
    assert text.count("\r\n") == text.count("\n")


def test_a_broken_file_is_not_touched():
    with pytest.raises(ValueError):
        writing.set_value("a = ", "a", "1")

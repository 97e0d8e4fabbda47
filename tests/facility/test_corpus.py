"""The nasty facility files, each with its verdict, where its faults are, and what must be said.

The corpus speaks generic words; `Translation` turns them into the words of the facility file.
"""

import datetime as dt
import json
import pathlib
import re
import tomllib

import pytest

from brinehouse.facility import positions, reading
from brinehouse.findings import Level

CORPUS = pathlib.Path(__file__).parents[1] / "corpus"
INDEX = {entry["file"]: entry for entry in json.loads((CORPUS / "INDEX.json").read_text("utf-8"))["files"]}
FILES = sorted(name for name, entry in INDEX.items() if entry["kind"] == "facility-toml")
AS_THEY_ARE = {"f16_syntax_error.toml", "f23_future_schema.toml", "f30_not_utf8.toml", "f31_empty.toml"}

SAYS = {
    "f01_dangling_connection.toml": [
        r"from F-1 goes to 'T-3', which does not exist; so T-2 has an outlet and no inlet",
        r"did you mean 'T-1' or 'T-2'\?",
    ],
    "f03_containment_cycle.toml": [r"T-1 is part of T-2, which is part of S-1, which is part of T-1: a ring"],
    "f05_case_and_form_collisions.toml": [r"'T-1' and tank 't-1' and tank 'T‑1' \(U\+2011\) are too alike"],
    "f06_negative_flow.toml": [r"from F-1 to T-1 is negative", r"turn the run round"],
    "f08_volume_not_from_sizes.toml": [r"at most 2 m³, but the volume says 12 m³: 6 times"],
    "f10_unit_missing_or_ambiguous.toml": [
        r"T-1: 'volume' has no unit",
        r"US \(3\.785 L\) or imperial \(4\.546 L\)",
        r"'degrees' is not a unit of temperature",
    ],
    "f11_mass_balance.toml": [
        r"F-1: in 18 m³/h, out 22 m³/h: 4 m³/h too much out .*2 % is allowed",
        r"T-2: in 12 m³/h, out 8 m³/h: 4 m³/h too much in .*2 % is allowed",
    ],
    "f13_unknown_keys.toml": [
        r"tank T-1 has 'volumme'.*\n.*'volume'",
        r"'time_zone'.*\n.*'timezone'",
        r"'piont'.*\n.*point",
    ],
    "f15_bidi_and_controls.toml": [
        r"name of tank T-1 .*U\+202E RIGHT-TO-LEFT OVERRIDE.*U\+2066",
        r"name of tank T-2 .*U\+0007 BELL, U\+001B ESCAPE",
        r"name of tank S-1 is empty: .*U\+200B",
    ],
    "f16_syntax_error.toml": [r"line 13: a text is opened here and not closed", r'id = "T-2\n +\^'],
    "f18_wrong_types.toml": [
        r"tank T-1: 'volume' is true, not text with a volume and its unit",
        r"tank T-2: 'name' is a list, not text",
        r"point TT-1: 'expected' is the text '24-26', not a list of two amounts",
        r"'facility' is a list of tables, not one table",
    ],
    "f20_unconnected_parts.toml": [r"T-9 has no connections\n.*stands_alone = true"],
    "f21_limits_inverted.toml": [r"the expected range is upside down", r"fit inside the possible range"],
    "f23_future_schema.toml": [r"schema 99; this version knows up to 1\. Nothing was changed"],
    "f25_shared_address.toml": [
        r"register 40001 is mapped twice",
        r"point TT-1 has two sources",
        r"'TT-2', which does not exist",
    ],
    "f26_secrets_in_file.toml": [r"secret in plain sight", r"env:NAME.*file:PATH", r"well-known default"],
    "f28_missing_required.toml": [
        r"the tank in line \d+ has no id",
        r"run c0 has no 'from'",
        r"point TT-1 has no 'quantity'",
    ],
    "f30_not_utf8.toml": [r"line 9 is not UTF-8: it holds the byte 0xFC", r"as UTF-8"],
    "f31_empty.toml": [r"a schema, a facility and one tank", r"brinehouse init"],
}  # fmt: skip
NEVER_SAYS = {
    "f10_unit_missing_or_ambiguous.toml": r"12 L",
    "f26_secrets_in_file.toml": r"\badmin\b",
    "f13_unknown_keys.toml": r"has no '(volume|timezone)'",
    "f11_mass_balance.toml": r"inconsistent",
}


def quoted(text):
    """A text as TOML writes it, everything outside ASCII escaped."""
    return '"' + "".join(_escaped(char) for char in text) + '"'


def _escaped(char):
    if char in '"\\':
        return "\\" + char
    if " " <= char <= "~":
        return char
    return f"\\U{ord(char):08X}"


def written(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, list):
        return "[" + ", ".join(written(item) for item in value) + "]"
    if isinstance(value, dt.date):
        return value.isoformat()
    return json.dumps(value)


class Translation:
    """A generic file in our words, and where each generic key went."""

    def __init__(self, generic):
        self.lines = []
        self.paths = {}
        for name, content in tomllib.loads(generic).items():
            if isinstance(content, dict):
                self._table(f"[{name}]", name, (name,), content)
            elif isinstance(content, list):
                for index, entry in enumerate(content):
                    self._entry(name, index, entry)
            else:
                self.lines.append(f"{name} = {written(content)}")
                self.paths[name] = (name,)

    @property
    def text(self):
        return "\n".join(self.lines) + "\n"

    def _table(self, heading, key, path, content, rename=()):
        self.lines += ["", heading]
        self.paths[key] = path
        words = dict(rename)
        for word, value in content.items():
            if isinstance(value, list) and value and isinstance(value[0], dict):
                for index, inner in enumerate(value):
                    self._table(
                        f"[[{path[0]}.{word}]]", f"{key}.{word}[{index}]", (*path, word, index), inner
                    )
                continue
            self.lines.append(f"{words.get(word, word)} = {written(value)}")
            self.paths[f"{key}.{word}"] = (*path, words.get(word, word))

    def _entry(self, name, index, entry):
        key = f"{name}[{index}]"
        entry = dict(entry)
        if name in ("source", "facility"):
            path = (name, index) if name == "source" else (name,)
            self._table(f"[[{name}]]", key, path, entry)
            self.paths.setdefault(name, (name,))
            return
        table = {"connection": "run"}.get(name, name)
        if name == "equipment" and entry.get("kind") == "pump":
            table = "pump"
            del entry["kind"]
        own = f"c{index}" if name == "connection" else entry.pop("id", None)
        if "unit" in entry:
            for word in ("expected", "possible"):
                if isinstance(entry.get(word), list):
                    entry[word] = [f"{number} {entry['unit']}" for number in entry[word]]
        path = (table,) if own is None else (table, own)
        heading = f"[{table}]" if own is None else f"[{table}.{quoted(own)}]"
        self._table(heading, key, path, entry, {"rated_flow": "flow", "place": "at"})
        self.paths.setdefault(name, (table,))
        self.paths[f"{key}.id"] = path

    def path(self, key):
        """Where a generic key stands in our words, also one that is missing there."""
        if key in self.paths:
            return self.paths[key]
        outer, _, word = key.rpartition(".")
        return (*self.paths[outer], word) if outer else (key,)


def checked(name):
    raw = (CORPUS / name).read_bytes()
    if name in AS_THEY_ARE:
        return reading.read(raw, name), None
    translation = Translation(raw.decode("utf-8"))
    return reading.read(translation.text.encode("utf-8"), name), translation


def verdict(found):
    levels = {one.level for one in found}
    if Level.STOP in levels:
        return "reject-file"
    if Level.ASK in levels:
        return "ask"
    return "accept-with-note" if levels else "accept"


@pytest.mark.parametrize("name", FILES)
def test_every_nasty_file_gets_its_verdict(name):
    result, _ = checked(name)
    assert verdict(result.findings) == INDEX[name]["verdict"], "\n".join(map(str, result.findings))
    assert (result.facility is None) == (INDEX[name]["verdict"] == "reject-file")


@pytest.mark.parametrize("name", [name for name in FILES if INDEX[name]["where"]])
def test_every_fault_is_shown_where_it_is(name):
    result, translation = checked(name)
    for where in INDEX[name]["where"]:
        if "line" in where:
            assert where["line"] in [one.spot.line for one in result.findings]
            continue
        path = translation.path(where["key"]) if translation else (where["key"],)
        field = positions.written(path)
        place = result.positions.place(path)
        met = [
            one
            for one in result.findings
            if one.spot.field == field
            or one.spot.field.startswith((field + ".", field + "["))
            or (place and one.spot.line == place.line)
        ]
        assert met, f"{where['key']} ({field}) in\n" + "\n".join(map(str, result.findings))
        assert all(one.spot.line for one in met)


@pytest.mark.parametrize("name", SAYS)
def test_the_messages_say_what_a_keeper_needs(name):
    result, _ = checked(name)
    said = "\n".join(map(str, result.findings))
    for wanted in SAYS[name]:
        assert re.search(wanted, said), f"{wanted}\n---\n{said}"


@pytest.mark.parametrize("name", NEVER_SAYS)
def test_the_messages_never_say_the_wrong_thing(name):
    result, _ = checked(name)
    said = json.dumps([one.as_json() for one in result.findings], ensure_ascii=False)
    assert not re.search(NEVER_SAYS[name], said), said


def test_every_file_of_the_corpus_has_its_sayings():
    assert set(FILES) == set(SAYS) | {"f00_good.toml"}


def test_the_good_file_is_understood_whole():
    result, _ = checked("f00_good.toml")
    assert result.facility is not None
    assert list(result.facility.vessels) == ["T-1", "T-2", "S-1"]
    assert (len(result.facility.pumps), len(result.facility.equipment), len(result.facility.runs)) == (
        1,
        1,
        6,
    )
    assert list(result.facility.systems) == ["T-1"]
    assert result.facility.systems["T-1"].places == ("T-1", "T-2", "S-1")


def test_no_message_shows_a_hidden_character():
    result, _ = checked("f15_bidi_and_controls.toml")
    for one in result.findings:
        shown = one.text.replace("\n", "") + one.hint.replace("\n", "")
        assert shown.isprintable(), repr(shown)

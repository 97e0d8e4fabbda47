"""The whole file: never a crash on any bytes, fast, and a model that remembers where it stands."""

import hashlib
import json
import pathlib
import pickle
import re
import time

import hypothesis
from hypothesis import given, settings
from hypothesis import strategies as st

from brinehouse import findings
from brinehouse.facility import hidden, reading, starting, words

EXAMPLE = starting.example()
NASTY = st.sampled_from(
    [
        *(
            "",
            " ",
            "\u202e",
            "\x00",
            "1",
            "-1",
            "12 m3",
            "1e999 m",
            "outside",
            "reef",
            "[",
            "]",
            '"',
            "'",
            "{",
            "}",
        ),
        *(
            "=",
            ".",
            "\n",
            "true",
            "999999999999999999999",
            "nan",
            "[[]]",
            "{}",
            "\ud7ff",
            "env:",
            "password",
            "﷽",
        ),
        *("🐟", "°C", "above", "1 °C to", "a" * 300),
    ]
)


def never_crashes(text):
    checked = reading.read(text)
    stopped = findings.worst(checked.findings) is findings.Level.STOP
    assert (checked.facility is None) == stopped
    known = findings.codes()
    for found in checked.findings:
        assert found.code in known
        assert found.text
        assert not any(hidden.is_hidden(char) for char in (found.text + found.hint).replace("\n", ""))
        json.dumps(found.as_json())
    return checked


@given(st.binary(max_size=400))
@settings(max_examples=300, deadline=None)
def test_no_bytes_make_it_crash(raw):
    never_crashes(raw)


@given(st.text(max_size=400))
@settings(max_examples=300, deadline=None)
def test_no_text_makes_it_crash(text):
    never_crashes(text)


@given(st.lists(st.tuples(st.integers(0, len(EXAMPLE)), st.integers(0, 12), NASTY), min_size=1, max_size=4))
@settings(max_examples=150, deadline=None)
def test_no_slip_of_the_hand_makes_it_crash(slips):
    text = EXAMPLE
    for at, gone, typed in slips:
        text = text[:at] + typed + text[at + gone :]
    never_crashes(text)


SIMPLE = [
    "true",
    "2026-03-01",
    "07:32:00",
    '"reef"',
    '"basin"',
    '"P-1"',
    '"temperature"',
    '"1 m"',
    "1.0",
    "-2.5e7",
]
VALUES = st.recursive(
    st.one_of(NASTY.map(json.dumps), st.integers().map(str), st.sampled_from([*SIMPLE, "inf", "nan"])),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: "[" + ", ".join(items) + "]"),
        st.tuples(st.sampled_from(["a", "temperature"]), inner).map(lambda p: f"{{ {p[0]} = {p[1]} }}"),
    ),
    max_leaves=6,
)
LINES = [
    (number, line.split(" = ")[0])
    for number, line in enumerate(EXAMPLE.splitlines())
    if re.match(r"\w+ = ", line)
]


@given(st.lists(st.tuples(st.sampled_from(LINES), VALUES), min_size=1, max_size=3))
@settings(max_examples=150, deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow])
def test_any_value_at_any_word_is_judged_and_not_crashed_on(changes):
    lines = EXAMPLE.splitlines()
    for (number, word), value in changes:
        lines[number] = f"{word} = {value}"
    never_crashes("\n".join(lines))


def test_a_thousand_tables_are_checked_within_a_second(good):
    text = good + "".join(
        f'\n[tank.t{n}]\nvolume = "12 m3"\ndepth = "2 m"\ntemperature = "25 °C"\n'
        f'[run.in{n}]\nfrom = "basin"\nto = "t{n}"\nflow = "1 m3/h"\n'
        f'[run.out{n}]\nfrom = "t{n}"\nto = "basin"\nflow = "1 m3/h"\n'
        for n in range(333)
    )
    reading.read(good)
    start = time.process_time()
    checked = reading.read(text)
    took = time.process_time() - start
    assert checked.findings == ()
    assert len(checked.facility.tanks) == 334
    assert took < 1.0, took


def test_a_thousand_misspelt_tables_are_refused_in_good_time(good):
    text = good + "".join(f'\n[tank.t{n}]\nvolumme = "12 m3"\npart_of = "nowhere-{n}"\n' for n in range(500))
    start = time.process_time()
    assert reading.read(text).facility is None
    assert time.process_time() - start < 10.0


def test_findings_come_by_line(good):
    text = (
        good.replace('volume = "5 m3"', "volume = 5")
        .replace("keep = 1", "keep = 7")
        .replace("London", "Lundon")
    )
    lines = [one.spot.line for one in reading.read(text).findings]
    assert lines == sorted(lines)
    assert len(lines) == 3


def test_the_model_remembers_where_everything_stands(good):
    facility = reading.read(good, "hall.toml").facility
    spot = facility.vessels["basin"].spot
    assert str(spot) == f"hall.toml:{good.splitlines().index('[sump.basin]') + 1}:1"
    assert spot.thing == "sump basin"
    assert str(facility.spots["limit[0].act"]).endswith(":7")


def test_the_digest_is_that_of_the_text(good):
    assert reading.read(good).facility.digest == hashlib.sha256(good.encode()).hexdigest()
    assert reading.read(good.encode()).facility.digest == reading.read(good).facility.digest


def test_the_model_can_be_sent_to_another_process(good):
    facility = reading.read(good).facility
    assert pickle.loads(pickle.dumps(facility)) == facility


def test_the_hall_of_the_demonstration_has_no_stopping_finding():
    page = pathlib.Path(reading.__file__).parents[1] / "demo" / "hall.toml"
    checked = reading.read(page.read_bytes(), page.name)
    assert findings.worst(checked.findings) in (None, findings.Level.NOTE), list(map(str, checked.findings))


def test_every_word_of_the_table_is_met_in_the_example():
    used = {name: set() for name in words.tables()}
    table = ""
    for line in EXAMPLE.splitlines():
        if line.endswith(".does]]"):
            table = "failure.does"
        elif line.endswith(".stop]]"):
            table = "round.stop"
        elif hit := re.match(r"\[+([\w.]+?)(?:\.[\w-]+)?\]+", line):
            table = "source.map" if "source.map" in line else hit.group(1)
        elif hit := re.match(r"(\w+) = ", line):
            used[table].add(hit.group(1)) if table else None
    spoken = used["tank"] | used["sump"] | used["vessel"]
    for name in ("tank", "sump", "vessel"):
        used[name] = spoken
    missing = {name: set(rows) - used[name] for name, rows in words.tables().items()}
    missing["source"].discard("map")
    missing["failure"].discard("does")
    missing["round"].discard("stop")
    missing["source.map"] -= {"topic", "node"}
    assert {name: rest for name, rest in missing.items() if rest} == {}

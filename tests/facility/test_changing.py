"""What-ifs: the list read, carried out, checked, and every finding at the line that caused it."""

import dataclasses
import importlib.resources
import itertools
import tomllib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brinehouse import findings
from brinehouse.facility import changing, reading, starting, words

EXAMPLE = starting.example()
HALL = importlib.resources.files("brinehouse.demo").joinpath("hall.toml").read_text("utf-8")


def tried(lines, text=EXAMPLE):
    return changing.apply(text, changing.parse(lines, "box"))


def codes(changed):
    return {one.code for one in changed.findings}


def plain(facility):
    """A facility without its places in the text: what it is, wherever it is written."""

    def stripped(thing):
        if dataclasses.is_dataclass(thing):
            kept = [f.name for f in dataclasses.fields(thing) if f.name not in ("spot", "spots", "digest")]
            return tuple((name, stripped(getattr(thing, name))) for name in kept)
        if isinstance(thing, dict):
            return tuple(sorted((str(key), stripped(value)) for key, value in thing.items()))
        if isinstance(thing, tuple):
            return tuple(stripped(item) for item in thing)
        return repr(thing)

    return stripped(facility)


def test_an_empty_list_gives_the_same_text():
    changed = tried("\n# nothing yet\n")
    assert changed.text == EXAMPLE
    assert changed.facility is not None
    assert changed.said == ()
    assert changed.findings == ()


def test_a_value_is_set_and_its_note_stays():
    changed = tried("set reef elevation = 1.9 m")
    assert 'elevation = "1.9 m"' in changed.text
    assert "of its floor above the plant-room datum" in changed.text
    assert changed.text.count("#") == EXAMPLE.count("#")
    assert changed.facility.vessels["reef"].elevation == pytest.approx(1.9)
    assert changed.said == ("tank reef: elevation 1.9 m instead of 1.8 m",)


def test_both_ways_of_writing_say_the_same():
    toml = """
    [[set]]
    what = "reef"
    salinity = "33 ppt"

    [[remove]]
    what = "sand"

    [[reroute]]
    what = "top-up"
    to = "reef"
    """
    typed = "set reef salinity = 33 ppt\nremove sand\nreroute top-up to reef"
    one, two = tried(toml), tried(typed)
    assert one.text == two.text
    assert one.said == two.said


def test_a_removed_machine_leaves_the_way_of_its_runs():
    changed = tried("remove sand")
    assert changed.facility.runs["supply"].through == ("return", "header")
    assert "equipment sand is taken out" in changed.said
    assert "run supply now passes return and header" in changed.said


def test_a_removed_tank_takes_its_runs_points_and_animals_along():
    changed = tried("remove reef")
    told = " ".join(changed.said)
    assert not {"supply", "overflow"} & set(changed.facility.runs)
    assert "reef" not in changed.facility.vessels
    for gone in ("run supply", "run overflow", "point reef-low", "animals 1"):
        assert gone in told


def test_a_removed_point_never_makes_its_limit_hold_everywhere():
    text = EXAMPLE + '\n[[limit]]\nquantity = "temperature"\nat = "reef-low"\nact = "above 30 °C"\n'
    before = len(reading.read(text).facility.limits)
    changed = tried("remove reef-low", text)
    assert len(changed.facility.limits) == before - 1
    assert all(limit.at for limit in changed.facility.limits)


def test_a_new_machine_is_put_into_a_run_where_the_list_says():
    changed = tried("add equipment tower; kind = packed column; into = supply; after = sand")
    assert changed.facility.runs["supply"].through == ("return", "sand", "tower", "header")
    assert changed.facility.equipment["tower"].kind == "packed column"
    before = tried("add equipment tower; kind = packed column; into = supply; before = return")
    assert before.facility.runs["supply"].through[0] == "tower"


def test_a_new_run_is_typed_as_one_says_it():
    changed = tried("add run bypass from basin through return to kelp; flow = 2 m3/h")
    run = changed.facility.runs["bypass"]
    assert (run.source, run.through, run.target) == ("basin", ("return",), "kelp")
    assert run.flow == pytest.approx(2 / 3600)


def test_a_word_can_be_left_out():
    changed = tried("set supply without flow")
    assert changed.facility.runs["supply"].flow is None
    assert changed.said == ("run supply: its flow (18 m3/h) is left open",)


@pytest.mark.parametrize(
    ("lines", "code", "hint"),
    [
        ("set suply flow = 20 m3/h", "changing/no-such-thing", "did you mean 'supply'"),
        ("remove sandd", "changing/no-such-thing", "did you mean 'sand'"),
        ("ste supply flow = 20 m3/h", "changing/unknown-verb", "did you mean 'set'"),
        ("set supply flow = 20", "facility/no-unit", "m³/h"),
        ("set supply flow = 20 kg", "facility/amount", ""),
        ("set supply flwo = 20 m3/h", "facility/unknown-word", "write 'flow'"),
        ("reroute supply to reeff", "facility/dangling", "did you mean 'reef'"),
        ("reroute reef to basin", "changing/not-run", "the runs are"),
        ("add equipment sand; kind = sand filter", "changing/exists", "another id"),
        ("add tnak third; volume = 3 m3", "changing/no-such-thing", "did you mean 'tank'"),
        (
            "add equipment tower; kind = degasser; into = supply; after = sandd",
            "changing/not-in-run",
            "did you mean 'sand'",
        ),
        ("add equipment tower; kind = degasser; after = sand", "changing/missing", "into"),
        ("set supply", "changing/no-change", "flow"),
        ("set supply flow", "changing/line", "write: set"),
        ("remove", "changing/line", "write: remove"),
        ("remove sand\nset sand kind = screen", "changing/at-odds", "keep one"),
        ("set supply flow = 18 m3/h\nset supply flow = 17 m3/h", "changing/twice", "keep one"),
        ("remove facility", "changing/no-such-thing", "part of it"),
        ("set kelp without name", "changing/no-such-thing", "take the line out"),
        ("[[sett]]\nwhat = 'reef'", "changing/unknown-verb", "[[set]]"),
        ("[[set]]\nwhat = 'reef", "changing/not-toml", "compare"),
        ("[set]\nwhat = 'reef'", "changing/wrong-kind", "[[set]]"),
        ("[[set]]\nwhat = 3\ndepth = '1 m'", "changing/wrong-kind", "write"),
        ("[[set]]\ndepth = '1 m'", "changing/missing", "write"),
        ("[[remove]]\nwhat = 'sand'\nflow = '1 m3/h'", "changing/unknown-word", "its words are"),
        ("[[reroute]]\nwhat = 'supply'\nflow = '1 m3/h'", "changing/unknown-word", "use 'set'"),
    ],
)
def test_a_fault_is_told_with_its_line_and_a_way_out(lines, code, hint):
    changed = tried(lines)
    found = [one for one in changed.findings if one.code == code]
    assert found, [str(one) for one in changed.findings]
    assert hint in found[0].hint
    assert found[0].spot.file == "box"
    assert found[0].spot.line
    assert changed.facility is None


def test_all_faults_of_a_list_are_told_at_once_each_at_its_line():
    changed = tried("set supply flow = 18\nremove sandd\nfrob x\nset reef depth = 2 m; colour = blue")
    at = {one.code: one.spot.line for one in changed.findings if one.level is findings.Level.STOP}
    assert at["facility/no-unit"] == 1
    assert at["changing/no-such-thing"] == 2
    assert at["changing/unknown-verb"] == 3
    assert at["facility/unknown-word"] == 4


def test_what_a_change_brings_elsewhere_is_told_at_its_line_with_the_line_of_the_file():
    changed = tried("# first a note\nreroute m-side to sump-m", HALL)
    gaps = [one for one in changed.findings if one.code == "facility/mass-balance"]
    assert {one.data["place"] for one in gaps} >= {"pipefish"}
    assert all(one.spot.line == 2 for one in gaps)
    assert all("facility.toml" in one.text for one in gaps)


def test_what_the_file_said_before_is_not_laid_at_the_door_of_a_change():
    text = HALL.replace('flow = "42 m3/h"', 'flow = "50 m3/h"')
    before = {one.code for one in reading.read(text).findings}
    assert "facility/mass-balance" in before
    changed = tried("remove column-m", text)
    assert codes(changed) == set()
    assert "facility/mass-balance" in {one.code for one in changed.checked.findings}


def test_a_facility_that_is_stopped_is_not_changed():
    text = EXAMPLE.replace('volume = "26 m3"', 'volume = "26"')
    changed = tried("remove sand", text)
    assert changed.text == text
    assert changed.stopped
    assert changed.said == ()


def test_a_file_that_cannot_be_written_exactly_is_refused_and_kept():
    text = 'schema = 1\nanimals = []\n[facility]\nname = "H"\ntimezone = "UTC"\n[tank.a]\nvolume = "2 m3"\n'
    changed = tried("[[add]]\ntable = 'animals'\nat = 'a'\nspecies = 'goby'", text)
    assert codes(changed) == {"changing/not-written"}
    assert changed.text == text
    assert changed.facility is None


# -- properties -----------------------------------------------------------------------------------------

SETS = {
    ("reef", "salinity"): ["33 ppt", "35 ppt"],
    ("reef", "elevation"): ["1.7 m", "1.75 m"],
    ("supply", "high"): ["4.3 m", "5 m"],
    ("supply", "diameter"): ["110 mm"],
    ("P-2", "power"): ["1.5 kW"],
    ("return", "keep"): ["2"],
}


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.dictionaries(st.sampled_from(sorted(SETS)), st.integers(0, 1), min_size=1, max_size=3))
def test_setting_and_setting_back_gives_the_same_facility(chosen):
    page = tomllib.loads(EXAMPLE)
    where = {"reef": "tank", "supply": "run", "P-2": "pump", "return": "duty"}
    there, back = [], []
    for (what, word), number in chosen.items():
        options = SETS[what, word]
        there.append(f"set {what} {word} = {options[number % len(options)]}")
        back.append(f"set {what} {word} = {page[where[what]][what][word]}")
    once = tried("\n".join(there))
    again = tried("\n".join(back), once.text)
    assert once.facility is not None
    assert plain(again.facility) == plain(reading.read(EXAMPLE).facility)


def test_animals_are_added_without_an_id():
    changed = tried("add animals at = kelp; species = goby; mass = 2 kg; depth = 0.2 m to 0.9 m")
    assert changed.facility.animals[-1].depth == pytest.approx((0.2, 0.9))
    assert changed.said == ("animals 2 is new: at kelp, species goby, mass 2 kg, depth 0.2 m, 0.9 m",)


INDEPENDENT = [
    "set reef salinity = 33 ppt",
    "remove sand",
    "reroute top-up to reef",
    "add equipment tower; kind = degasser; into = overflow",
    "add tank annex; volume = 2 m3; stands_alone = true",
    "remove quarantine",
    "set annex depth = 1 m",
]


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.permutations(INDEPENDENT))
def test_the_order_of_independent_changes_does_not_matter(lines):
    first = tried("\n".join(INDEPENDENT))
    other = tried("\n".join(lines))
    assert first.facility is not None
    assert plain(other.facility) == plain(first.facility)
    assert sorted(other.said) == sorted(first.said)


def test_any_one_thing_of_the_demo_can_be_taken_out_and_the_rest_is_kept_to_the_letter():
    page = tomllib.loads(HALL)
    lists = tuple(
        f"{word.name} = ["
        for table in words.catalogue().values()
        for word in table.words.values()
        if word.kind.startswith("list id")
    )
    ids = itertools.islice(page["equipment"], 0, None, 3)
    for name in [*ids, "P-401", "pipefish", "m-skim", "supply-tap", "DO-2", "m"]:
        changed = tried(f"remove {name}", HALL)
        assert not any(one.code.startswith("changing/") for one in changed.findings), name
        lines = set(HALL.splitlines())
        fresh = [line for line in changed.text.splitlines() if line not in lines]
        assert all(line.startswith(lists) for line in fresh), (name, fresh)
        assert "with = []" not in fresh, name


def test_a_meter_taken_out_leaves_a_stop_of_a_round_with_its_other_meters_or_the_point_s_own():
    stops = tomllib.loads(tried("remove DO-2", HALL).text)["round"]
    assert stops["morning"]["stop"][0]["with"] == ["T-2"]
    assert [stop["at"] for stop in stops["evening"]["stop"] if "with" not in stop] == [
        "pipefish-low",
        "q-1-mid",
    ]


def test_a_change_in_a_line_reads_as_it_was_typed():
    typed = "add equipment tower kind = degasser; into = supply; after = sand"
    assert changing.parse(typed).title == typed
    assert changing.parse("reroute top-up to reef").items[0].values == {"to": "reef"}

"""A first file from five answers always passes check, or says which answer is in the way."""

from hypothesis import given, settings
from hypothesis import strategies as st

from brinehouse import findings
from brinehouse.facility import reading, starting

ANSWERS = {
    "name": "Highmoor Sea Hall",
    "altitude": "412 m",
    "zone": "Europe/London",
    "tanks": ["mangrove, 58 m3, 2.6 m", "north pool; 4.2 m3"],
    "meters": ["meter A: total gas pressure, DO", "T-2: temperature"],
}


def test_five_answers_make_a_file_that_passes_check():
    text, found = starting.write(**ANSWERS)
    assert findings.worst(found) in (None, findings.Level.NOTE)
    facility = reading.read(text).facility
    assert list(facility.tanks) == ["mangrove", "north-pool"]
    assert facility.vessels["north-pool"].name == "north pool"
    assert facility.instruments["meter-a"].measures == ("total gas pressure", "oxygen")
    assert facility.altitude == 412.0


def test_what_is_not_known_is_left_as_a_note_to_fill_in():
    text, _ = starting.write(**ANSWERS | {"altitude": "", "meters": []})
    assert '# altitude = "412 m"' in text
    assert reading.read(text).facility.altitude is None


def test_each_note_that_is_offered_can_be_taken_up():
    text, _ = starting.write(**ANSWERS | {"meters": ["A: oxygen"], "tanks": ["reef, 12 m3"]})
    for line in text.splitlines():
        if line.startswith("# ") and ' = "' in line and "..." not in line:
            text = text.replace(line, line.removeprefix("# "))
    text = text[: text.index("\n# Where readings")]
    text = text.replace('timezone = "Europe/London"', 'timezone = "Europe/London"', 1)
    assert reading.read(text).facility is not None, list(map(str, reading.read(text).findings))


def test_an_answer_in_the_way_is_named():
    for answer, wrong, code in [
        ("zone", "Europe/Lundon", "facility/timezone"),
        ("altitude", "412", "facility/no-unit"),
        ("name", " ", "facility/empty-text"),
        ("name", "Hall\x07", "facility/hidden-character"),
        ("tanks", [], "facility/answer"),
        ("tanks", ["mangrove"], "facility/answer"),
        ("tanks", ["mangrove, 58 m3, 2,6 m"], "facility/answer"),
        ("tanks", ["mangrove, 58 gal"], "facility/amount"),
        ("tanks", ["reef, 1 m3", "Reef, 2 m3"], "facility/same-id"),
        ("meters", ["thermometer"], "facility/answer"),
        ("meters", ["a: happiness"], "facility/unknown-quantity"),
        ("meters", ["mangrove: oxygen"], "facility/same-id"),
    ]:
        text, found = starting.write(**ANSWERS | {answer: wrong})
        assert text is None, (answer, wrong)
        stops = [one for one in found if one.level == "stop"]
        assert [(one.code, one.spot.field) for one in stops] == [(code, answer)], list(map(str, stops))
        assert stops[0].spot.line is None


WORDS = st.text(max_size=30)


@given(WORDS, WORDS, WORDS, st.lists(WORDS, max_size=3), st.lists(WORDS, max_size=3))
@settings(max_examples=150, deadline=None)
def test_no_answers_make_a_file_that_check_refuses(name, altitude, zone, tanks, meters):
    text, found = starting.write(name=name, altitude=altitude, zone=zone, tanks=tanks, meters=meters)
    assert (text is None) == (findings.worst(found) is findings.Level.STOP)


@given(
    st.text(max_size=20),
    st.lists(st.text(st.characters(exclude_characters=",;:"), max_size=12), min_size=1, max_size=3),
)
@settings(max_examples=150, deadline=None)
def test_any_name_is_either_kept_as_written_or_refused(name, tanks):
    answers = {"name": name, "tanks": [f"{tank}, 3 m3" for tank in tanks], "meters": []}
    text, found = starting.write(**ANSWERS | answers)
    if text is None:
        assert findings.worst(found) is findings.Level.STOP
    else:
        facility = reading.read(text).facility
        assert facility.name == name.strip()
        assert [tank.name for tank in facility.places] == [tank.strip() for tank in tanks]


def test_the_example_passes_without_a_remark():
    assert reading.read(starting.example()).findings == ()

"""The document against the words: every unknown, wrong and missing one, all at once."""

import pytest

from brinehouse import findings
from brinehouse.facility import reading


def codes(checked):
    return [one.code for one in checked.findings]


def test_a_misspelt_word_names_the_word_that_was_meant(only):
    found = only("facility/unknown-word", 'volume = "5 m3"', 'volumme = "5 m3"', "stop")
    assert found.text == "sump basin has 'volumme', which is not a word for it"
    assert found.hint == "write 'volume'"
    assert found.data["near"] == "volume"


def test_a_misspelt_word_is_not_reported_as_missing_too(planted):
    assert codes(planted('volume = "5 m3"', 'volumme = "5 m3"')) == ["facility/unknown-word"]


def test_a_word_of_another_table_is_sent_there(only):
    found = only("facility/unknown-word", 'volume = "5 m3"', 'volume = "5 m3"\nsalinity_setting = "34 ppt"')
    assert "write 'salinity'" in found.hint
    found = only("facility/unknown-word", 'volume = "5 m3"', 'volume = "5 m3"\nstandby = "automatic"')
    assert "it is a word of [duty.ID]" in found.hint


def test_an_id_stands_in_the_heading(only):
    found = only("facility/unknown-word", 'volume = "5 m3"', 'volume = "5 m3"\nid = "basin"')
    assert "the id stands in the heading: [sump.ID]" in found.hint


def test_a_table_nobody_knows_lists_the_tables(only):
    assert (
        "the tables are: facility, system, tank"
        in only("facility/unknown-word", "", "[xyz]\na = 1", "stop").hint
    )


def test_a_missing_word_is_named_with_its_meaning_and_an_example(only):
    found = only("facility/missing", 'volume = "5 m3"\n', "", "stop")
    assert "sump basin has no 'volume'" in found.text
    assert found.hint == 'write volume = "58 m3"'


@pytest.mark.parametrize(("table", "said"), [("facility", "[facility]"), ("tank", "[tank.ID]")])
def test_a_missing_table_is_named_with_an_example(table, said):
    text = {"facility": '[tank.a]\nvolume = "1 m3"', "tank": '[facility]\nname = "x"\ntimezone = "UTC"'}[
        table
    ]
    found = reading.read("schema = 1\n" + text).findings
    assert [one.code for one in found if one.level == "stop"] == ["facility/missing"]
    assert f"the file has no {said}" in next(one for one in found if one.level == "stop").text


def test_a_table_without_an_id_is_named_by_its_line(only, good):
    found = only("facility/no-id", "", '[tank]\nname = "x"', "stop")
    assert f"the tank in line {len(good.splitlines()) + 2} has no id" in found.text


@pytest.mark.parametrize("name", ["", " ", "\\u200b"])
def test_an_empty_id_is_none(only, name):
    assert only("facility/no-id", "", f'[tank."{name}"]\nvolume = "1 m3"\nstands_alone = true', "stop")


@pytest.mark.parametrize("name", ["outside", "north/south", " reef 2", "x" * 61])
def test_an_id_must_fit_on_a_label(only, name):
    assert only("facility/bad-id", "", f'[tank."{name}"]\nvolume = "1 m3"\nstands_alone = true', "stop").hint


def test_an_id_with_a_hidden_character_is_refused(only):
    text = '[tank."re\\u200bef"]\nvolume = "1 m3"\nstands_alone = true'
    assert "re‹U+200B›ef" in only("facility/hidden-character", "", text, "stop").text


def test_an_empty_text_is_refused(only):
    assert only("facility/empty-text", 'name = "Small hall"', 'name = " "', "stop")


def test_a_hidden_character_in_a_list_is_found(only):
    old, new = 'through = ["return"]', 'through = ["return", "re\\u00adturn"]'
    assert "U+00AD SOFT HYPHEN" in only("facility/hidden-character", old, new, "stop").text


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('volume = "5 m3"', "volume = true", "'volume' is true, not text with a volume"),
        ('volume = "5 m3"', 'volume = ["5 m3"]', "'volume' is a list"),
        ('volume = "5 m3"', "volume = 2026-03-01", "'volume' is a date or a time"),
        ('name = "Small hall"', "name = 3", "'name' is the number 3"),
        ("keep = 1", 'keep = "one"', "'keep' is the text 'one', not a whole number"),
        ("keep = 1", "keep = 1.5", "'keep' is the number 1.5"),
        ('through = ["return"]', 'through = "return"', "not a list of ids"),
        ('depth = ["0.4 m", "1.9 m"]', 'depth = "1 m"', "not a list of two texts"),
        ('["20 m3/h", "9 m"]', '["20 m3/h"]', "'curve' is a list, not a list of pairs"),
        ('accuracy = ["0.2 °C"]', 'accuracy = "0.2 °C"', "'accuracy' is the text"),
        ('accuracy = ["0.2 °C"]', "accuracy = []", "has 0 amounts for 1 quantities"),
        ('measures = ["temperature"]', "measures = []", "'measures' is a list"),
        ('kind = "modbus-tcp"', 'kind = "telepathy"', "not one of 'modbus-tcp', 'mqtt'"),
        ('[sump.basin]\n', '[sump.basin]\nstands_alone = "no"\n', "not true or false"),
        ('species = "wrasse"', 'species = "wrasse"\nsince = "last spring"', "not a date"),
        ("register = 40001", "register = 40001\nscale = inf", "no finite number"),
    ],
)  # fmt: skip
def test_a_value_of_the_wrong_kind_says_what_was_found_and_what_is_expected(planted, old, new, said):
    text = "\n".join(one.text for one in planted(old, new).findings if one.level == "stop")
    assert said in text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[[facility]]\nname = "x"', "a list of tables, not one table"),
        ('[[tank]]\nid = "a"', "a list of tables; each tank has a heading with its id"),
        ('[limit]\nquantity = "pH"', "'limit' is one table; there may be several"),
        ("tank = 3", "'tank' is the number 3"),
        ("[[source]]\nid = 'x'\nkind = 'mqtt'\nmap = 3", "'map' is the number 3"),
        ("limit = [1]", "'limit' is a list; there may be several"),
    ],
)
def test_a_table_of_the_wrong_form_says_how_it_is_written(text, said):
    found = reading.read("schema = 1\n" + text).findings
    assert any(said in one.text and one.code == "facility/wrong-kind" for one in found), list(map(str, found))


def test_a_bare_number_is_refused_and_never_given_a_unit(only):
    found = only("facility/no-unit", 'volume = "5 m3"', "volume = 5", "stop")
    assert found.text == "sump basin: 'volume' has no unit: 5"
    assert found.hint == 'write "5 m3" if that is the unit meant'


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('volume = "5 m3"', 'volume = "5"'),
        ('depth = ["0.4 m", "1.9 m"]', "depth = [0.4, 1.9]"),
        ('["24 °C", "26 °C"]', "[24, 26]"),
        ('accuracy = ["0.2 °C"]', "accuracy = [0.2]"),
        ('altitude = "120 m"', "altitude = 120"),
        ('name = "Small hall"', 'name = "Small hall"\nallowance = 2'),
    ],
)
def test_a_missing_unit_is_missed_everywhere(only, old, new):
    assert only("facility/no-unit", old, new, "stop")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('volume = "5 m3"', 'volume = "1300 gal"', "may be US"),
        ('volume = "5 m3"', 'volume = "5 m2"', "not of volume"),
        ('volume = "5 m3"', 'volume = "five m3"', "is 'five m3'"),
        ('volume = "5 m3"', 'volume = "<5 m3"', "is a bound"),
        ('volume = "5 m3"', 'volume = ""', "is empty"),
        ('accuracy = ["0.2 °C"]', 'accuracy = ["-0.2 °C"]', "not above zero"),
        ('name = "Small hall"', 'name = "Small hall"\nallowance = "200 %"', "not between 0 and 100 %"),
        ("outside 22 °C to 28 °C", "outside 22 PSU to 28 PSU", "unit of salinity"),
    ],
)
def test_an_amount_that_is_not_understood_says_why(only, old, new, said):
    assert said in only("facility/amount", old, new, "stop").text


def test_a_unit_fits_its_quantity(only):
    found = only("facility/unit", 'unit = "°C"', 'unit = "mg/L"', "stop")
    assert "'mg/L' is not a unit of temperature" in found.text


def test_a_limit_is_written_in_a_unit_that_readings_are_kept_in(only):
    text = '[[limit]]\nquantity = "oxygen"\nact = "below 120 µmol/kg"'
    assert only("facility/unit", "", text, "stop").hint == "write it in 'mg/L'"


def test_a_band_is_written_in_one_of_four_ways(only):
    assert "above 101 %" in only("facility/band", "outside 22 °C to 28 °C", "hot", "stop").hint


def test_a_quantity_is_a_word_of_the_glossary(only):
    found = only(
        "facility/unknown-quantity", 'measures = ["temperature"]', 'measures = ["temprature"]', "stop"
    )
    assert found.hint.startswith("did you mean 'temperature'")


def test_a_point_with_a_range_needs_its_quantity(only):
    assert "no 'quantity'" in only("facility/missing", 'quantity = "temperature"\nunit', "unit", "stop").text


def test_the_order_of_words_in_a_table_does_not_matter(planted):
    old = 'quantity = "temperature"\nunit = "°C"\nexpected = ["24 °C", "26 °C"]\n'
    checked = planted(old, 'expected = ["24 °C", "26 °C"]\nunit = "°C"\nquantity = "temperature"\n')
    assert checked.findings == ()
    assert checked.facility.points["TT-1"].expected.low == 24.0
    checked = planted(
        'measures = ["temperature"]\naccuracy = ["0.2 °C"]', 'accuracy = ["0.2 °C"]\nmeasures = ["temp"]'
    )
    assert checked.facility.instruments["thermometer"].accuracy["temperature"].value == 0.2


def test_units_to_be_shown_are_those_that_can_be(only):
    line = 'name = "Small hall"\nunits = {{ {} }}'
    assert only("facility/unit", 'name = "Small hall"', line.format('temperature = "K"'), "stop")
    found = only("facility/unknown-word", 'name = "Small hall"', line.format('temprature = "°C"'), "stop")
    assert "'temperature'" in found.hint


def test_all_faults_are_shown_at_once(planted, good):
    text = (
        good.replace('volume = "5 m3"', "volume = 5")
        .replace("keep = 1", 'keep = "x"')
        .replace("[run.over", "[rnu.over")
    )
    found = reading.read(text).findings
    assert {"facility/no-unit", "facility/wrong-kind", "facility/unknown-word"} <= {one.code for one in found}
    assert findings.worst(found) is findings.Level.STOP

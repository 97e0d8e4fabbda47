"""Names: what is too alike, what does not exist, what stands in itself."""

from brinehouse.facility import reading


def test_the_good_file_has_no_finding(good):
    checked = reading.read(good)
    assert checked.findings == ()
    assert checked.facility is not None


def test_two_things_with_one_id_are_refused(only, good):
    found = only("facility/same-id", "", '[equipment.reef]\nkind = "filter"\nat = "basin"', "stop")
    assert "tank 'reef' and equipment 'reef' have one id" in found.text
    assert found.spot.line == len(good.splitlines()) + 2


def test_ids_that_differ_by_case_are_refused(only):
    assert "too alike" in only("facility/ids-too-alike", "", '[vessel.Reef]\nvolume = "1 m3"', "stop").text


def test_ids_that_differ_by_the_form_of_a_hyphen_are_refused(only):
    assert "U+2013" in only("facility/ids-too-alike", "", '[vessel."P–1"]\nvolume = "1 m3"', "stop").text


def test_a_machine_that_does_not_exist_is_named_with_what_was_meant(only, good):
    found = only("facility/dangling", 'through = ["return"]', 'through = ["retrun"]', "stop")
    assert "run supply passes 'retrun', which does not exist" in found.text
    assert found.hint == "did you mean 'return'?"
    line = good.splitlines().index('through = ["return"]') + 1
    assert (found.spot.line, found.spot.column) == (line, 12)


def test_a_lost_end_says_which_tank_is_left_without_inlet(only):
    found = only("facility/dangling", 'to = "reef"\nflow', 'to = "lagoon"\nflow', "stop")
    assert "so reef has an outlet and no inlet" in found.text


def test_a_meter_that_does_not_exist_offers_the_meters_there_are(only):
    found = only("facility/dangling", 'instrument = "thermometer"', 'instrument = "xyz"', "stop")
    assert "thermometer" in found.hint


def test_a_tank_among_the_machines_of_a_run_is_of_the_wrong_kind(only):
    found = only("facility/wrong-reference", 'through = ["return"]', 'through = ["return", "reef"]', "stop")
    assert "which is a tank, not a pump, duty group or equipment" in found.text


def test_animals_do_not_live_outside(only):
    found = only("facility/wrong-reference", 'at = "reef"\nspecies', 'at = "outside"\nspecies', "stop")
    assert "kept for water that enters or leaves" in found.text


def test_a_system_must_be_defined_before_a_tank_is_in_it(only):
    found = only("facility/dangling", "[sump.basin]\n", '[sump.basin]\nsystem = "reef"\n', "stop")
    assert "'system' names 'reef', which does not exist" in found.text


def test_water_may_come_from_outside(planted):
    checked = planted("", '[run.mains]\nfrom = "outside"\nto = "basin"')
    assert checked.findings == ()


def test_a_ring_of_places_is_shown_whole(only):
    found = only("facility/ring", "[sump.basin]\n", '[sump.basin]\npart_of = "basin"\n', "stop")
    assert found.text == "basin is part of basin: a ring"


def test_machines_that_stand_in_each_other_are_a_ring(planted):
    text = '[equipment.a]\nkind = "x"\nat = "b"\n[equipment.b]\nkind = "x"\nat = "a"'
    found = [one for one in planted("", text).findings if one.code == "facility/ring"]
    assert [one.text for one in found] == ["a stands in b, which stands in a: a ring"]


def test_a_direction_mark_in_a_note_is_refused(only):
    found = only("facility/hidden-character", 'altitude = "120 m"', 'altitude = "120 m" # \u202eneht', "stop")
    assert "line 5 holds U+202E" in found.text


def test_a_name_in_a_table_that_was_misspelt_is_not_reported_as_missing(planted):
    checked = planted("[instrument.thermometer]", "[instrumnet.thermometer]")
    assert [one.code for one in checked.findings] == ["facility/unknown-word"]

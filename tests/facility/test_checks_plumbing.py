"""Pipes, losses, overflows and suctions: what is refused, what is asked, and that the right form passes."""

import pytest

from brinehouse.facility import reading

WEIR = 'crest = "3.78 m"\noverflow = "weir 0.5 m"\nrim = "4 m"\nfeed = "0.4 kg/d"\nlight = "600 W"'
PIPE = (
    'to = "reef"\nhigh = "4.1 m"\nlength = "22 m"\ndiameter = "90 mm"\nmaterial = "plastic"\n'
    'fittings = ["4 elbows", "1 tee", "ball valve"]\nloss = 2.5\nopen = "60 %"\noutlet = "3.9 m"\n'
    "siphon_break = true"
)
SUCTION = (
    'power = "1.1 kW"\nstrainer_loss = ["20 m3/h", "0.3 m"]\nsuction_length = "2 m"\n'
    'suction_diameter = "100 mm"\nsuction_fittings = ["1 entry", "2 elbows"]\nspeed = "90 %"\nnpsh = "2 m"\n'
    'best = "21 m3/h"\ncheck_valve = true'
)
CREST, END, POWER = 'crest = "3.78 m"', 'to = "reef"', 'power = "1.1 kW"'


@pytest.mark.parametrize(
    ("old", "new"), [(CREST, WEIR), (END, PIPE), (POWER, SUCTION)], ids=["overflow", "pipe", "suction"]
)
def test_a_plant_told_rightly_is_taken_without_a_word(planted, good, old, new):
    before = [str(one) for one in reading.read(good).findings]
    assert [str(one) for one in planted(old, new).findings if str(one) not in before] == []


def test_what_is_told_stands_in_the_model_in_base_units(planted):
    run = planted(END, PIPE).facility.runs["supply"]
    assert run.fittings == ((4, "elbow"), (1, "tee"), (1, "ball valve"))
    assert (run.loss.heads, run.open, run.outlet, run.siphon_break) == (2.5, 0.6, 3.9, True)
    reef = planted(CREST, WEIR).facility.vessels["reef"]
    assert (reef.overflow.kind, reef.overflow.size, reef.rim, reef.light) == ("weir", 0.5, 4.0, 600.0)
    assert reef.feed == pytest.approx(0.4)  # kg/d
    pump = planted(POWER, SUCTION).facility.pumps["P-1"]
    assert pump.strainer_loss.points == ((pytest.approx(20 / 3600), 0.3),)
    assert (pump.speed, pump.npsh, pump.check_valve) == (0.9, 2.0, True)


@pytest.mark.parametrize("word", ["C", "c", "hazen", "hazen_williams", "hw_factor", "c_factor"])
def test_a_hazen_williams_coefficient_is_refused_with_the_reason(only, word):
    found = only("facility/hazen-williams", END, f"{END}\n{word} = 140", "stop")
    assert "sea water" in found.text
    assert 'material = "plastic"' in found.hint


def test_words_that_only_look_like_it_are_still_guessed_at(only):
    assert only("facility/unknown-word", END, f'{END}\nlenght = "3 m"').hint == "write 'length'"
    assert only("facility/unknown-word", END, f"{END}\nfiting = []").hint == "write 'fittings'"


@pytest.mark.parametrize(
    ("words", "hint"),
    [("4 elbos", "'elbow'"), ("wormhole", "anything else is a 'loss'"), ("0 elbows", "elbow")],
)
def test_a_fitting_nobody_knows_is_named(only, words, hint):
    assert hint in only("facility/fitting", END, f'{END}\nfittings = ["{words}"]', "stop").hint


@pytest.mark.parametrize("text", ["weir", "weir 0 m", "notch 190°", "notch 3 m", "hole 2 cm"])
def test_an_overflow_that_cannot_be_is_refused(only, text):
    found = only("facility/overflow", CREST, f'{CREST}\noverflow = "{text}"', "stop")
    assert "standpipe 110 mm" in found.hint


@pytest.mark.parametrize("loss", ["-1", '["0 m3/h", "1 m"]', '["10 m3/h", "-1 m"]'])
def test_a_loss_below_nought_or_at_no_flow_is_refused(only, loss):
    assert only("facility/impossible", END, f"{END}\nloss = {loss}", "stop").hint


@pytest.mark.parametrize("line", ['roughness = "0 m"', 'diameter = "-90 mm"'])
def test_pipes_have_a_bore_and_a_wall(only, line):
    assert only("facility/impossible", END, f"{END}\n{line}", "stop").hint


@pytest.mark.parametrize("line", ['npsh = "0 m"', 'suction_diameter = "0 mm"', 'suction_length = "-1 m"'])
def test_suctions_have_sizes(only, line):
    assert only("facility/impossible", POWER, f"{POWER}\n{line}", "stop").hint


def test_a_rim_below_the_crest_is_asked_about(only):
    found = only("facility/rim", CREST, f'{CREST}\nrim = "3.7 m"', "ask")
    assert "not above its crest" in found.text


def test_an_overflow_without_a_crest_is_asked_about(only):
    assert "crest" in only("facility/rim", CREST, 'overflow = "weir 1 m"', "ask").hint


def test_a_pipe_that_ends_above_its_highest_point_is_asked_about(only):
    assert only("facility/high", END, f'{END}\nhigh = "4 m"\noutlet = "4.2 m"', "ask").hint


def test_a_packing_above_the_pipe_that_feeds_it_is_asked_about(good):
    text = 'through = ["return"]'
    new = 'through = ["return", "tower"]\nhigh = "3 m"'
    tower = '[equipment.tower]\nkind = "packed column"\npool = "2.9 m"\nheight = "1 m"\n\n[run.supply]'
    planted_text = good.replace(text, new).replace("[run.supply]", tower)
    codes = [one.code for one in reading.read(planted_text).findings]
    assert "facility/high" in codes
    mended = planted_text.replace('high = "3 m"', 'high = "4.2 m"')
    assert "facility/high" not in [one.code for one in reading.read(mended).findings]


def test_a_best_flow_beyond_the_curve_is_asked_about(only):
    assert only("facility/curve", POWER, f'{POWER}\nbest = "50 m3/h"', "ask").hint


def test_nothing_of_it_is_needed(good):
    assert reading.read(good).facility is not None

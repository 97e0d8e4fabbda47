"""Boards, top-ups, remedies, own failures: what is refused, what is asked, and that the right form passes."""

import re

import pytest

from brinehouse.facility import building, changing, checks_mishaps, reading, words
from brinehouse.network.transients import effects

GROUP = "keep = 1"
BASIN = 'volume = "5 m3"'
AUTO = 'keep = 1\nstandby = "automatic"\nchange_over = "30 s"'
BOTTLE = '[remedy.bottle]\nkind = "battery air"\nat = ["reef"]\ntimes = 4'
BURST = (
    '[failure.burst]\ntitle = "The supply bursts"\n\n[[failure.burst.does]]\neffect = "leak"\npart = "reef"\n'
    'hole = "40 mm"\nat = "middle"\n\n'
    '[[failure.burst.does]]\neffect = "stop"\npart = "return"\nafter = "5 min"'
)
DARK = '[board.A]\n\n[board.B]\nfed_from = "A"\n\n[pump.P-3]\nflow = "2 m3/h"\nat = "basin"\nboard = "B"'


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (GROUP, AUTO),
        (BASIN, f'{BASIN}\ntop_up = "0.5 m3/h"\ntop_up_by = "hand"'),
        ("", BOTTLE),
        ("", BURST),
        ("", '[remedy.spare]\nkind = "spare pump"\nat = ["return", "P-1"]\nready = "2 h"'),
    ],
    ids=["change-over", "top-up", "battery air", "own failure", "spare pump"],
)
def test_what_is_told_rightly_is_taken_without_a_word(planted, good, old, new):
    before = [str(one) for one in reading.read(good).findings]
    assert [str(one) for one in planted(old, new).findings if str(one) not in before] == []


def test_what_is_told_stands_in_the_model_in_base_units(planted):
    hole, stop = planted("", BURST).facility.failures["burst"].does
    assert (hole.effect, hole.part, hole.value, hole.at, hole.after) == ("leak", "reef", 0.04, "middle", 0.0)
    assert (stop.effect, stop.part, stop.value, stop.after) == ("stop", "return", None, 300.0)
    air = (
        BURST.replace('"leak"', '"air"').replace('"reef"', '"P-1"').replace('hole = "40 mm"', 'air = "0.5 %"')
    )
    told = planted("", air.replace('at = "middle"\n', "")).facility.failures["burst"].does[0]
    assert told.value == pytest.approx(5.0)  # mL in a litre
    hall = planted(
        'altitude = "120 m"', 'altitude = "120 m"\ndetection = "20 min"\ntravel = "0 min"'
    ).facility
    assert (hall.detection, hall.travel) == (1200.0, 0.0)
    assert planted(GROUP, AUTO).facility.duties["return"].change_over == 30.0


def test_what_hangs_on_a_board_hangs_on_the_one_that_feeds_it(planted):
    hall = planted("", DARK).facility
    assert hall.fed_by_board("A") == hall.fed_by_board("B") == ("P-3",)


def test_a_board_that_feeds_nothing_is_asked_about(only):
    lit = 'power = "1.1 kW"\nboard = "A"\n\n[board.A]\n\n[board.B]'
    assert "board B feeds nothing" in only("facility/board", 'power = "1.1 kW"', lit, "ask").text


def test_a_pump_on_no_board_is_noted_where_boards_are_drawn(only):
    found = only("facility/board", "", DARK, "note")
    assert "P-1 hang on no board" in found.text


def test_boards_that_feed_one_another_are_a_ring(only):
    ring = DARK.replace("[board.A]", '[board.A]\nfed_from = "B"')
    assert "which is fed from" in only("facility/ring", "", ring, "stop").text


def test_a_board_nobody_knows_is_named(only):
    assert "which does not exist" in only("facility/dangling", GROUP, f'{GROUP}\nboard = "A"', "stop").text


def test_a_change_over_by_hand_is_asked_about(only):
    slow = f'{GROUP}\nstandby = "by hand"\nchange_over = "30 s"'
    assert "not automatic" in only("facility/change-over", GROUP, slow, "ask").text


def test_a_top_up_without_a_flow_or_from_itself_is_pointed_out(only):
    assert "how much runs in" in only("facility/top-up", BASIN, f'{BASIN}\ntop_up_by = "hand"', "ask").text
    own = f'{BASIN}\ntop_up = "1 m3/h"\ntop_up_from = "basin"'
    assert "from itself" in only("facility/top-up", BASIN, own, "stop").text


@pytest.mark.parametrize(
    ("old", "new", "level", "text"),
    [
        ('at = ["reef"]', 'at = ["return"]', "stop", "does not help duty return"),
        (
            '"battery air"\nat = ["reef"]\ntimes = 4',
            '"spare pump"\nat = ["reef"]',
            "stop",
            "does not help tank",
        ),
        ("times = 4", "times = 0.5", "stop", "cannot be"),
        ("times = 4", "", "ask", "no 'times'"),
        ("times = 4", 'times = 4\nflow = "1 m3/h"', "ask", "is for make-up"),
        ('"battery air"\nat = ["reef"]\ntimes = 4', '"make-up"\nat = ["reef"]', "ask", "no 'flow'"),
    ],
)
def test_a_remedy_that_does_not_fit_is_pointed_out(planted, old, new, level, text):
    found = planted("", BOTTLE.replace(old, new)).findings
    assert [one.level for one in found if one.code == "facility/remedy" and text in one.text] == [level]


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ('part = "reef"', 'part = "P-1"', "'leak' names pump P-1"),
        ('part = "reef"\n', "", "'leak' names nothing"),
        (
            '"leak"\npart = "reef"\nhole = "40 mm"\nat = "middle"',
            '"power"\npart = "reef"',
            "of the whole hall",
        ),
        ('hole = "40 mm"\n', "", "does not say how much"),
        ('hole = "40 mm"', 'hole = "40 mm"\nopen = "50 %"', "takes 'hole', not 'open'"),
        ('hole = "40 mm"', 'hole = "4 m"', "so much or so little"),
        ('after = "5 min"', 'after = "5 min"\nat = "floor"', "'stop' takes no 'at'"),
    ],
)
def test_an_own_failure_that_cannot_be_done_is_refused(planted, old, new, text):
    found = planted("", BURST.replace(old, new)).findings
    assert [str(one.level) for one in found if one.code == "facility/failure" and text in one.text] == [
        "stop"
    ]


def test_an_own_failure_that_does_nothing_is_asked_about(only):
    assert only("facility/failure", "", '[failure.burst]\ntitle = "Something"', "ask").hint


def test_first_steps_are_sentences(only):
    steps = BURST.replace('bursts"', 'bursts"\nfirst_steps = ["Stop the pumps", " "]')
    assert only("facility/empty-text", "", steps, "stop").hint


def test_the_file_knows_the_same_effects_as_the_plant_and_by_the_same_amounts():
    known = {kind for kind, one in effects.KINDS.items() if not one.remedy} | {"valve"}
    assert set(words.tables()["failure.does"]["effect"].choices) == known == set(checks_mishaps.ON_PARTS)
    assert set(building.VALUES) == {kind for kind in known if effects.KINDS[kind].value is not None}
    assert set(words.tables()["failure.does"]["at"].choices) == set(effects.AT)


def test_every_own_failure_that_passes_is_one_that_can_be_made(planted):
    for one in planted("", BURST).facility.failures["burst"].does:
        assert effects.Effect(one.effect, one.part, one.value, one.at, one.after)


def test_taking_out_a_board_or_a_pump_takes_what_hangs_on_it_along(good):
    text = f"{good}\n{DARK}\n\n{BOTTLE}\n\n{BURST}\n"
    without = changing.apply(text, changing.parse("remove B"))
    assert 'board = "B"' not in without.text
    assert any("its 'board' is left open" in said for said in without.said)
    without = changing.apply(text, changing.parse("remove return"))
    assert "failure.burst" not in without.text
    assert not re.search(r"stopped|failure", " ".join(str(one) for one in without.findings))


def test_a_change_list_sets_and_adds_what_may_fail(good):
    typed = (
        "add board A; name = Panel\nset P-1 board = A\nset return standby = automatic; change_over = 20 s\n"
    )
    typed += "add remedy bottle; kind = battery air; at = reef; times = 4\nset facility travel = 30 min\n"
    typed += "add failure burst; title = It bursts; does = [{ effect = 'stop', part = 'P-1' }]"
    changed = changing.apply(good, changing.parse(typed))
    assert changed.findings == ()
    hall = changed.facility
    assert (hall.pumps["P-1"].board, hall.duties["return"].change_over, hall.travel) == ("A", 20.0, 1800.0)
    assert hall.remedies["bottle"].at == ("reef",)
    assert hall.failures["burst"].does[0].part == "P-1"


def test_a_heading_that_only_looks_like_the_first_line_does_not_stop_the_reading(good):
    found = reading.read(f'{good}\n[schem]\nx = "y"\n').findings
    assert "facility/unknown-word" in [one.code for one in found]

"""Duty groups from a facility file to how often they are lost: printed figures, and what must hold."""

import datetime as dt

import pytest

from brinehouse.engines import redundancy
from brinehouse.facility import reading

TOP = """schema = 1
[facility]
name = "Small hall"
timezone = "Europe/London"
crews = {crews}
[tank.reef]
volume = "26 m3"
[sump.basin]
volume = "5 m3"
[run.supply]
from = "basin"
through = ["return"]
to = "reef"
flow = "18 m3/h"
[run.overflow]
from = "reef"
to = "basin"
flow = "18 m3/h"
"""
RATE = """
[[rate]]
of = "{of}"
mode = "{mode}"
typical = "{typical}"
source = "for this check"
"""


def rate(of, mode, typical, more=""):
    return RATE.format(of=of, mode=mode, typical=typical) + more


def facility_text(pumps, duty, *rates, crews=1, more=""):
    """The file of a hall of one tank whose return pumps are told of as given."""
    names = [f"P-{n + 1}" for n in range(pumps)]
    text = TOP.format(crews=crews)
    text += "".join(f'[pump.{name}]\nflow = "22 m3/h"\n{more}' for name in names)
    text += f'[duty.return]\nname = "return pumps"\npumps = {names}\n{duty}\n'.replace("'", '"')
    return text + "".join(rates)


def facility(pumps, duty, *rates, crews=1, more=""):
    """That hall, read."""
    checked = reading.read(facility_text(pumps, duty, *rates, crews=crews, more=more))
    assert checked.facility is not None, [str(one) for one in checked.findings]
    return checked.facility


def rows(answer, name):
    return next(table.rows for table in answer.tables if table.name == name)


def codes(answer):
    return {finding.code for finding in answer.findings}


NO_BETA = 'common_cause = "0 %"\ncommon_cause_source = "none, for this check"\n'
BETA = 'common_cause = "10 %"\ncommon_cause_source = "one batch of seals"\n'
RUN = rate("pump", "fails running", "3e-5 1/h", 'repair = "24 h"\n')
REST = rate("pump", "fails at rest", "3e-6 1/h")
CHANGE = rate("return", "change-over fails", "5 %")
STANDBY = 'keep = 1\nstandby = "automatic"\nhand_start = "2 h"\ntest_starts = "1 min"\n'


# Reliability Analytics, worked example of k out of n: 3 of 4 displays at 0.9 are available 0.9477; found
def test_three_of_four_at_nine_tenths_are_available_as_printed():
    tenth = rate("pump", "fails running", "once in 216 h", 'repair = "24 h"\n')  # 24 / (216 + 24) is a tenth
    answer = redundancy.survey(facility(4, "keep = 4\nenough = 3\n" + NO_BETA, tenth, crews=4))
    assert answer.values["availability"].value == pytest.approx(94.77, abs=0.005)


# Birth-death chain, an independent calculation: 2 of 3, 3e-5/h, 24 h; and a share of common cause of 10 %
@pytest.mark.parametrize(("crews", "alone"), [(3, 1.55e-6), (1, 3.11e-6)])
def test_two_of_three_with_few_and_with_many_hands(crews, alone):
    answer = redundancy.survey(facility(3, "keep = 3\nenough = 2\n" + NO_BETA, RUN, crews=crews))
    row = rows(answer, "groups")[0]
    assert row["out_without"].value / 8760.0 == pytest.approx(alone, abs=0.006e-6)
    assert row["lost"] == "fewer than 2 of 3 pumps run"


def test_leaving_common_causes_out_misleads_by_forty_six_times():
    answer = redundancy.survey(facility(3, "keep = 3\nenough = 2\n" + BETA, RUN, crews=3))
    parts = {row["cause"]: row["out"].value for row in rows(answer, "causes") if row["least"] == 2}
    common = parts["a cause that takes all at once"]
    assert common / 8760.0 == pytest.approx(7.2e-5, abs=0.05e-5)
    assert common / parts["pumps failing one by one"] == pytest.approx(46.0, abs=0.5)
    row = rows(answer, "groups")[0]
    assert row["times_too_good"] == pytest.approx(47.0, abs=0.5)  # both together over the one
    assert row["years_without"].value > row["years"].value
    assert "redundancy/shared-rules" in codes(answer)


# Four-state chain of duty and standby, an independent calculation: 4812 years with a change-over that always
# works, 75 with one that works 95 times in a hundred
def test_a_change_over_that_fails_one_time_in_twenty_costs_most_of_what_a_standby_is_worth():
    answer = redundancy.survey(facility(2, STANDBY + NO_BETA, RUN, REST, CHANGE))
    assert answer.state == "told"
    assert answer.values["years"].value == pytest.approx(75.0, abs=0.5)
    best = rows(answer, "helps")[0]
    assert best["key"] == "sure"
    assert best["years"].value == pytest.approx(4812.0, abs=1.0)
    assert "change-over" in answer.sentence


# Norwegian Oil and Gas guideline 070, appendix D: half of rate times interval, for one channel
def test_a_change_over_that_dies_unseen_is_dead_for_half_its_interval():
    latent = rate("return", "change-over fails", "1e-5 1/h")
    tried = STANDBY + 'test_change_over = "1000 h"\n' + NO_BETA
    hidden = redundancy.survey(facility(2, tried, RUN, REST, latent))
    plain = redundancy.survey(
        facility(2, STANDBY + NO_BETA, RUN, REST, rate("return", "change-over fails", "0.5 %"))
    )
    assert hidden.values["years"].value == pytest.approx(plain.values["years"].value, rel=0.004)
    weekly = next(row for row in rows(hidden, "helps") if row["key"] == "change-over")
    assert weekly["times"] > 1.1


def test_without_rates_nothing_is_made_up_and_the_missing_words_are_named():
    answer = redundancy.survey(facility(2, STANDBY))
    assert answer.state == "not-told"
    assert answer.values == {}
    assert codes(answer) == {"redundancy/not-told"}
    words = " ".join(row["word"] for row in rows(answer, "missing"))
    for word in ("fails running", "fails at rest", "change-over fails"):
        assert word in words


@pytest.mark.parametrize(
    ("duty", "rates", "word"),
    [
        (STANDBY, (RUN.replace('repair = "24 h"\n', ""), REST, CHANGE), "repair"),
        (STANDBY.replace('hand_start = "2 h"\n', ""), (RUN, REST, CHANGE), "hand_start"),
        (STANDBY, (RUN, REST, rate("duty", "change-over fails", "1e-5 1/h")), "test_change_over"),
        (STANDBY, (RUN, CHANGE), "fails at rest"),
    ],
)
def test_each_missing_word_is_named_alone(duty, rates, word):
    missing = rows(redundancy.survey(facility(2, duty, *rates)), "missing")
    assert len(missing) == 1
    assert word in missing[0]["word"]


def test_a_share_of_common_cause_that_is_not_told_is_said_to_flatter():
    answer = redundancy.survey(facility(2, STANDBY, RUN, REST, CHANGE))
    assert "redundancy/no-common-cause" in codes(answer)
    assert rows(answer, "groups")[0]["whole"] is False


def test_a_dead_standby_is_told_as_time_in_which_nobody_knows():
    seldom = STANDBY.replace("1 min", "180 d") + NO_BETA
    row = rows(redundancy.survey(facility(2, seldom, RUN, REST, CHANGE)), "groups")[0]
    assert row["unnoticed"].value == pytest.approx(100 * 3e-6 / (2 / 4320 + 3e-5), rel=0.01)
    # found after half the interval on average, or when it is called
    never = redundancy.survey(facility(2, STANDBY.replace('test_starts = "1 min"\n', ""), RUN, REST, CHANGE))
    assert "redundancy/never-started" in codes(never)
    assert rows(never, "groups")[0]["unnoticed"].value > row["unnoticed"].value


def test_turns_start_resting_pumps_too():
    turning = STANDBY.replace('test_starts = "1 min"', 'turn = "7 d"') + NO_BETA
    tested = STANDBY.replace("1 min", "7 d") + NO_BETA
    one, other = (redundancy.survey(facility(2, duty, RUN, REST, CHANGE)) for duty in (turning, tested))
    assert one.values["years"].value == pytest.approx(other.values["years"].value)


BOARD = '[board.A]\nname = "board A"\n'
BOARD_RATE = rate("board", "fails running", "once in 200000 h", 'repair = "6 h"\n')


def test_a_board_that_feeds_all_pumps_is_a_common_cause_by_name():
    hall = facility(2, STANDBY + NO_BETA, RUN, REST, CHANGE, BOARD, BOARD_RATE, more='board = "A"\n')
    answer = redundancy.survey(hall)
    causes = {row["cause"]: row["out"].value for row in rows(answer, "causes")}
    assert causes["board A"] == pytest.approx(8760 * 6 / 200006, rel=1e-3)
    apart = next(row for row in rows(answer, "helps") if row["key"] == "boards")
    assert apart["out"].value == pytest.approx(answer.values["out"].value - causes["board A"], rel=1e-3)
    assert answer.values["years"].value == pytest.approx(1 / (1 / 75.027 + 8760 / 200000), rel=1e-3)


def test_where_most_pumps_are_needed_two_boards_only_save_the_last_flow():
    duty = 'keep = 3\nstandby = "automatic"\nhand_start = "2 h"\nturn = "36 h"\n' + NO_BETA
    answer = redundancy.survey(facility(4, duty, RUN, REST, CHANGE, BOARD, BOARD_RATE, more='board = "A"\n'))
    apart = next(row for row in rows(answer, "helps") if row["key"] == "boards")
    assert apart["times"] < 1.0  # three of four: either of two boards takes too many
    assert apart["times_none"] > 100.0
    assert {row["least"] for row in rows(answer, "groups")} == {3, 1}


def test_what_all_pumps_share_without_a_rate_is_named():
    finding = next(
        one
        for one in redundancy.survey(facility(2, STANDBY + NO_BETA, RUN, REST, CHANGE)).findings
        if one.code == "redundancy/shared-unrated"
    )
    assert finding.data["parts"] == ["power", "basin"]
    assert finding.spot.line is not None


BELIEF = """
[[rate]]
of = "pump"
mode = "fails running"
low = "once in 200000 h"
typical = "once in 30000 h"
high = "once in 6000 h"
source = "for this check"
repair = "24 h"
"""


def test_what_was_seen_moves_and_narrows_what_is_reckoned_with():
    duty = STANDBY + NO_BETA
    before = redundancy.survey(facility(2, duty, BELIEF, REST, CHANGE))
    after = redundancy.survey(facility(2, duty, BELIEF + 'seen = 2\nover = "150000 h"\n', REST, CHANGE))
    wide, narrow = (answer.values["years"] for answer in (before, after))
    assert wide.low < wide.value < wide.high
    assert narrow.value > wide.value
    assert narrow.high / narrow.low < wide.high / wide.low
    row = rows(after, "rates")[0]
    assert (row["seen"], row["span"], row["source"]) == (2, "150000 h", "for this check")


def test_what_does_not_fit_what_was_believed_is_said():
    answer = redundancy.survey(
        facility(2, STANDBY + NO_BETA, BELIEF + 'seen = 30\nover = "60000 h"\n', REST, CHANGE)
    )
    assert "redundancy/belief-contradicted" in codes(answer)


def test_running_time_comes_from_the_logbook_where_the_file_says_since_when():
    start = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    turns = [
        redundancy.Turn(at=start, pump="P-1", running=True),
        redundancy.Turn(at=start, pump="P-2", running=False),
        redundancy.Turn(at=start + dt.timedelta(hours=500), pump="P-1", running=False),
        redundancy.Turn(at=start + dt.timedelta(hours=500), pump="P-2", running=True),
    ]
    rates = (BELIEF + "seen = 0\nsince = 2026-01-01\n", REST, CHANGE)
    hall = facility(2, STANDBY + NO_BETA, *rates)
    answer = redundancy.survey(hall, turns, start + dt.timedelta(hours=800))
    row = rows(answer, "rates")[0]
    assert (row["span"], row["logged"]) == ("800 h, by the logbook", True)
    assert answer.used == 4
    assert "redundancy/not-in-log" in codes(redundancy.survey(hall))


def test_more_hands_sooner_starts_and_more_pumps_never_make_it_worse():
    hall = facility(
        3, 'keep = 2\nstandby = "by hand"\nhand_start = "2 h"\ntest_starts = "30 d"\n' + BETA, RUN, REST
    )
    answer = redundancy.survey(hall)
    assert all(row["times"] >= 0.999 for row in rows(answer, "helps"))
    assert {"automatic", "hand", "pump", "common"} <= {row["key"] for row in rows(answer, "helps")}
    causes = [row for row in rows(answer, "causes") if row["least"] == 2]
    whole = next(row for row in rows(answer, "groups") if row["least"] == 2)
    assert sum(row["share"] for row in causes) == pytest.approx(1.0)
    assert sum(row["out"].value for row in causes) == pytest.approx(whole["out"].value, rel=1e-3)


def test_the_same_is_said_each_time_and_without_a_tail_of_numbers():
    hall = facility(2, STANDBY + BETA, BELIEF, REST, CHANGE)
    assert redundancy.survey(hall).as_json() == redundancy.survey(hall).as_json()


def test_so_many_pumps_that_nobody_would_wait_are_asked_to_be_grouped():
    missing = rows(
        redundancy.survey(facility(17, 'keep = 9\nstandby = "by hand"\nhand_start = "1 h"\n', RUN, REST)),
        "missing",
    )
    assert "16 pumps" in missing[0]["word"]


TWO_BOARDS = (
    '[board.M]\nname = "main board"\n[board.A]\nname = "board A"\n[board.B]\nname = "board B"\n'
    + rate("board", "fails running", "once in 20000 h", 'repair = "6 h"\n')
)


def two_boards(standby="automatic", fed_from=""):
    """A hall with its pumps on two boards; the change-over hangs on the board of the first."""
    duty = f'keep = 1\nstandby = "{standby}"\nhand_start = "2 h"\nturn = "7 d"\nboard = "A"\n' + NO_BETA
    text = facility_text(2, duty, RUN, REST, CHANGE, TWO_BOARDS)
    for pump, board in (("P-1", "A"), ("P-2", "B")):
        text = text.replace(f"[pump.{pump}]\n", f'[pump.{pump}]\nboard = "{board}"\n')
        if fed_from:
            text = text.replace(f"[board.{board}]\n", f'[board.{board}]\nfed_from = "{fed_from}"\n')
    return reading.read(text).facility


def test_a_board_that_takes_a_pump_and_the_change_over_is_felt_until_somebody_starts_the_other():
    answer = redundancy.survey(two_boards())
    causes = {row["cause"]: row["out"].value for row in rows(answer, "causes")}
    # half the time its own pump is the one that runs; the other board is what an automatic change-over is for
    assert causes["board A, with nothing taking over"] == pytest.approx(8760 * 0.5 * 2 / 20000, rel=1e-3)
    assert not [cause for cause in causes if "board B" in cause]
    battery = next(row for row in rows(answer, "helps") if row["key"] == "battery")
    gone = answer.values["out"].value - causes["board A, with nothing taking over"]
    assert battery["out"].value == pytest.approx(gone, rel=1e-3)


def test_where_people_start_the_standby_each_board_is_felt():
    causes = {row["cause"] for row in rows(redundancy.survey(two_boards("by hand")), "causes")}
    assert {"board A, with nothing taking over", "board B, with nothing taking over"} <= causes


def test_boards_that_hang_on_one_board_are_told_to_be_fed_apart():
    answer = redundancy.survey(two_boards(fed_from="M"))
    assert "main board" in {row["cause"] for row in rows(answer, "causes")}
    keys = {row["key"] for row in rows(answer, "helps")}
    assert "feeds" in keys
    assert "boards" not in keys


def test_a_change_over_on_the_board_of_a_pump_is_seen_without_any_rate():
    duty = 'keep = 1\nstandby = "automatic"\nboard = "{}"\n'
    text = facility_text(2, duty, "[board.A]\n[board.B]\n[board.C]\n")
    for pump, board in (("P-1", "A"), ("P-2", "B")):
        text = text.replace(f"[pump.{pump}]\n", f'[pump.{pump}]\nboard = "{board}"\n')
    with_a_pump, by_itself = (
        redundancy.survey(reading.read(text.replace('board = "{}"', f'board = "{board}"')).facility)
        for board in ("A", "C")
    )
    assert codes(with_a_pump) == {"redundancy/change-over-dark", "redundancy/not-told"}
    assert codes(by_itself) == {"redundancy/not-told"}


def test_a_change_over_that_is_never_tried_is_named_and_a_turn_does_not_try_it():
    turning = STANDBY.replace('test_starts = "1 min"', 'turn = "7 d"') + NO_BETA
    untried, tried = (
        redundancy.survey(facility(2, turning + more, RUN, REST, CHANGE))
        for more in ("", 'test_change_over = "30 d"\n')
    )
    assert "redundancy/never-tried" in codes(untried)
    assert "redundancy/never-tried" not in codes(tried)

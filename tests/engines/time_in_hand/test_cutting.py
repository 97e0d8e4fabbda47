"""Least sets of failures, and the parts in most of them."""

from tests.engines.time_in_hand import still_water

from brinehouse.engines.time_in_hand import cutting, failures, question

LINE = question.Line(
    place="t", quantity="oxygen", value=4.5, unit="mg/L", upper=False, band="act", text="below 4.5 mg/L"
)


def row(hours, *names):
    return question.Row(
        id=" + ".join(names), failures=names, title="", kind="",
        crossings=(question.Crossing(line=LINE, hours=hours),),
    )  # fmt: skip


def known():
    return {one.id: one for one in failures.catalogue(still_water.facility())}


def test_a_pair_that_holds_a_single_that_is_short_by_itself_is_no_least_set():
    rows = [
        row(2.0, "power-fails"),
        row(9.0, "pump-A-stops"),
        row(1.0, "power-fails", "pump-A-stops"),
        row(3.0, "pump-A-stops", "standby-B-dead"),
    ]
    found = cutting.least(rows, known(), 4.0)
    assert [(one.failures, one.hours) for one in found] == [
        (("power-fails",), 2.0),
        (("pump-A-stops", "standby-B-dead"), 3.0),
    ]


def test_the_part_in_most_sets_comes_first():
    rows = [row(3.0, "pump-A-stops", "standby-B-dead"), row(2.0, "pump-A-stops", "chiller-C-stuck-off")]
    rows[1] = row(2.0, "pump-A-stops", *[name for name in known() if "stuck-off" in name][:1])
    told = cutting.ranking(cutting.least(rows, known(), 4.0))
    assert (told[0].name, told[0].sets, told[0].of, told[0].shortest) == ("A", 2, 2, 2.0)


def test_power_stands_for_a_part_where_the_failure_names_none():
    found = cutting.least([row(2.0, "power-fails")], known(), 4.0)
    assert found[0].parts == ("power of the hall",)


def test_nothing_that_leaves_the_time_asked_for_is_a_set():
    assert cutting.least([row(4.0, "power-fails")], known(), 4.0) == []

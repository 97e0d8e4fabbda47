"""Charts: what is drawn of what was read, how it is thinned, and what a file of it holds."""

import datetime as dt
import time

import numpy as np
import pytest

from brinehouse import records
from brinehouse.workbench import charting, charting_out, clock, hall, mishaps

NOW = dt.datetime(2026, 3, 14, 6, 40, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
FILE = """schema = 1
[facility]
name = "Small hall"
timezone = "Europe/London"
[tank.reef]
name = "Reef"
volume = "26 m3"
stands_alone = true
[point.reef-low]
at = "reef"
depth = "1.5 m"
quantity = "temperature"
[[limit]]
quantity = "temperature"
at = "reef"
aim = "24 °C to 26 °C"
act = "above 30 °C"
"""


@pytest.fixture
def small(tmp_path):
    clock.freeze(NOW)
    (tmp_path / "facility.toml").write_text(FILE, "utf-8")
    with hall.open_hall(tmp_path) as made:
        yield made
    clock.freeze(None)


def reading(ago, value, **more):
    told = {"place": "reef", "quantity": "temperature", "unit": "°C", "text": f"{value} °C"} | more
    at = NOW - ago * HOUR
    return records.Reading(id=hall.new_id(), measured=at, entered=at, value=value, **told)


def look(place, pairs=("reef:temperature",), points=charting.MOST_POINTS, **given):
    return charting.look(place, charting.read(place, pairs, given), points=points)


def lines(charts):
    return [line for panel in charts.panels for series in panel.series for line in series.lines]


def test_an_empty_hall_draws_nothing_and_says_so(small):
    charts = look(small)
    assert charts.count == 0
    assert lines(charts) == []
    assert charts.panels[0].bands


def test_what_was_read_by_hand_and_by_sensor_are_lines_of_their_own(small):
    small.write([reading(5, 25.0), reading(4, 25.5, source="sensor"), reading(3, 25.4, source="import")])
    assert [(line.sensor, line.values.tolist()) for line in lines(look(small))] == [
        (True, [25.5]),
        (False, [25.0, 25.4]),
    ]


def test_what_was_put_right_is_not_drawn(small):
    wrong = reading(5, 52.0)
    small.write([wrong])
    small.supersede(wrong.id, reason="digits turned", entered=NOW, value=25.0, text="25.0 °C")
    assert lines(look(small))[0].values.tolist() == [25.0]


def test_what_is_doubtful_and_what_is_only_a_bound_is_hollow(small):
    small.write([reading(5, 25.0), reading(4, 28.0, quality="doubtful"), reading(3, 20.0, bound="<")])
    assert lines(look(small))[0].hollow.tolist() == [False, True, True]


def test_a_test_point_is_drawn_alone_and_its_tank_with_all_of_its_points(small):
    small.write([reading(5, 25.0, point="reef-low"), reading(4, 25.5)])
    assert look(small, ["reef-low:temperature"]).count == 1
    assert look(small).count == 2


def test_other_units_are_turned_into_the_one_drawn_and_others_left_out(small):
    small.write([reading(5, 77.0, unit="°F", text="77 °F")])
    assert lines(look(small))[0].values == pytest.approx([25.0])


def test_quantities_of_one_unit_and_word_share_a_chart_and_others_have_their_own(small):
    small.write([reading(5, 25.0), reading(5, 8.0, quantity="pH", unit="1", text="8.0")])
    charts = look(small, ["reef:temperature", "reef-low:temperature", "reef:pH"])
    assert [len(panel.series) for panel in charts.panels] == [2, 1]


def test_the_window_is_days_back_or_between_two_days(small):
    small.write([reading(5, 25.0), reading(24 * 20, 24.0)])
    assert look(small).count == 1
    assert look(small, days="30").count == 2
    assert look(small, since="2026-02-20", until="2026-02-22").count == 1
    last = look(small, since="2026-03-14", until="2026-03-14")
    assert last.count == 1  # a day given as the last is within


NINE = (
    "temperature", "pH", "oxygen", "salinity", "nitrate", "nitrite", "ammonia", "alkalinity",
    "carbon dioxide",
)  # fmt: skip


@pytest.mark.parametrize(
    ("pairs", "given", "code"),
    [
        (["nowhere:temperature"], {}, "chart/no-place"),
        (["reef:warmth"], {}, "chart/no-quantity"),
        (["reef:temperature"], {"since": "2026-03-10", "until": "2026-03-01"}, "chart/backwards"),
        ([f"reef:{word}" for word in NINE], {}, "chart/too-many"),
    ],
)  # fmt: skip
def test_what_cannot_be_drawn_is_refused_with_why(small, pairs, given, code):
    with pytest.raises(mishaps.Refused) as refused:
        charting.read(small, pairs, given)
    assert refused.value.findings[0].code == code


def test_an_excursion_of_one_reading_never_vanishes_however_far_away_one_stands():
    seconds = np.arange(100_000.0) * 300.0
    values = 25.0 + 0.1 * np.sin(seconds / 9e4)
    values[43_210] = 31.5
    values[77_777] = 18.25
    line = charting.thinned(seconds, values, np.zeros(seconds.size, bool), sensor=True)
    assert line.times.size <= charting.MOST_POINTS
    assert line.high.max() == 31.5
    assert line.low.min() == 18.25
    assert int(line.counts.sum()) == 100_000
    means = np.abs(line.values - 25.0).max()
    assert means < 1.0  # the mean alone would have hidden both


def test_a_gap_of_more_than_three_usual_intervals_stays_a_gap():
    seconds = np.array([0.0, 1.0, 2.0, 3.0, 7.5, 8.5])
    line = charting.thinned(seconds, seconds, np.zeros(6, bool), sensor=True)
    assert line.gap == pytest.approx(3.0)
    assert [bool(step > line.gap) for step in np.diff(line.times)] == [False, False, False, True, False]


def test_a_year_of_a_hundred_thousand_readings_is_thinned_quickly():
    seconds = np.arange(100_000.0) * 315.0
    begun = time.process_time()
    charting.thinned(seconds, np.sin(seconds), np.zeros(seconds.size, bool), sensor=True)
    assert time.process_time() - begun < 0.5


def test_the_limits_of_the_place_are_bands(small):
    bands = {band.level: (band.low, band.high) for band in look(small).panels[0].bands}
    assert bands == {"aim": (24.0, 26.0), "act": (None, 30.0)}


def test_what_happened_meanwhile_is_told_of_the_places_drawn_and_of_the_hall(small):
    def event(place, what, ago=2):
        at = NOW - ago * HOUR
        return records.Fact(
            id=hall.new_id(), kind="event", measured=at, entered=at, place=place, details={"what": what}
        )

    small.write(
        [
            event("reef", "water changed"),
            event("", "power dip"),
            event("kelp", "not here"),
            event("reef", "old", 900),
        ]
    )
    assert [one.words for one in look(small).events] == ["water changed", "power dip"]


@pytest.mark.parametrize(
    ("cell", "safe"),
    [("=1+1", "'=1+1"), ("+cmd", "'+cmd"), ("-2+3", "'-2+3"), ("@x", "'@x"), ("\tx", "'\tx"), ("\rx", "'\rx"),
     ("-0.5", "-0.5"), ("-1e-05", "-1e-05"), ("-inf", "'-inf"), ("25.4", "25.4"), ("", ""), ("reef", "reef")],
)  # fmt: skip
def test_a_cell_is_no_formula_and_a_number_stays_a_number(cell, safe):
    assert charting_out.safe(cell) == safe


def test_a_file_has_every_reading_as_it_was_read(small):
    small.write([reading(5, -0.5), reading(4, 25.0, instrument="T-1", source="sensor")])
    rows = list(charting_out.rows(small, charting.read(small, ["reef:temperature"], {})))
    assert rows[0][:6] == ("time", "place", "point", "quantity", "value", "unit")
    assert [row[4] for row in rows[1:]] == ["-0.5", "25"]
    assert rows[2][-1] == "T-1"


def test_what_the_script_gets_is_what_is_drawn(small):
    small.write([reading(5, 25.0), reading(4, 28.0, quality="doubtful")])
    data = charting_out.as_data(look(small))
    line = data["panels"][0]["series"][0]["lines"][0]
    assert line["values"] == [25.0, 28.0]
    assert line["hollow"] == [1]
    assert line["low"] is None

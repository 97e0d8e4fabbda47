"""What each column of a file is."""

import pytest

from brinehouse.logbook.intake import headings

LONG = ["time", "place", "quantity", "value", "unit", "method", "by", "note"]


@pytest.fixture
def lay_out(facility):
    return lambda header, **answers: headings.lay_out(
        header,
        headings.Known(),
        facility,
        {key.replace("map_", "map:"): text for key, text in answers.items()},
    )


def test_case_blanks_and_other_words_are_understood(lay_out):
    layout = lay_out(["Timestamp", " TANK ", "parameter", "Reading", "Units", "who", "remarks"])
    assert layout.faults == layout.questions == ()
    assert layout.index[: headings.METHOD] == (0, 1, 2, 3, 4)


def test_quantities_as_headings_make_a_wide_table(lay_out):
    layout = lay_out(["time (UTC)", "place", "by", "temperature (°C)", "salinity"])
    assert [(one.quantity, one.unit) for one in layout.wide] == [("temperature", "°C"), ("salinity", "")]
    assert layout.zone == "UTC"


def test_a_heading_with_a_place_in_it_is_suggested_as_a_map(lay_out):
    layout = lay_out(["time", "by", "T-1 temperature (°C)"], at="T-1")
    (asked,) = layout.questions
    assert asked.data["choices"] == ["temperature, at T-1, in °C", "leave out"]


def test_a_column_without_its_unit_is_asked_about_once(lay_out, examine):
    layout = lay_out(["time", "place", "by", "temperature"])
    (asked,) = layout.questions
    assert (asked.code, asked.data["choices"][0]) == ("units/no-unit", "temperature, in °C")
    assert (
        lay_out(["time", "place", "by", "temperature"], map_temperature="temperature, in °C").questions == ()
    )
    assert lay_out(["time", "place", "by", "pH"]).questions == ()


def test_a_quantity_column_in_a_long_table_is_asked_about(lay_out):
    assert [one.code for one in lay_out([*LONG, "salinity"]).questions] == ["intake/unknown-column"]


def test_a_map_may_name_a_field(lay_out):
    layout = lay_out(["Datum", *LONG[1:]], map_Datum="time")
    assert (layout.faults, layout.questions, layout.index[headings.TIME]) == ((), (), 0)


def test_a_column_left_out_is_not_asked_about(lay_out):
    assert lay_out([*LONG, "serial"], map_serial="leave out").questions == ()


def test_the_same_heading_twice_is_refused(lay_out):
    for header in ([*LONG, "Value"], ["time", "by", "place", "temperature (°C)", "temperature (°C)"]):
        assert "intake/doubled-column" in {one.code for one in lay_out(header).faults}


def test_a_day_alone_stands_for_the_time(lay_out):
    layout = lay_out(["date", *LONG[1:]])
    assert (layout.index[headings.TIME], layout.index[headings.DATE]) == (0, -1)

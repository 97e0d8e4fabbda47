"""What may be answered, and what is remembered."""

from brinehouse.logbook.intake import answering


def test_signs_are_taken_for_their_names():
    assert answering.clean({"decimal": "."}) == ({"decimal": "point"}, [])


def test_an_empty_answer_is_none():
    assert answering.clean({"at": " "}) == ({}, [])


def test_a_misspelt_question_names_the_nearest():
    (fault,) = answering.clean({"decimla": "comma"})[1]
    assert (fault.code, fault.hint) == ("intake/unknown-answer", "did you mean 'decimal'?")


def test_what_is_about_one_file_is_not_remembered():
    told = {"unit:C": "°C", "map:a": "temperature", "fold": "first", "unit@6-8": "°F", "value@5": "8.1",
            "by": "a.meyer", "person:x": "new", "hidden": "take", "zone": "UTC"}  # fmt: skip
    kept = answering.lasting(told, frozenset({"logger"}))
    assert kept == {"unit:C": "°C", "map:a": "temperature", "zone": "UTC"}
    assert answering.lasting({"by": "logger"}, frozenset({"logger"})) == {"by": "logger"}


def test_another_header_is_another_source():
    assert answering.source("a.csv", ["time"]) != answering.source("a.csv", ["date"])

"""What holds for a whole column."""

import pytest

HEAD = "time,place,quantity,value,unit,method,by,note\n"
T = "2026-03-02T08:0{}:00+01:00"


@pytest.fixture
def values(examine, now):
    """The verdict of a column of values, and what was read."""

    def run(*texts, sign=";", quantity="flow;{};L/h", **answers):
        rows = [
            f"{T.format(at)};T-1;{quantity.format(text)};meter;a.meyer;\n" for at, text in enumerate(texts)
        ]
        page = (HEAD.replace(",", ";") + "".join(rows)).replace(";", sign)
        seen = examine(page, answers=answers)
        return seen.verdict, [round(one.value * 1000, 6) for one in seen.readings(now)]

    return run


def test_one_sure_comma_settles_the_column(values):
    assert values("24,6", "1,234") == ("accept-with-note", [24.6, 1.234])


def test_one_sure_point_settles_the_column(values):
    assert values("24.6", "1.234") == ("accept-with-note", [24.6, 1.234])


@pytest.mark.parametrize("texts", [("1,234",), ("1.234", "2.345"), ("24.6", "1,234"), ("24,6", "1.234")])
def test_a_number_that_may_be_a_thousand_is_asked_about(values, texts):
    assert values(*texts) == ("ask", [])


def test_a_small_number_with_three_decimals_is_no_question(values):
    assert values("0,125", "0,250") == ("accept-with-note", [0.125, 0.25])


def test_an_answer_settles_it(values):
    assert values("1,234", decimal="comma") == ("accept-with-note", [1.234])
    assert values("1,234", decimal="point") == ("reject-rows", [])


def test_a_comma_between_fields_leaves_no_doubt_about_a_point(values):
    assert values("1.234", sign=",") == ("accept", [1.234])


def test_the_rows_of_the_rarer_sign_are_refused_where_no_thousand_is_possible(values):
    assert values("24.6", "24.7", "24,8") == ("reject-rows", [24.6, 24.7])

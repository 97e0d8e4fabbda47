"""Sheet "balance": today beside then, faults at their line, and everything without JavaScript."""

import re

from brinehouse.web import balance_sheet, catalogue
from brinehouse.workbench import balance

CHANGE = "/balance?changes=remove+column-m"


def heading(answer):
    return " ".join(re.search(r"<h1>([\s\S]*?)</h1>", answer.text).group(1).split())


def test_the_title_says_where_the_water_settles(demo):
    answer = demo.get("/balance")
    assert answer.status_code == 200
    assert "settle" in heading(answer)
    assert "What if" in answer.text
    assert "<script" not in answer.text


def test_a_change_stands_in_the_box_with_today_beside_then(demo):
    answer = demo.get(CHANGE)
    assert answer.status_code == 200
    assert "would settle" in heading(answer)
    assert re.search(r"<textarea[^>]*>remove column-m</textarea>", answer.text)
    assert "Equipment column-m is taken out" in answer.text
    for word in ("today", "then", "difference", "settles in"):
        assert f">{word}</th>" in answer.text


def test_every_fault_is_told_at_its_line_and_today_still_stands(demo):
    answer = demo.get("/balance", params={"changes": "remove colum-m\nset m-supply flow = 40"})
    assert answer.status_code == 422
    assert "line:1:1" in answer.text
    assert "line:2:1" in answer.text
    assert "changing/no-such-thing" in answer.text
    assert "facility/no-unit" in answer.text
    assert "Where the water settles" in answer.text


def test_what_is_typed_is_shown_and_never_becomes_a_part_of_the_page(demo):
    answer = demo.get("/balance", params={"changes": "remove <b>x</b>"})
    assert answer.status_code == 422
    assert "<b>x</b>" not in answer.text


def test_a_list_that_is_far_too_long_is_answered_like_none(demo):
    answer = demo.get("/balance", params={"changes": "# " + "x" * 30_000})
    assert answer.status_code in (200, 422)


def test_the_examples_of_the_hall_lead_to_answers(demo):
    page = demo.get("/balance").text
    links = re.findall(r'href="(/balance\?[^"]+)"', page)
    assert len(links) >= 2
    for link in links:
        assert demo.get(link.replace("&amp;", "&")).status_code == 200, link


def test_cautions_name_pressure_electricity_and_the_licensed_trades(demo):
    page = demo.get(CHANGE).text
    for word in (
        "pressure",
        "Electricity",
        "licensed trades",
        "local codes",
        "lifted",
        "Advice, not a command",
    ):
        assert word in page


def test_working_stands_behind_every_place(demo):
    page = demo.get("/balance").text
    assert page.count('class="working"') >= 7
    assert "Clarke and Johnston (1999)" in page


def test_all_that_was_assumed_is_told_with_its_source(demo):
    page = demo.get("/balance").text
    assert "What was assumed" in page
    assert "common practice, no source" in page


def test_a_hall_without_runs_has_its_sheet(small):
    answer = small.get("/balance")
    assert answer.status_code == 200
    assert small.get("/balance?changes=remove+pipefish").status_code == 200


def test_a_change_moves_what_it_touches_first(demo):
    hall = demo.app.state.desk.hall()
    answer = balance.survey(hall, balance.parse("remove column-m", "line"))
    laid = balance_sheet.lay_out(answer, hall.facility, catalogue.Words())
    assert laid.compared
    assert laid.changes[0].place in hall.facility.tanks
    assert laid.changes[0].level
    assert laid.places[0].id == "mangrove"
    assert laid.places[0].by_quantity["tgp"].label == "TGP"
    assert laid.places[0].steps


def test_a_number_has_no_more_decimals_than_its_interval_supports():
    from brinehouse import answers

    row = balance_sheet.Row(
        place="a", name="a", quantity="tgp", label="TGP", unit="%", decimals=1, read=None, today=None,
        then=None, difference=None, settles="", level="", limit="", verdict="", holds="",
    )  # fmt: skip
    assert row.places_of(answers.Value(value=104.3, unit="%", u=2.0)) == 0
    assert row.places_of(answers.Value(value=104.3, unit="%", u=0.01)) == 1
    assert row.places_of(None) == 1

"""The sheet of a tank, and the ways to it: a label's square, four signs typed by hand, the id."""

import re

from brinehouse.workbench import tags


def code(visitor, id):
    known = tags.of(visitor.app.state.desk.hall().facility)
    return next(tag.code for tag in known.values() if tag.id == id)


def test_a_code_leads_to_the_tank_whatever_the_case(small):
    short = code(small, "pipefish")
    for address in (f"/t/{short}", f"/t/{short.lower()}", f"/t?code={short}", "/t/pipefish"):
        answer = small.get(address)
        assert (answer.status_code, answer.headers["location"]) == (303, "/tank/pipefish")


def test_a_code_that_no_label_has_is_said_with_a_box_to_try_again(small):
    answer = small.get("/t/ZZZZ")
    assert answer.status_code == 404
    assert "ZZZZ" in answer.text
    assert 'name="code"' in answer.text
    assert small.get("/t").status_code == 200


def test_a_tank_that_is_not_there_is_said_on_a_sheet(small):
    assert small.get("/tank/nowhere").status_code == 404


def test_a_tank_without_readings_says_so_and_offers_the_form(small):
    answer = small.get("/tank/mangrove")
    assert answer.status_code == 200
    assert "/log/new?place=mangrove" in answer.text


def test_labels_carry_the_address_that_phones_use(small):
    answer = small.get("/labels", params={"address": "https://hall.example:8750"})
    assert answer.text.count('class="square-code"') == 2
    assert code(small, "mangrove") in answer.text
    assert "leads to the machine itself" not in answer.text
    assert "leads to the machine itself" in small.get("/labels").text


def test_an_address_that_is_none_draws_no_label(small):
    answer = small.get("/labels", params={"address": "javascript:alert(1)"})
    assert "square-code" not in answer.text
    assert re.search(r"an address begins with https", answer.text)

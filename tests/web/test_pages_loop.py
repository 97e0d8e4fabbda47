"""The loop sheet: its sentence, its drawing, its table, its what-if."""

import re

import pytest

from brinehouse import answers
from brinehouse.web import loop_later, loop_words
from brinehouse.web.pages import loop as page_of_loop


def told(change="", then=40.0):
    """What the engine of sources would answer, invented."""
    value = answers.Value(value=17.0, unit="mmHg", u=3.0)
    size = {
        "system": "m",
        "place": "pipefish",
        "kind": "source",
        "source": "air drawn in at P-203",
        "size": value,
        "how": "fitted",
    }
    level = {
        "place": "pipefish",
        "delta_p": answers.Value(value=28.0, unit="mmHg", u=1.5),
        "measured": "2026-03-14T06:22:00+00:00",
    }
    after = {"change": change, "place": "pipefish", "then": answers.Value(value=then, unit="mmHg", u=2.0)}
    shelves = {"sources": [size], "levels": [level], "what_ifs": [after] if change else []}
    tables = tuple(
        answers.Table(name=name, title="", columns=(), rows=tuple(rows)) for name, rows in shelves.items()
    )
    question = answers.Question(name="gas sources", title="", inputs=(), outputs=())
    return answers.Answer(question=question, state="found", sentence="", tables=tables)


@pytest.fixture(autouse=True)
def sources(monkeypatch):
    """The sources are worked out by another engine, with tests of its own; here they are told."""
    monkeypatch.setattr(page_of_loop, "later", loop_later.Later())
    monkeypatch.setattr(page_of_loop.looking, "sources", lambda hall, what_if="", name="": told(what_if))


def settled(visitor, address):
    """A page after what takes its time has been worked out."""
    visitor.get(address)
    for thread in list(page_of_loop.later._running.values()):
        thread.join()
    return visitor.get(address)


WHAT_IF = "/loop?change=set+pipefish+crest+%3D+3.7+m"


def test_the_title_says_which_pump_and_which_tank(demo):
    page = demo.get("/loop")
    assert page.status_code == 200
    assert (
        "gas comes in with P-203, and Pipefish side tank feels it most"
        in re.search(r"<h1>(.*?)</h1>", page.text, re.DOTALL)[1]
    )


def test_every_system_has_its_drawing_in_three_sizes(demo):
    page = demo.get("/loop").text
    for size in ("wide", "middle", "narrow"):
        assert page.count(f'class="loop {size}"') == 3


def test_loop_stands_between_now_and_gas(demo):
    names = re.findall(r'<li><a href="([^"]+)"', demo.get("/loop").text)
    assert names.index("/now") < names.index("/loop") == names.index("/gas") - 1


def test_every_mark_leads_to_a_row_that_is_there(demo):
    page = demo.get("/loop").text
    ids = set(re.findall(r' id="([^"]+)"', page))
    marks = set(re.findall(r'data-row="([^"]+)"', page))
    assert marks
    assert marks <= ids


def test_no_id_stands_twice(demo):
    ids = re.findall(r' id="([^"]+)"', demo.get("/loop").text)
    assert len(ids) == len(set(ids))


def test_a_what_if_is_drawn_over_today_and_said_in_words(demo):
    page = demo.get(WHAT_IF)
    assert page.status_code == 200
    assert "If this were done" in page.text
    assert "3.7 m instead of 3.5 m" in page.text
    assert "l-then-gas" in page.text
    assert "gas line after the change" in page.text


def test_a_what_if_leaves_no_trace(demo):
    demo.get(WHAT_IF)
    assert "l-then-gas" not in demo.get("/loop").text


def test_a_what_if_nobody_understands_says_why_and_draws_today(demo):
    page = demo.get("/loop?change=make+it+nice")
    assert page.status_code == 200
    assert "changing/" in page.text
    assert 'class="loop wide"' in page.text


def test_what_was_typed_stays_text(demo):
    page = demo.get("/loop?change=%3Cscript%3Ealert(1)%3C/script%3E").text
    assert "<script>alert" not in page


def test_the_pressures_can_be_drawn_beside(demo):
    assert "tinted where the gas presses harder" in demo.get("/loop?panel=pressure").text
    assert "tinted where the gas presses harder" not in demo.get("/loop").text


@pytest.mark.parametrize("paper", ["a3", "a4"])
def test_a_sheet_can_be_laid_broad(demo, paper):
    assert f"broad-{paper}.css" in demo.get(f"/loop?paper={paper}").text


def test_a_paper_nobody_knows_is_left_out(demo):
    assert "broad-" not in demo.get("/loop?paper=%22%3E").text


def test_tanks_by_themselves_have_their_own_gas_line(demo):
    assert "Tanks that stand by themselves" in demo.get("/loop").text


def test_a_hall_without_heights_shows_each_tank_and_no_fault(small):
    page = small.get("/loop")
    assert page.status_code == 200
    assert "Pipefish" in page.text or "pipefish" in page.text


def test_names_in_a_row_are_shortened_only_where_they_count_up():
    assert loop_words.row_of(["P-1", "P-2", "P-4"], "to") == "P-1, P-2, P-4"
    assert loop_words.row_of(["P-09", "P-10", "P-11"], "to") == "P-09 to P-11"
    assert loop_words.row_of([], "to") == ""


def test_where_the_gas_comes_from_stands_under_the_picture(demo):
    assert "is being worked out" in demo.get("/loop").text
    page = settled(demo, "/loop").text
    assert "Where the excess at Pipefish side tank comes from" in page
    assert "air drawn in at P-203" in page
    assert "is being worked out" not in page


def test_a_what_if_shows_what_the_water_would_then_hold(demo):
    page = settled(demo, WHAT_IF).text
    assert "rests on what the water would then hold" in page
    assert "then 0.33 m too shallow" in page  # 40 mmHg is 0.53 m of this water, less 0.20 m


def test_what_went_wrong_behind_the_back_is_told_to_the_next_reader():
    def breaks():
        raise ValueError("planted")

    later = loop_later.Later()
    assert later.ask("q", breaks) == (None, True)
    later.settle("q")
    with pytest.raises(ValueError, match="planted"):
        later.ask("q", breaks)


def test_an_answer_is_worked_out_once():
    made = []
    later = loop_later.Later()
    later.ask("q", lambda: made.append(1) or "known")
    later.settle("q")
    assert later.ask("q", lambda: made.append(1)) == ("known", False)
    assert made == [1]

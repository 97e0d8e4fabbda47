"""Files of readings: looked at first, answered, stored, taken back; and strange ones that change nothing."""

import pathlib
import re

import pytest

from brinehouse.web import forms
from brinehouse.web.pages import importing

CORPUS = pathlib.Path(__file__).parents[1] / "corpus"
HEAD = b"time,place,quantity,value,unit\n"
GOOD = HEAD + b"2026-03-02T08:00:00+00:00,mangrove,temperature,24.6,degC\n"
GOOD += b"2026-03-02T09:00:00+00:00,pipefish,temperature,24.8,degC\n"
ONE_BAD = GOOD + b"2026-03-02T10:00:00+00:00,mangrove,temperature,warm,degC\n"
MIXED = HEAD + b'2026-03-02T08:00:00+00:00,mangrove,salinity,"1,234",g/kg\n'
MIXED += b'2026-03-02T09:00:00+00:00,mangrove,salinity,"1.234",g/kg\n'


def look(visitor, content, name="log.csv", **boxes):
    return visitor.post("/log/imports", data={"by": "logger", **boxes}, files={"file": (name, content)})


def kept(answer):
    """What the page's form sends along by itself."""
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', answer.text))


def head(visitor):
    return visitor.app.state.desk.revision()


def test_a_look_stores_nothing_and_a_yes_stores_all(small):
    before = head(small)
    seen = look(small, GOOD)
    assert seen.status_code == 200
    assert head(small) == before
    assert "Store 2 readings" in seen.text
    done = small.post("/log/imports/store", data=kept(seen))
    assert (done.status_code, done.headers["location"]) == (303, "/log/imports?stored=2")
    assert "2 readings were stored" in small.get(done.headers["location"]).text
    assert "24.8" in small.get("/log").text
    again = look(small, GOOD)
    assert "intake/same-file" in again.text


def test_every_fault_is_shown_with_its_line_and_the_good_rows_can_be_kept(small):
    seen = look(small, ONE_BAD)
    assert seen.status_code == 200
    assert "log.csv:4" in seen.text
    assert "2 of 3 rows can be stored" in seen.text
    refused = small.post("/log/imports/store", data=kept(seen))
    assert refused.status_code == 422
    done = small.post("/log/imports/store", data={**kept(seen), "good": "yes"})
    assert done.headers["location"] == "/log/imports?stored=2"


def test_a_question_is_answered_on_the_page_and_asked_no_more(small):
    seen = look(small, MIXED)
    assert "waits for an answer" in seen.text
    answered = small.post("/log/imports/again", data={**kept(seen), "answer:decimal": "comma"})
    assert "waits for an answer" not in answered.text
    assert 'name="answer:decimal" value="comma"' in answered.text
    written = small.post("/log/imports/again", data={**kept(seen), "answers": "decimal=point\nnonsense"})
    assert 'name="answer:decimal" value="point"' in written.text


def test_a_file_is_taken_back_whole_and_brought_back(small):
    small.post("/log/imports/store", data=kept(look(small, GOOD)))
    at = re.search(r'action="(/log/imports/[0-9a-f]+)/withdraw"', small.get("/log/imports").text).group(1)
    assert small.post(f"{at}/withdraw", data={}).status_code == 422
    assert small.post(f"{at}/withdraw", data={"reason": "wrong hall"}).status_code == 303
    assert "24.8" not in small.get("/log").text
    assert "taken back" in small.get("/log/imports").text
    assert small.post(f"{at}/back", data={"reason": "right after all"}).status_code == 303
    assert "24.8" in small.get("/log").text


def test_without_a_file_or_with_one_no_longer_held_it_says_so(small):
    assert "page/no-file" in small.post("/log/imports", data={}).text
    assert "page/no-map" in look(small, GOOD, maps="gauge temperature").text
    for address in ("/log/imports/again", "/log/imports/store"):
        answer = small.post(address, data={"sha": "0" * 64})
        assert answer.status_code == 422
        assert "page/file-gone" in answer.text


@pytest.mark.parametrize("path", sorted(CORPUS.glob("[ajrx]*.*")), ids=lambda path: path.name)
def test_no_strange_file_breaks_the_page_or_is_stored_by_a_look(small, path):
    before = head(small)
    answer = look(small, path.read_bytes(), path.name)
    assert answer.status_code in (200, 422)
    assert head(small) == before
    assert "<h1>" in answer.text
    assert "<script>" not in answer.text
    assert "Traceback" not in answer.text


def test_no_more_than_a_hundred_findings_of_a_kind_are_written_out(small):
    rows = b"".join(
        b"2026-03-02T10:00:00+00:00,nowhere-%d,temperature,24,degC\n" % place for place in range(250)
    )
    text = look(small, GOOD + rows).text
    assert text.count("nowhere-") < 400
    assert "more of this kind" in text


def test_the_shelf_holds_a_few_files_and_no_more():
    shelf = importing.Shelf(most=2, largest=100)
    for name in ("a", "b", "c"):
        shelf.put(name, name, b"x" * 10)
    assert shelf.get("c") == ("c", b"x" * 10)
    with pytest.raises(Exception, match="no longer held"):
        shelf.get("a")
    shelf.put("d", "d", b"x" * 1000)
    assert shelf.get("d")[1]
    with pytest.raises(Exception, match="no longer held"):
        shelf.get("c")


def test_who_sends_a_file_names_themselves(small):
    seen = look(small, GOOD, by="New Keeper")
    small.post("/log/imports/store", data=kept(seen))
    assert "New Keeper" in small.get("/log").text
    assert "New Keeper" in small.get("/log/imports").text


def test_a_file_that_is_too_large_is_not_held(small, monkeypatch):
    monkeypatch.setattr(forms, "LARGEST", 100)
    answer = look(small, GOOD * 10)
    assert answer.status_code == 413
    assert "too large" in answer.text

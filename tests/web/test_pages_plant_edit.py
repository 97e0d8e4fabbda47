"""The plant in forms: looked at, shown as a difference, written with a reason; never over anybody else."""

import html
import re

import pytest


def boxes(page):
    """Everything a form of the page would send, by name; of the first form with hidden or open boxes."""
    form = page[page.index('<form method="post"') : page.index("</form>")]
    sent = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, value = re.search(r'name="([^"]*)"', tag), re.search(r'value="([^"]*)"', tag)
        if name:
            sent[name.group(1)] = html.unescape(value.group(1)) if value else ""
    for name, text in re.findall(r'<textarea[^>]* name="([^"]*)"[^>]*>(.*?)</textarea>', form, re.DOTALL):
        sent[name] = html.unescape(text)
    for name, inside in re.findall(r'<select[^>]* name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'<option value="([^"]*)" selected', inside)
        sent[name] = html.unescape(chosen.group(1)) if chosen else ""
    return sent


def file_of(visitor):
    return visitor.app.state.desk.hall().file


ADDRESS = "/plant/edit/tank/pipefish"


def test_a_keeper_changes_a_volume_sees_the_difference_and_writes_it_with_a_reason(small):
    text = file_of(small).read_text("utf-8")
    form = small.get(ADDRESS)
    assert "Change tank pipefish" in form.text
    shown = small.post(ADDRESS, data=boxes(form.text) | {"w.volume": "0.8 m3", "step": "look"})
    assert shown.status_code == 200
    assert "volume is now 0.8 m3, and was 0.9 m3" in shown.text
    assert "<del>volume = &#34;0.9 m3&#34;" in shown.text
    assert file_of(small).read_text("utf-8") == text
    none = small.post(ADDRESS, data=boxes(shown.text) | {"step": "write"})
    assert (none.status_code, "none is written" in none.text) == (422, True)
    told = boxes(none.text) | {"step": "write", "reason": "measured at the clean-out", "by": "Ada"}
    done = small.post(ADDRESS, data=told)
    assert done.status_code == 303
    assert file_of(small).read_text("utf-8") == text.replace('"0.9 m3"', '"0.8 m3"')
    after = small.get(done.headers["location"]).text
    assert "measured at the clean-out" in after
    versions = small.get("/plant/versions").text
    assert "measured at the clean-out" in versions
    assert "Ada" in versions
    assert small.get("/plant/versions/1").status_code == 200
    assert small.get("/plant/versions/77").status_code == 404


def test_what_cannot_be_stands_at_its_box_with_all_that_was_typed(small):
    form = boxes(small.get(ADDRESS).text)
    shown = small.post(ADDRESS, data=form | {"w.volume": "0.8", "w.name": "Pipes", "step": "look"})
    assert shown.status_code == 422
    assert 'aria-invalid="true"' in shown.text
    assert "has no unit" in shown.text
    assert boxes(shown.text)["w.name"] == "Pipes"


def test_a_text_editor_changes_another_value_meanwhile(small):
    file = file_of(small)
    shown = small.post(ADDRESS, data=boxes(small.get(ADDRESS).text) | {"w.volume": "0.8 m3", "step": "look"})
    file.write_text(file.read_text("utf-8").replace('"0.5 m"', '"0.4 m"  # sunk'), "utf-8")
    told = boxes(shown.text) | {"step": "write", "reason": "measured"}
    again = small.post(ADDRESS, data=told)
    assert (again.status_code, "changed by somebody else" in again.text) == (200, True)
    assert '"0.9 m3"' in file.read_text("utf-8")
    assert small.post(ADDRESS, data=boxes(again.text) | {"step": "write"}).status_code == 303
    assert '"0.4 m"  # sunk' in file.read_text("utf-8")
    assert '"0.8 m3"' in file.read_text("utf-8")


def test_a_text_editor_changes_the_same_value_meanwhile(small):
    file = file_of(small)
    form = boxes(small.get(ADDRESS).text)
    file.write_text(file.read_text("utf-8").replace('"0.9 m3"', '"0.85 m3"'), "utf-8")
    asked = small.post(ADDRESS, data=form | {"w.volume": "0.8 m3", "step": "look"})
    assert asked.status_code == 422
    assert "0.85 m3" in asked.text
    assert '"0.85 m3"' in file.read_text("utf-8")
    shown = small.post(ADDRESS, data=boxes(asked.text) | {"step": "look"})
    assert "volume is now 0.8 m3, and was 0.85 m3" in shown.text


def test_a_file_half_edited_is_told_and_the_form_keeps_what_was_typed(small):
    file = file_of(small)
    form = boxes(small.get(ADDRESS).text)
    file.write_text(file.read_text("utf-8").replace('"0.9 m3"', '"0.9'), "utf-8")
    broken = file.read_bytes()
    told = small.post(ADDRESS, data=form | {"w.volume": "0.8 m3", "step": "write", "reason": "measured"})
    assert told.status_code == 422
    assert "plant/file-broken" in told.text
    assert boxes(told.text)["w.volume"] == "0.8 m3"
    assert file.read_bytes() == broken


def test_a_thing_is_added_and_taken_out_again_while_the_log_does_not_speak_of_it(small):
    new = boxes(small.get("/plant/add/pump").text)
    shown = small.post("/plant/add/pump", data=new | {"id": "P-9", "w.flow": "4 m3/h", "step": "look"})
    assert "Pump P-9 is new" in shown.text
    told = boxes(shown.text) | {"step": "write", "reason": "bought"}
    assert small.post("/plant/add/pump", data=told).status_code == 303
    form = small.get("/plant/edit/pump/P-9").text
    out = form[form.index('action="/plant/remove/pump/P-9"') - 20 :]
    shown = small.post("/plant/remove/pump/P-9", data=boxes(out) | {"step": "look"})
    assert "Pump P-9 is taken out" in shown.text
    told = boxes(shown.text) | {"step": "write", "reason": "went back"}
    assert small.post("/plant/remove/pump/P-9", data=told).status_code == 303
    assert "P-9" not in file_of(small).read_text("utf-8")


@pytest.mark.parametrize(
    "table", ["facility", "tank", "point", "limit", "animals", "duty", "upkeep", "source"]
)
def test_every_table_has_a_sheet_and_an_empty_form(small, table):
    assert small.get(f"/plant/edit?table={table}").status_code == 200
    assert small.get(f"/plant/add/{table}").status_code == 200


@pytest.mark.parametrize(
    "address",
    [
        f"/plant/edit/limit/{'9' * 5000}",
        "/plant/edit/tank/none",
        "/plant/edit/none/x",
        "/plant/add/failure.does",
    ],
)
def test_what_is_not_there_is_told(small, address):
    answer = small.get(address)
    assert answer.status_code in (404, 422)
    assert "Traceback" not in answer.text

"""The sheet of the copies: how old, what is wrong, a copy now, and everything out as one file."""

import io
import zipfile

import pytest

from brinehouse.web import minder
from brinehouse.workbench import copying, moving_out
from brinehouse.workbench import hall as halls

NOTE = {
    "place": "mangrove",
    "quantity": "temperature",
    "value": "25.4 °C",
    "at": "2026-03-14T06:30",
    "by": "A",
}


@pytest.fixture
def asked(small, tmp_path):
    """A hall with an entry that asks for copies."""
    assert small.post("/log/new", data=NOTE).status_code == 303
    file = small.app.state.desk.hall().file
    file.write_text(file.read_text("utf-8") + f'\n[backup]\nto = "{tmp_path}/copies"\n', "utf-8")
    return small


def test_a_hall_without_copies_says_so_and_how_to_ask_for_them(small):
    page = small.get("/keeping").text
    assert "Nobody has said where copies" in page
    assert "[backup]" in page
    assert small.post("/keeping/copy").status_code == 422


def test_a_copy_made_from_the_sheet_is_listed_with_where_its_chain_ends(asked, tmp_path):
    assert "There is no copy of this hall yet" in asked.get("/keeping").text
    assert asked.post("/keeping/copy").status_code == 303
    made = copying.all_in(tmp_path / "copies")[0]
    page = asked.get("/keeping").text
    assert "The last copy was made and tried" in page
    assert made.path.name in page
    assert f"{made.list.head[0]}:{made.list.head[1][:12]}" in page


def test_a_copy_that_cannot_be_made_is_told_on_the_sheet(asked, tmp_path):
    (tmp_path / "copies").write_text("in the way")
    answer = asked.post("/keeping/copy")
    assert answer.status_code == 422
    assert "No copy could be made" in answer.text
    assert str(tmp_path) not in answer.text


def test_all_of_it_goes_out_as_one_file_that_comes_back_in(asked, tmp_path):
    head = asked.app.state.desk.hall().book.head()
    answer = asked.post("/keeping/export")
    assert answer.status_code == 200
    assert answer.headers["content-disposition"].startswith("attachment;")
    with zipfile.ZipFile(io.BytesIO(answer.content)) as page:
        assert {"readings.csv", "facts.csv", "README.md", "logbook.sqlite"} <= set(page.namelist())
    (tmp_path / "out.zip").write_bytes(answer.content)
    assert moving_out.move_in(tmp_path / "out.zip", tmp_path / "in").head == head
    with halls.open_hall(tmp_path / "in") as place:
        assert place.book.verify(head) == []


def test_a_running_server_makes_copies_when_they_are_due(asked, tmp_path):
    found = minder.Minder(asked.app.state.desk)
    assert found.look()
    assert not found.look()
    assert len(copying.all_in(tmp_path / "copies")) == 1


def test_what_goes_wrong_with_a_copy_does_not_end_the_minder(asked, tmp_path, monkeypatch):
    (tmp_path / "copies").write_text("in the way")
    assert not minder.Minder(asked.app.state.desk).look()
    assert "could not be made" in asked.get("/keeping").text
    (tmp_path / "copies").unlink()
    monkeypatch.setattr(minder.keeping, "attempt", lambda _: 1 / 0)
    assert not minder.Minder(asked.app.state.desk).look()


def test_the_minder_starts_and_ends(small):
    import threading

    found = minder.Minder(small.app.state.desk, every=0.01)
    found.start()
    found.close()
    assert "copies" not in [one.name for one in threading.enumerate()]

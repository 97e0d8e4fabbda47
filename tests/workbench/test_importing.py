"""Files into the logbook: looked at, stored whole, known again, taken back."""

import datetime as dt
import hashlib
import io
import json
import pathlib

import pytest
from openpyxl import Workbook

from brinehouse.cli import running
from brinehouse.workbench import clock, importing, mishaps
from brinehouse.workbench import hall as halls

CORPUS = pathlib.Path(__file__).parents[1] / "corpus"
NOW = dt.datetime(2026, 11, 15, 12, tzinfo=dt.UTC)
FACILITY = """schema = 1
[facility]
name = "Sample hall"
timezone = "Europe/Berlin"
[tank.T-1]
volume = "12 m3"
stands_alone = true
[tank.T-2]
volume = "8 m3"
stands_alone = true
"""
GOOD = (CORPUS / "r00_good.csv").read_bytes()
HEAD = "time,place,quantity,value,unit,method,by,note\n"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "facility.toml").write_text(FACILITY, "utf-8")
    clock.freeze(NOW)
    yield tmp_path
    clock.freeze(None)


@pytest.fixture
def place(folder):
    with halls.open_hall(folder) as hall:
        for name in ("a.meyer", "logger"):
            hall.person(name)
        yield hall


def take(place, data, answers=None, **more):
    seen = importing.examine_upload(place, "march.csv", data, answers)
    return importing.store(place, seen, **more)


def test_a_good_file_is_stored_with_its_bytes_and_its_digest(place):
    done = take(place, GOOD, by="b.okafor")
    (kept,) = importing.imports(place)
    assert (done.new, kept.rows, kept.name) == (3, 3, "march.csv")
    assert place.book.import_content(kept.id) == GOOD
    assert kept.sha256 == hashlib.sha256(GOOD).hexdigest()
    assert {one.origin for one in place.history()} == {f"{kept.id}:{line}" for line in (2, 3, 4)}
    assert [person.name for person in place.book.people() if person.number == kept.person] == ["b.okafor"]


def test_the_same_file_again_adds_nothing_and_says_so(place):
    take(place, GOOD)
    head = place.book.head()
    seen = importing.examine_upload(place, "renamed.csv", GOOD)
    assert [one.code for one in seen.findings] == ["intake/same-file"]
    done = importing.store(place, seen)
    assert (done.new, done.same, place.book.head()) == (0, 3, head)


def test_a_dry_run_writes_nothing(folder):
    with halls.open_hall(folder) as place:
        importing.examine_upload(place, "march.csv", GOOD)
    assert sorted(one.name for one in folder.iterdir()) == ["facility.toml"]


def test_nothing_of_a_file_with_a_refused_row_is_stored_unless_a_person_says_so(place):
    data = GOOD + b"2026-03-02T09:00:00+01:00,T-1,temperature,NaN,degC,probe,a.meyer,\n"
    seen = importing.examine_upload(place, "march.csv", data)
    with pytest.raises(mishaps.Refused):
        importing.store(place, seen)
    assert place.history() == []
    assert importing.store(place, seen, keep_good=True).new == 3


def test_an_open_question_lets_nothing_in_even_when_asked_to_keep_the_good(place):
    seen = importing.examine_upload(place, "a.csv", (CORPUS / "r18_dst_gap_and_fold.csv").read_bytes())
    with pytest.raises(mishaps.Refused):
        importing.store(place, seen, keep_good=True)
    assert place.history() == []


def test_a_held_row_is_added_once_its_question_is_answered(place):
    row = "2026-03-02T08:0{}:00+01:00,T-1,temperature,24.6,{},probe,a.meyer,\n"
    data = (HEAD + row.format(1, "degC") + row.format(2, "C")).encode()
    assert take(place, data).new == 1
    done = take(place, data, {"unit:C": "°C"})
    assert (done.new, done.same) == (1, 1)


def test_an_answer_is_remembered_for_the_next_file_of_the_same_source(place):
    row = "2026-03-0{}T08:00:00+01:00,T-1,temperature,24.6,C,probe,a.meyer,\n"
    first = importing.examine_upload(place, "log-2.csv", (HEAD + row.format(2)).encode(), {"unit:C": "°C"})
    importing.store(place, first)
    again = importing.examine_upload(place, "log-3.csv", (HEAD + row.format(3)).encode())
    assert (again.rows_ok, [one.code for one in again.findings]) == (1, ["intake/remembered"])
    other = importing.examine_upload(place, "rounds.csv", (HEAD + row.format(3)).encode())
    assert other.rows_ok == 0


def test_a_reading_that_another_export_brought_already_is_left_out(place):
    take(place, GOOD)
    longer = GOOD + b"2026-03-02T09:00:00+01:00,T-1,temperature,24.7,degC,probe,a.meyer,\n"
    done = take(place, longer)
    assert (done.new, done.known) == (1, 3)
    assert len(place.history()) == 4


def test_an_import_is_taken_back_whole_and_brought_back(place):
    done = take(place, GOOD)
    importing.take_back(place, done.import_id[:8], "wrong tank")
    assert place.history() == []
    again = importing.examine_upload(place, "march.csv", GOOD)
    assert (again.verdict, again.findings[0].code) == ("reject-file", "intake/taken-back")
    importing.bring_back(place, done.import_id[:8], "it was the right one")
    assert len(place.history()) == 3


def test_a_file_taken_back_may_come_again_with_another_answer(place):
    data = b"time,quantity,value,unit,by\n2026-03-02T08:00:00+01:00,temperature,24.6,degC,a.meyer\n"
    wrong = take(place, data, {"at": "T-1"})
    importing.take_back(place, wrong.import_id, "wrong tank")
    right = take(place, data, {"at": "T-2"})
    assert [(one.place, one.value) for one in place.history()] == [("T-2", 24.6)]
    assert right.import_id != wrong.import_id


def test_a_value_that_was_not_measured_is_not_added_twice(place):
    row = "2026-03-02T08:00:00+01:00,T-1,temperature,not measured: tap closed,degC,probe,a.meyer,\n"
    take(place, (HEAD + row).encode())
    done = take(place, (HEAD + row + row.replace("08:00", "09:00")).encode())
    assert (done.new, done.known) == (1, 1)


def test_two_sheets_of_a_workbook_are_two_imports(place):
    book = Workbook()
    for name, value in (("one", 24.6), ("two", 24.7)):
        sheet = book.create_sheet(name)
        sheet.append(HEAD.strip().split(","))
        sheet.append(["2026-03-02T08:00:00Z", "T-1", "temperature", value, "degC", "probe", "a.meyer"])
    del book["Sheet"]
    page = io.BytesIO()
    book.save(page)
    assert take(place, page.getvalue()).new == 1
    assert take(place, page.getvalue(), {"sheet": "two"}).new == 1
    assert [one.value for one in place.history()] == [24.6, 24.7]


def test_an_import_that_is_not_there_is_named(place):
    with pytest.raises(mishaps.Refused, match="no import"):
        importing.take_back(place, "beef", "no reason")
    with pytest.raises(mishaps.Refused) as refused:
        importing.bring_back(place, "", "no reason")
    assert refused.value.findings[0].code == "intake/no-import"


def test_a_new_person_is_written_down_only_when_the_file_is_stored(place):
    data = GOOD.replace(b"a.meyer", b"c.new")
    seen = importing.examine_upload(place, "march.csv", data, {"person:c.new": "new"})
    assert [one.name for one in place.book.people()] == ["a.meyer", "logger"]
    importing.store(place, seen)
    number = next(one.number for one in place.book.people() if one.name == "c.new")
    assert {one.person for one in place.history()} == {number}


def test_automatic_rows_are_of_the_sensor_and_marked_ones_stay_out_of_means(place):
    take(place, (CORPUS / "r46_stuck_and_spike.csv").read_bytes())
    rows = place.history()
    assert {one.source for one in rows} == {"sensor"}
    assert [one.value for one in rows if one.quality == "fault"] == [85.0, -127.0]
    assert sum(one.quality == "doubtful" for one in rows) == 10


def test_control_characters_come_back_as_they_were_typed(place):
    take(place, (CORPUS / "r28_log_and_terminal_tricks.csv").read_bytes())
    assert place.history()[1].note == "\x1b[2J\x1b[31mred\x1b]0;title\x07"


def test_the_chain_is_whole_after_an_import(place):
    take(place, GOOD)
    assert place.book.verify() == []


def test_the_first_rows_are_shown_as_they_would_be_stored(place):
    seen = importing.examine_upload(place, "march.csv", GOOD)
    assert [one.text for one in importing.preview(seen, 2)] == ["24.6 degC", "34.8 g/kg"]


# By command -----------------------------------------------------------------------------------------------


def run(capsys, *arguments):
    status = running.run([str(one) for one in arguments])
    page = capsys.readouterr()
    return status, page.out + page.err


def test_the_exit_status_says_what_became_of_the_file(place, folder, capsys):
    place.close()
    for name, status in (
        ("r00_good.csv", 0), ("r21_epoch_units.csv", 1), ("r15_unit_missing.csv", 1), ("r36_empty.csv", 2),
    ):  # fmt: skip
        assert run(capsys, "import", CORPUS / name, folder)[0] == status
    assert run(capsys, "import", folder / "nowhere.csv", folder)[0] == 2


def test_a_good_file_is_answered_in_one_line(place, folder, capsys):
    place.close()
    status, said = run(capsys, "import", CORPUS / "r00_good.csv", folder)
    assert (status, said.startswith("3 rows read, 3 stored"), len(said.splitlines())) == (0, True, 1)


def test_the_terminal_is_not_driven_by_a_note(place, folder, capsys):
    place.close()
    said = run(capsys, "import", CORPUS / "r28_log_and_terminal_tricks.csv", folder)[1]
    assert "\x1b" not in said
    assert "\x08" not in said


def test_at_most_a_hundred_messages_of_a_kind_are_shown_and_the_rest_counted(place, folder, capsys, tmp_path):
    place.close()
    page = tmp_path / "many.csv"
    page.write_text(HEAD + "2026-03-02T08:00:00+01:00,T-1,temperature,x,degC,probe,a.meyer,\n" * 250, "utf-8")
    said = run(capsys, "import", page, folder)[1]
    assert said.count("many.csv:") == 100
    assert "and 150 more of this kind" in said
    data = json.loads(run(capsys, "import", page, folder, "--json")[1])
    assert len(data["findings"]) == 250


def test_imports_are_listed_and_taken_back_by_command(place, folder, capsys):
    place.close()
    run(capsys, "import", CORPUS / "r00_good.csv", folder)
    listed = json.loads(run(capsys, "imports", folder, "--json")[1])
    assert [one["readings"] for one in listed] == [3]
    name = listed[0]["id"][:8]
    assert run(capsys, "imports", folder, "--withdraw", name)[0] == 2
    assert run(capsys, "imports", folder, "--withdraw", name, "--reason", "wrong tank")[0] == 0
    assert "taken back" in run(capsys, "imports", folder)[1]
    assert run(capsys, "imports", folder, "--bring-back", name, "--reason", "it was right")[0] == 0


def test_a_wide_table_is_stored_by_command_with_its_map(place, folder, capsys):
    place.close()
    file = folder / "wide.csv"
    file.write_text("time (UTC),gauge\n2026-03-02 08:00:00,24.6\n2026-03-02 08:01:00,24.7\n", "utf-8")
    given = ("import", file, folder, "--at", "T-1", "--by", "logger", "--map")
    status, said = run(capsys, *given, "gauge=temperature, in °C")
    assert (status, "2 stored" in said) == (0, True)
    assert run(capsys, *given, "nonsense")[0] == 2


def test_keep_good_stores_the_good_rows_and_says_how_many(place, folder, capsys):
    place.close()
    status, said = run(capsys, "import", CORPUS / "r10_not_numbers.csv", folder, "--keep-good")
    assert (status, "14 rows read, 2 stored" in said) == (1, True)

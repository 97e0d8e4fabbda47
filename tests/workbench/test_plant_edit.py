"""The plant changed by a form: checked, shown, dated, written with notes kept, never over anybody."""

import dataclasses
import stat
from datetime import timedelta

import pytest
from tests.workbench.conftest import NOW

from brinehouse.workbench import clock, filing, mishaps, plant_edit, plant_things, plant_versions, typed
from brinehouse.workbench import hall as halls


def asked(hall, table="tank", key="pipefish", reason="measured anew", since="", **changed):
    _, _, was = plant_things.form(hall, table, key)
    return plant_edit.Asked(
        table=table, key=key, was=was, boxes={**was, **changed}, reason=reason, since=since
    )


@pytest.fixture
def wrote():
    """One reading written down."""

    def write(hall, place, quantity, text, **more):
        made = typed.understand(hall.facility, place=place, quantity=quantity, text=text, **more)
        hall.write([made.reading])

    return write


def written(hall, one):
    looked = plant_edit.look(hall, one)
    assert not looked.stopped, looked.findings
    return plant_edit.write(hall, dataclasses.replace(one, made_from=looked.digest), person=None)


def by_hand(hall, old, new):
    """Somebody else saves the file in a text editor."""
    text = hall.file.read_text("utf-8")
    assert old in text
    hall.file.write_text(text.replace(old, new, 1), "utf-8")


def codes(looked):
    return [one.code for one in looked.findings]


def test_a_change_is_shown_in_lines_and_in_words_before_anything_is_written(hall):
    before = hall.file.read_bytes()
    looked = plant_edit.look(hall, asked(hall, volume="1.1 m3"))
    assert looked.said == ["tank pipefish: volume is now 1.1 m3, and was 1.2 m3"]
    assert [(line.kind, line.text) for line in looked.lines if line.kind in ("old", "new")] == [
        ("old", 'volume = "1.2 m3"'),
        ("new", 'volume = "1.1 m3"'),
    ]
    assert hall.file.read_bytes() == before


def test_what_is_written_differs_in_that_alone_and_is_in_the_log_with_why(hall):
    hall.file.write_text("# our hall\n" + hall.file.read_text("utf-8"), "utf-8")
    hall.file.chmod(0o640)
    before = hall.file.read_text("utf-8")
    done = written(hall, asked(hall, volume="1.1 m3", rim="1 m"))
    after = hall.file.read_text("utf-8")
    assert after == before.replace('"1.2 m3"\ndepth = "0.9 m"', '"1.1 m3"\ndepth = "0.9 m"\nrim = "1 m"')
    assert stat.S_IMODE(hall.file.stat().st_mode) == 0o640
    fact = hall.book.get(done.written)
    assert (fact.kind, fact.note, fact.place) == ("event", "measured anew", "pipefish")
    assert hall.book.facility_at(clock.now()) == after
    newest = plant_versions.versions(hall)[0]
    assert (newest.reason, newest.said[0][:13]) == ("measured anew", "tank pipefish")
    assert sorted(one.name for one in hall.folder.iterdir() if one.name.startswith(".")) == []


def test_what_the_checks_find_stands_at_its_box_and_nothing_is_written(hall):
    looked = plant_edit.look(hall, asked(hall, volume="1.2", depth="0 m"))
    assert "no unit" in looked.faults["volume"]
    assert looked.stopped
    before = hall.file.read_bytes()
    again = plant_edit.write(hall, asked(hall, volume="1.2"))
    assert (again.written, hall.file.read_bytes()) == ("", before)


def test_a_change_needs_a_reason(hall):
    assert "plant/no-reason" in codes(written(hall, asked(hall, volume="1.1 m3", reason="")))


def test_another_value_changed_meanwhile_stands_beside_ours_after_a_second_look(hall):
    one = asked(hall, volume="1.1 m3")
    seen = plant_edit.look(hall, one)
    by_hand(hall, 'depth = "0.9 m"', 'depth = "0.8 m"  # sunk')
    again = plant_edit.write(hall, dataclasses.replace(one, made_from=seen.digest))
    assert (again.written, again.moved, again.clashes) == ("", True, [])
    done = plant_edit.write(hall, dataclasses.replace(again.again, made_from=again.digest))
    assert done.written
    assert 'volume = "1.1 m3"\ndepth = "0.8 m"  # sunk' in hall.file.read_text("utf-8")


def test_the_same_value_changed_meanwhile_is_asked_about_and_theirs_stays(hall):
    one = asked(hall, volume="1.1 m3")
    by_hand(hall, '"1.2 m3"', '"1.3 m3"')
    looked = plant_edit.write(hall, one)
    clash = looked.clashes[0]
    assert (clash.word, clash.was, clash.theirs, clash.mine) == ("volume", "1.2 m3", "1.3 m3", "1.1 m3")
    assert looked.stopped
    assert '"1.3 m3"' in hall.file.read_text("utf-8")
    sure = plant_edit.look(hall, dataclasses.replace(one, was=looked.was))
    assert sure.said == ["tank pipefish: volume is now 1.1 m3, and was 1.3 m3"]


def test_a_file_that_is_being_edited_and_does_not_pass_is_told_and_not_overwritten(hall):
    one = asked(hall, volume="1.1 m3")
    by_hand(hall, '"1.2 m3"', '"1.2')
    broken = hall.file.read_bytes()
    looked = plant_edit.write(hall, one)
    assert looked.findings[0].code == "plant/file-broken"
    assert hall.file.read_bytes() == broken


def test_a_save_in_the_last_moment_is_not_lost(hall, monkeypatch):
    one = asked(hall, volume="1.1 m3")
    seen = plant_edit.look(hall, one)
    swap = filing._swap
    saved = []

    def late(fresh, target):
        if not saved:
            saved.append(by_hand(hall, 'depth = "0.9 m"', 'depth = "0.7 m"'))
        return swap(fresh, target)

    monkeypatch.setattr(filing, "_swap", late)
    again = plant_edit.write(hall, dataclasses.replace(one, made_from=seen.digest))
    assert (again.written, again.moved) == ("", True)
    text = hall.file.read_text("utf-8")
    assert 'depth = "0.7 m"' in text
    assert '"1.2 m3"' in text
    assert done_after(hall, one, again)


def done_after(hall, one, looked):
    return plant_edit.write(hall, dataclasses.replace(one, made_from=looked.digest)).written


def test_two_forms_write_one_after_the_other(hall):
    one = asked(hall, volume="1.1 m3")
    with (
        filing.held(hall.folder),
        pytest.raises(mishaps.Refused) as refusal,
        filing.held(hall.folder, wait=0.0),
    ):
        pass
    assert refusal.value.findings[0].code == "plant/being-written"
    assert written(hall, one).written


def test_a_thing_of_a_list_is_known_by_what_it_says_not_by_its_number(hall):
    one = asked(hall, "limit", "1", watch="outside 24 °C to 27 °C")
    by_hand(
        hall,
        "[[limit]]\nquantity",
        '[[limit]]\nquantity = "salinity"\nwatch = "below 30 ppt"\n\n[[limit]]\nquantity',
    )
    looked = plant_edit.look(hall, one)
    assert looked.said == [
        "limit temperature, mangrove: watch is now outside 24 °C to 27 °C, and was outside 24 °C to 26.5 °C"
    ]


def test_a_past_change_is_made_in_every_version_since_then(hall, monkeypatch):
    hall.keep_facility()
    start = NOW
    later = NOW + timedelta(days=2)
    monkeypatch.setattr(clock, "now", lambda: later)
    written(hall, asked(hall, depth="0.8 m"))
    monkeypatch.setattr(clock, "now", lambda: later + timedelta(hours=1))
    done = written(hall, asked(hall, volume="1.1 m3", since="2026-03-15 06:40"))
    assert done.written
    before = hall.book.facility_at(start + timedelta(hours=1))
    between = hall.book.facility_at(start + timedelta(days=1, hours=1))
    assert ('"1.2 m3"' in before, '"1.1 m3"' in between) == (True, True)
    assert 'depth = "0.9 m"' in between
    assert hall.book.facility_at(clock.now()) == hall.file.read_text("utf-8")
    early = plant_edit.look(hall, asked(hall, depth="0.7 m", since="2026-03-15 06:40"))
    refused = plant_edit.write(
        hall,
        dataclasses.replace(asked(hall, depth="0.7 m", since="2026-03-15 06:40"), made_from=early.digest),
    )
    assert "plant/too-early" in codes(refused)
    assert "2026-03-16 06:40" in refused.findings[-1].hint


def test_nothing_is_dated_ahead(hall):
    assert "typed/future" in codes(
        plant_edit.look(hall, asked(hall, volume="1.1 m3", since="2026-04-01 06:00"))
    )


def test_a_new_thing_stands_after_its_like_and_its_id_is_checked(hall):
    new = plant_edit.Asked(
        table="tank", key="nursery", what="add", boxes={"volume": "0.4 m3"}, reason="new shelf"
    )
    assert written(hall, new).written
    text = hall.file.read_text("utf-8")
    assert text.index("[tank.pipefish]") < text.index("[tank.nursery]") < text.index("[sump.sump-m]")
    again = {"Nursery": "facility/ids-too-alike", "nursery": "plant/id-taken", "": "plant/no-id"}
    for key, code in again.items():
        looked = plant_edit.look(hall, dataclasses.replace(new, key=key))
        assert code in codes(looked)
        assert looked.stopped


def test_what_the_log_speaks_of_is_retired_not_taken_out(hall, wrote):
    wrote(hall, "pipefish", "temperature", "25 °C")
    gone = dataclasses.replace(asked(hall, key="pipefish"), what="remove")
    looked = plant_edit.look(hall, gone)
    assert codes(looked) == ["plant/in-the-log"]
    assert "retire" in looked.findings[0].hint
    free = dataclasses.replace(asked(hall, "instrument", "probe-1"), what="remove")
    assert plant_edit.look(hall, free).said == ["instrument probe-1 is taken out"]
    assert written(hall, free).written
    assert "probe-1" not in hall.file.read_text("utf-8")


def test_a_thing_others_name_is_not_taken_out(hall):
    gone = plant_edit.look(hall, dataclasses.replace(asked(hall, key="mangrove"), what="remove"))
    assert "facility/dangling" in codes(gone)
    assert gone.stopped


def test_an_id_that_the_log_knows_is_not_given_to_a_new_thing(hall, wrote):
    wrote(hall, "mangrove", "temperature", "25 °C", instrument="probe-1")
    by_hand(hall, "[instrument.probe-1]", "[instrument.probe-2]")
    new = plant_edit.Asked(table="instrument", key="probe-1", what="add", boxes={"measures": "temperature"})
    assert codes(plant_edit.look(hall, new)) == ["plant/id-used"]


def test_line_ends_and_the_mark_at_the_start_stay_as_they_were(hall):
    text = hall.file.read_text("utf-8")
    hall.file.write_bytes(("\ufeff" + text).replace("\n", "\r\n").encode("utf-8"))
    assert written(hall, asked(hall, volume="1.1 m3")).written
    content = hall.file.read_bytes().decode("utf-8")
    assert content.startswith("\ufeff")
    assert content.count("\n") == content.count("\r\n")
    assert hall.book.facility_at(clock.now()) == hall.file.read_text("utf-8")


def test_where_the_log_cannot_be_written_the_file_is_put_back(hall, monkeypatch):
    before = hall.file.read_bytes()

    def full(*_args, **_more):
        raise OSError(28, "no space left")

    one = asked(hall, volume="1.1 m3")
    seen = plant_edit.look(hall, one)
    monkeypatch.setattr(halls.Hall, "write", full)
    with pytest.raises(OSError, match="no space"):
        plant_edit.write(hall, dataclasses.replace(one, made_from=seen.digest))
    assert hall.file.read_bytes() == before


@pytest.mark.parametrize("table", [table.name for table in plant_things.tables()])
def test_every_table_has_a_form_made_from_the_words(hall, table):
    _, made, _ = plant_things.form(hall, table, new=True)
    assert {box.word.name for box in made} == {
        word.name for word in plant_things.table_of(table).words.values() if word.kind != "inner"
    }
    assert [box.word.required for box in made] == sorted((box.word.required for box in made), reverse=True)


def test_a_retired_thing_is_not_offered_for_anything_new(hall):
    written(hall, asked(hall, "instrument", "probe-1", retired="2026-03-01"))
    _, made, _ = plant_things.form(hall, "point", "mangrove-low")
    offered = next(box for box in made if box.word.name == "instrument").choices
    assert [value for value, _ in offered] == ["meter-B"]
    assert plant_versions.versions(hall)[0].said == ["instrument probe-1 is retired from 2026-03-01"]


def test_a_version_is_shown_as_it_was_then(hall):
    hall.keep_facility()
    written(hall, asked(hall, volume="1.1 m3"))
    newest, lines = plant_versions.version(hall, 2)
    assert '"1.1 m3"' in newest.text
    assert [line.text for line in lines if line.kind == "new"]
    with pytest.raises(mishaps.Refused) as refusal:
        plant_versions.version(hall, 99)
    assert refusal.value.findings[0].code == "plant/no-version"


def test_a_file_that_is_no_text_is_left_alone(hall):
    one = asked(hall, volume="1.1 m3")
    hall.file.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(mishaps.Refused) as refusal:
        plant_edit.write(hall, one)
    assert refusal.value.findings[0].code == "plant/not-text"
    assert hall.file.read_bytes() == b"\xff\xfe\x00"


def test_what_a_form_cannot_write_exactly_is_left_to_a_text_editor(hall):
    by_hand(hall, '[sump.sump-m]\nvolume = "7.5 m3"', '[sump]\nsump-m = { volume = "7.5 m3" }')
    one = asked(hall, "sump", "sump-m", depth="0.9 m")
    with pytest.raises(mishaps.Refused) as refusal:
        plant_edit.look(hall, one)
    assert refusal.value.findings[0].code == "plant/not-written"


def test_the_facility_itself_is_not_taken_out(hall):
    whole = dataclasses.replace(asked(hall, "facility", ""), what="remove")
    assert codes(plant_edit.look(hall, whole)) == ["plant/not-removed"]

"""Codes on labels: short, lasting, read whatever the case, and never two things under one."""

import pytest

from brinehouse.facility import model
from brinehouse.workbench import tags


def hall(*ids):
    return model.Facility(
        name="", vessels={id: model.Vessel(id=id, kind="tank", name=f"Tank {id}") for id in ids}
    )


def test_a_code_does_not_change_when_other_things_come_and_go():
    before = {tag.id: tag.code for tag in tags.of(hall("mangrove", "pipefish")).values()}
    after = {tag.id: tag.code for tag in tags.of(hall("kelp", "pipefish", "mangrove", "q-1")).values()}
    assert {id: after[id] for id in before} == before


def test_a_thousand_things_have_a_thousand_codes():
    ids = [f"tank-{number}" for number in range(1000)]
    known = tags.of(hall(*ids))
    assert len(known) == 1000
    assert {tag.id for tag in known.values()} == set(ids)


def test_two_ids_that_meet_in_one_code_are_told_apart(monkeypatch):
    made = tags.code
    monkeypatch.setattr(tags, "code", lambda id, turn=0: "QQQQ" if turn == 0 else made(id, turn))
    known = tags.of(hall("a", "b", "c"))
    assert {tag.id for tag in known.values()} == {"a", "b", "c"}


@pytest.mark.parametrize("change", [str.lower, str.upper, lambda code: f" {code[:2]} {code[2:]} "])
def test_a_code_is_read_as_people_type_it(change):
    place = hall("mangrove", "pipefish")
    code = next(tag.code for tag in tags.of(place).values() if tag.id == "pipefish")
    assert tags.read(place, change(code)).id == "pipefish"
    assert tags.read(place, "Pipefish").id == "pipefish"
    assert tags.read(place, "") is None
    assert tags.read(place, "ZZZZZ") is None


def test_no_code_holds_a_sign_that_reads_as_another_or_spells_a_word():
    for number in range(300):
        assert not set(tags.code(f"tank-{number}")) & set("01OILAEIU")

"""What phones send: each entry by itself, exactly once, and none in the way of the next."""

import json
import pathlib
from concurrent import futures
from datetime import UTC, datetime, timedelta

import pytest

from brinehouse.logbook import kept
from brinehouse.workbench import clock, mishaps, people, queue_in, round_writing
from brinehouse.workbench import hall as halls

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)  # where the halls' clock stands still
CORPUS = pathlib.Path(__file__).parents[1] / "corpus"
KEEPER = people.Who(number=1, name="Lark", role="keeper", device="phone-7")


def iso(**ago):
    return (NOW - timedelta(**ago)).isoformat()


def entry(number=1, kind="reading", person=None, made=None, **changed):
    bodies = {
        "reading": {"place": "mangrove-low", "quantity": "temperature", "text": "25,1", "unit": "°C"},
        "observation": {"place": "mangrove", "animals": "mullet", "sign": "appetite", "answer": "as usual"},
        "feeding": {"place": "mangrove", "food": "mysis", "grams": 40, "eaten": "all"},
        "note": {"place": "mangrove", "text": "the grating rattles"},
        "stop": {"what": "skipped", "reason": "meter flat"},
        "walk": {"what": "begun"},
    }
    body = {**bodies.get(kind, {}), **changed.pop("body", {})}
    return {
        "id": f"{number:032x}", "made": made or iso(minutes=5), "person": person, "round": "round",
        "walk": "ab" * 16, "stop": "mangrove-low.temperature", "kind": kind, "body": body, **changed,
    }  # fmt: skip


def send(hall, *entries, who=people.OPEN, sent=None):
    body = {"device": "phone-7", "sent": sent or NOW.isoformat(), "entries": list(entries)}
    return queue_in.take(hall, json.dumps(body).encode(), who)["entries"]


def states(told):
    return [one["state"] for one in told]


# The corpus, item by item -----------------------------------------------------------------------------------


def mapped(item):
    """An entry of the corpus in our own words: its ids are hashed, its names and units are ours."""
    id = item["client_id"]
    plain = id.isalnum()
    body = item["body"]
    return {
        "id": round_writing.derived(id) if plain else id,
        "made": item["made"],
        "person": {"a.meyer": 1, "lead.admin": 2}[item["user"]],
        "kind": "reading",
        "body": {
            "place": {"T-1": "mangrove"}.get(body["place"], body["place"]),
            "quantity": body["quantity"],
            "text": f"{body['value']}",
            "unit": {"degC": "°C"}[body["unit"]],
        },
    }


def test_the_corpus_replayed_late_is_answered_as_its_index_says(hall):
    [verdict] = [
        one
        for one in json.loads((CORPUS / "INDEX.json").read_text("utf-8"))["files"]
        if one["file"] == "q00_offline_queue_replay.json"
    ]
    items = json.loads((CORPUS / "q00_offline_queue_replay.json").read_text("utf-8"))
    assert [hall.person(name) for name in ("A. Meyer", "Lead Admin")] == [1, 2]
    clock.freeze(datetime(2026, 3, 2, 9, 0, tzinfo=UTC))
    told = send(hall, *(mapped(item) for item in items), who=KEEPER, sent="2026-03-02T09:00:00+00:00")
    assert states(told) == ["stored", "same", "aside", "refused", "refused", "aside", "refused", "late"]
    assert [one["code"] for one in told] == [
        "", "", "round/conflict", "round/other-person", "round/clock", "typed/unknown-place",
        "round/bad-id", "round/late",
    ]  # fmt: skip
    stored = hall.history()
    assert len(stored) == verdict["rows_ok"] == 2
    assert {reading.person for reading in stored} == {1}
    bad = [one["item"] for one in verdict["where"]]
    assert [number for number, one in enumerate(told, 1) if one["state"] in ("refused", "aside")] == bad
    [aside] = hall.book.asides()
    assert aside.kept.value == 24.6
    assert "99.9" in str(aside.offered["details"])
    [note] = hall.facts(["note"])
    assert "24.6 °C at T-DELETED" in note.details["what"]
    again = send(hall, *(mapped(item) for item in items), who=KEEPER, sent="2026-03-02T09:00:00+00:00")
    assert states(again) == ["same", "same", "aside", "refused", "refused", "same", "refused", "same"]
    assert len(hall.history()) == 2
    assert len(hall.book.asides()) == 1


def test_the_same_id_with_another_value_that_can_be_is_kept_aside_and_shown_side_by_side(hall):
    told = send(hall, entry(1), entry(1, body={"text": "25.4"}), entry(2))
    assert states(told) == ["stored", "aside", "stored"]
    assert told[1]["code"] == "round/conflict"
    [aside] = hall.book.asides()
    assert (aside.kept.value, aside.offered["value"]) == (25.1, 25.4)
    assert len(hall.history()) == 2


# Exactly once ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["reading", "observation", "feeding", "note", "stop", "walk"])
def test_every_kind_arrives_exactly_once_however_often_it_is_sent(hall, kind):
    one = entry(7, kind)
    assert states(send(hall, one, one)) == ["stored", "same"]
    later = NOW + timedelta(hours=2)
    clock.freeze(later)
    assert states(send(hall, one, sent=later.isoformat())) == ["same"]
    assert len([*hall.history(), *hall.facts()]) == 1


def test_the_same_entries_in_any_order_and_from_many_threads_are_stored_once(hall):
    entries = [entry(number) for number in range(30)]
    with futures.ThreadPoolExecutor(8) as crew:
        told = list(crew.map(lambda k: send(hall, *entries[k:], *entries[:k]), range(8)))
    assert {state for one in told for state in states(one)} <= {"stored", "same"}
    assert sum(states(one).count("stored") for one in told) == 30
    assert len(hall.history()) == 30
    assert hall.book.asides() == []


def test_two_readings_of_two_people_at_one_tank_are_both_kept(hall):
    lark, moss = hall.person("Lark"), hall.person("Moss")
    told = send(hall, entry(1, person=lark), entry(2, person=moss, body={"text": "24.8"}))
    assert states(told) == ["stored", "stored"]
    assert {(one.value, one.person) for one in hall.history()} == {(25.1, lark), (24.8, moss)}


# Each by itself -------------------------------------------------------------------------------------------

FAULTS = [
    ({"id": "../../x"}, "round/bad-id"),
    ({"id": 7}, "round/bad-id"),
    ({"id": "AB" * 16}, "round/bad-id"),
    ({"made": "yesterday"}, "round/clock"),
    ({"made": "2031-01-01T00:00:00Z"}, "round/clock"),
    ({"made": "1970-01-01T00:00:00Z"}, "round/clock"),
    ({"made": "2026-03-14T06:00:00"}, "round/clock"),
    ({"person": 99}, "round/other-person"),
    ({"person": True}, "round/other-person"),
    ({"kind": "walks"}, "round/bad-entry"),
    ({"kind": None}, "round/bad-entry"),
    ({"body": {"approved": True}}, "round/unknown-key"),
    ({"vlaue": 1}, "round/unknown-key"),
    ({"body": {"text": "25.1.1"}}, "round/two-signs"),
    ({"body": {"text": "warm"}}, "round/not-a-number"),
    ({"body": {"text": "251"}}, "glossary/impossible"),
    ({"body": {"text": "40"}}, "typed/impossible"),
    ({"body": {"text": ["25"]}}, "round/bad-entry"),
    ({"body": {"text": "2" * 200}}, "round/bad-entry"),
    ({"body": {"quantity": "warmth"}}, "typed/unknown-quantity"),
    ({"body": {"instrument": "none-such"}}, "typed/unknown-instrument"),
    ({"body": {"reason": "a\x00b"}}, "round/bad-entry"),
    ({"body": {"reason": "\ud800"}}, "round/bad-entry"),
    ({"body": {"reason": [[[[[[[[1]]]]]]]]}}, "round/bad-entry"),
    ({"body": {"sure": "yes"}}, "round/bad-entry"),
    ({"stop": 5}, "round/bad-entry"),
]


@pytest.mark.parametrize(("wrong", "code"), FAULTS)
def test_a_fault_in_one_entry_is_told_and_never_stops_the_next(hall, wrong, code):
    told = send(hall, entry(1), entry(2, **wrong), entry(3))
    assert states(told) == ["stored", "refused", "stored"]
    assert told[1]["code"] == code
    assert told[1]["text"]
    assert len(hall.history()) == 2


@pytest.mark.parametrize(
    "text",
    [
        '"text": "25.1", "text": "25.2"',
        '"text": NaN',
        '"text": 1e999',
        '"text": ' + "9" * 400,
    ],
)
def test_a_key_twice_and_a_number_that_is_none_are_that_entrys_fault(hall, text):
    good = json.dumps(entry(1))
    bad = json.dumps(entry(2)).replace('"text": "25,1"', text)
    body = f'{{"device": "p", "sent": "{NOW.isoformat()}", "entries": [{bad}, {good}]}}'
    assert states(queue_in.take(hall, body.encode(), people.OPEN)["entries"]) == ["refused", "stored"]


@pytest.mark.parametrize(
    ("body", "code"),
    [
        (b"", "round/not-json"),
        (b"\xff", "round/not-json"),
        (b"[1, 2", "round/not-json"),
        (b"[" * 20_000, "round/too-deep"),
        (b"[]", "round/no-batch"),
        (b'{"entries": 3}', "round/no-batch"),
        (b'{"entries": [' + b"1," * 50 + b"1]}", "round/no-batch"),
        (b'{"entries": [], "x": "' + b"x" * 600_000 + b'"}', "round/too-large"),
    ],
)
def test_what_is_no_batch_at_all_is_refused_whole_with_why(hall, body, code):
    with pytest.raises(mishaps.Refused) as refusal:
        queue_in.take(hall, body, people.OPEN)
    assert refusal.value.findings[0].code == code


def test_entries_that_are_no_entries_are_each_refused(hall):
    told = send(hall, 1, None, "x", [], {}, entry(1))
    assert states(told) == ["refused"] * 5 + ["stored"]


# Clocks ---------------------------------------------------------------------------------------------------


def test_a_phone_that_is_fourteen_minutes_slow_is_put_right_and_marked_once(hall):
    slow = timedelta(minutes=14)
    one = entry(1, made=(NOW - slow - timedelta(hours=1)).isoformat())
    told = send(hall, one, sent=(NOW - slow).isoformat())
    assert (states(told), told[0]["code"]) == (["stored"], "round/clock-mended")
    [stored] = hall.history()
    assert stored.measured == NOW - timedelta(hours=1)
    assert "round/clock-mended" in stored.marks
    clock.freeze(NOW + timedelta(minutes=30, seconds=2))
    again = send(hall, one, sent=(NOW - slow + timedelta(minutes=30)).isoformat())
    assert states(again) == ["same"]
    assert hall.book.asides() == []


def test_a_clock_that_is_only_seconds_off_is_left_alone(hall):
    send(hall, entry(1, made=iso(minutes=5)), sent=iso(seconds=40))
    assert hall.history()[0].measured == NOW - timedelta(minutes=5)


def test_an_entry_of_more_than_seven_days_ago_is_stored_and_marked_late(hall):
    told = send(hall, entry(1, made=iso(days=8)), entry(2, made=iso(days=6)))
    assert states(told) == ["late", "stored"]
    assert ["round/late" in one.marks for one in hall.history()] == [True, False]


# Whose it is ----------------------------------------------------------------------------------------------


def test_another_persons_entry_is_taken_only_where_they_signed_in_on_that_phone(hall, monkeypatch):
    lark, moss = hall.person("Lark"), hall.person("Moss")
    signed_in = set()
    monkeypatch.setattr(people, "wrote", lambda _, device, person, at: (device, person) in signed_in)
    told = send(hall, entry(1, person=lark), entry(2, person=moss), entry(3), who=KEEPER)
    assert states(told) == ["stored", "refused", "stored"]
    assert told[1]["code"] == "round/other-person"
    signed_in.add(("phone-7", moss))
    assert states(send(hall, entry(2, person=moss), who=KEEPER)) == ["stored"]
    assert sorted(one.person for one in hall.history()) == [lark, lark, moss]


# What is unusual, and what is gone ------------------------------------------------------------------------


def test_an_unusual_value_is_kept_and_one_that_the_phone_did_not_ask_about_says_so(hall):
    told = send(
        hall, entry(1, body={"text": "27", "sure": True, "reason": "sun"}), entry(2, body={"text": "28"})
    )
    assert states(told) == ["stored", "stored"]
    assert {one["code"] for one in told} == {"round/unusual"}
    by_value = {one.value: one for one in hall.history()}
    assert (by_value[27.0].quality, by_value[27.0].note) == ("unusual", "sun")
    assert "round/not-asked" in by_value[28.0].marks
    assert "round/not-asked" not in by_value[27.0].marks


def test_a_retired_place_keeps_the_value_as_a_note_for_a_decision(hall):
    text = hall.file.read_text("utf-8").replace(
        "[tank.mangrove]\n", "[tank.mangrove]\nretired = 2026-03-01\n"
    )
    hall.file.write_text(text, "utf-8")
    told = send(hall, entry(1), entry(2, "observation"))
    assert states(told) == ["aside", "aside"]
    assert {one["code"] for one in told} == {"typed/retired"}
    assert hall.history() == []
    assert len(hall.facts(["note"])) == 2


# When the disk does not ------------------------------------------------------------------------------------


def test_what_the_disk_did_not_confirm_is_to_be_sent_again(hall, monkeypatch):
    send(hall, entry(9))
    later = futures.Future()
    later.set_exception(kept.NotSaved(kept.stop("logbook/not-saved", "the disk did not confirm")))
    with monkeypatch.context() as broken:
        broken.setattr(type(hall.book), "append_later", lambda *_, **__: later)
        told = send(hall, entry(1))
    assert (states(told), told[0]["code"]) == (["again"], "logbook/not-saved")
    assert states(send(hall, entry(1))) == ["stored"]


def test_a_disk_that_takes_too_long_is_told_as_not_known(hall, monkeypatch):
    send(hall, entry(9))
    monkeypatch.setattr(queue_in, "WAIT", 0.01)
    monkeypatch.setattr(type(hall.book), "append_later", lambda *_, **__: futures.Future())
    assert send(hall, entry(1))[0]["code"] == "round/slow"


def test_what_nobody_foresaw_is_one_entrys_misfortune(hall, monkeypatch):
    monkeypatch.setattr(queue_in.queue_facts, "fact", lambda *_: 1 / 0)
    told = send(hall, entry(1), entry(2))
    assert states(told) == ["refused", "refused"]
    assert {one["code"] for one in told} == {"workbench/unforeseen"}


def test_the_facility_text_is_looked_at_once_a_minute_not_once_an_entry(hall, monkeypatch):
    send(hall, entry(1))
    asked = []
    monkeypatch.setattr(type(hall.book), "facility_at", lambda _self, at: asked.append(at))
    for number in range(2, 12):
        send(hall, entry(number))
    assert asked == []


def test_a_hall_that_is_closed_and_opened_again_looks_once_more(folder):
    with halls.open_hall(folder) as hall:
        send(hall, entry(1))
        assert len(hall.book.facility_texts()) == 1
    with halls.open_hall(folder) as hall:
        assert states(send(hall, entry(1))) == ["same"]

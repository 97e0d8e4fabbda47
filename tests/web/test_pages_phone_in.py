"""The plan that phones take along, and what they send back: answered entry by entry, and never with a 500."""

import io
import json

import pytest
from PIL import Image

from brinehouse.workbench import queue_in, rounds

OURS = {"x-brinehouse-phone": "1"}
ENTRY = {
    "id": f"{1:032x}", "made": "2026-03-14T06:35:00Z", "person": None, "round": "round", "walk": "ab" * 16,
    "stop": "mangrove.temperature", "kind": "reading",
    "body": {"place": "mangrove", "quantity": "temperature", "text": "25,1", "unit": "°C", "sure": False},
}  # fmt: skip


def send(visitor, *entries, **more):
    body = {"device": "phone-7", "sent": "2026-03-14T06:40:00Z", "entries": list(entries)}
    return visitor.post("/phone/entries", content=json.dumps(body), headers={**OURS, **more})


def picture():
    held = io.BytesIO()
    Image.new("RGB", (64, 48), (20, 80, 90)).save(held, "JPEG")
    return held.getvalue()


def test_the_plan_of_a_hall_without_rounds_is_made_from_its_tanks(small):
    plan = small.get("/rounds/round/plan.json").json()
    assert (plan["round"], plan["name"], plan["hall"]) == ("round", "Round", "Test Hall")
    assert [stop["key"] for stop in plan["stops"]] == ["mangrove.temperature", "pipefish.temperature"]
    ask = plan["stops"][0]["asks"][0]
    assert (ask["unit"], ask["instrument"], ask["expected"]) == ("°C", "meter-B", [-2.0, 30.0])
    assert (ask["last"], ask["trace"], plan["walk"]) == (None, [], None)
    assert set(ask["scales"]) == {"°F", "K"}


def test_what_was_sent_is_stored_and_stands_in_the_next_plan(small):
    answer = send(small, ENTRY)
    assert answer.status_code == 200
    [told] = answer.json()["entries"]
    assert (told["id"], told["state"]) == (ENTRY["id"], "stored")
    walk = {**ENTRY, "id": f"{2:032x}", "kind": "stop", "body": {"what": "done", "reason": ""}}
    assert send(small, walk).json()["entries"][0]["state"] == "stored"
    plan = small.get("/rounds/round/plan.json").json()
    assert plan["walk"]["done"] == ["mangrove.temperature"]
    assert plan["stops"][0]["asks"][0]["last"]["value"] == 25.1
    assert plan["stops"][0]["asks"][0]["trace"] == [[0.08, 25.1]]


def test_a_round_that_is_not_there_is_said_so_as_json(small):
    answer = small.get("/rounds/nothing/plan.json")
    assert (answer.status_code, answer.json()["findings"][0]["code"]) == (404, "round/unknown")


def test_what_does_not_come_from_our_own_script_is_refused(small):
    assert small.post("/phone/entries", json={"entries": []}).status_code == 403


@pytest.mark.parametrize(
    ("body", "status"),
    [(b"", 400), (b"\xff\xfe", 400), (b"[" * 5000, 400), (b"{}", 400), (b"x" * 600_000, 413)],
)
def test_a_body_that_is_no_batch_is_answered_with_why(small, body, status):
    answer = small.post("/phone/entries", content=body, headers=OURS)
    assert answer.status_code == status
    assert answer.json()["findings"][0]["hint"]


def test_what_nobody_foresaw_is_never_a_500(small, monkeypatch):
    monkeypatch.setattr(queue_in, "take", lambda *_: 1 / 0)
    answer = send(small, ENTRY)
    assert (answer.status_code, answer.json()["findings"][0]["code"]) == (503, "workbench/unforeseen")


def test_a_file_that_no_longer_passes_check_keeps_the_entries_on_the_phone(small):
    hall = small.app.state.desk.hall()
    hall.file.write_text("schema = 1\n", "utf-8")
    answer = send(small, ENTRY)
    assert answer.status_code == 503
    assert small.get("/rounds/round/plan.json").status_code == 503


def test_a_picture_is_kept_once_and_belongs_to_its_entry(small):
    send(small, ENTRY)
    way, about = f"/phone/photo/{7:032x}", {"x-about": ENTRY["id"], "x-made": "2026-03-14T06:35:10Z"}
    first = small.put(way, content=picture(), headers={**OURS, **about})
    assert (first.status_code, first.json()["entries"][0]["state"]) == (200, "stored")
    assert (
        small.put(way, content=picture(), headers={**OURS, **about}).json()["entries"][0]["state"] == "same"
    )
    [fact] = small.app.state.desk.hall().facts(["file"])
    assert (fact.id, fact.details["about"]) == (f"{7:032x}", ENTRY["id"])


@pytest.mark.parametrize(
    ("id", "content", "code"),
    [
        ("x", b"", "round/bad-id"),
        (f"{8:032x}", b"<html>", "attachment/"),
        (f"{8:032x}", b"", "attachment/"),
    ],
)
def test_a_picture_that_is_none_is_refused_by_itself(small, id, content, code):
    answer = small.put(f"/phone/photo/{id}", content=content, headers=OURS)
    [told] = answer.json()["entries"]
    assert (answer.status_code, told["state"]) == (200, "refused")
    assert told["code"].startswith(code)


def test_a_plan_says_by_which_facility_file_it_was_made(small):
    hall = small.app.state.desk.hall()
    first = small.get("/rounds/round/plan.json").json()["version"]
    hall.file.write_text(hall.file.read_text("utf-8") + "\n# changed\n", "utf-8")
    assert small.get("/rounds/round/plan.json").json()["version"] != first
    assert first == first.lower()
    assert len(first) == 12
    assert (
        rounds.version(hall.facility, next(iter(rounds.round_stops.rounds(hall.facility).values()))) != first
    )

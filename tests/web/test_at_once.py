"""Whoever is known without the disk goes on at once, and is known no longer than they may be."""

import peopled as peopled_hall
import pytest

from brinehouse.web import gate
from brinehouse.workbench import people

HERE = {"origin": "http://127.0.0.1"}


@pytest.fixture
def held(tmp_path):
    """A hall whose lock this process holds, as a server does."""
    with peopled_hall.visited(tmp_path) as made:
        made.hall.book.hold()
        yield made


@pytest.fixture
def threads(monkeypatch):
    """Every request that the gate had to ask the disk about."""
    asked, answer = [], gate._answer
    monkeypatch.setattr(gate, "_answer", lambda request: asked.append(request.url.path) or answer(request))
    return asked


def status(made, role, path="/me", method="GET"):
    made.visitor.cookies.clear()
    headers = {**HERE, "cookie": made.cookies[role]}
    return made.visitor.request(method, path, headers=headers, follow_redirects=False).status_code


def test_a_session_is_read_once(held, threads):
    assert [status(held, "keeper") for _ in range(3)] == [200, 200, 200]
    assert len(threads) == 1


def test_without_the_lock_every_request_asks_the_disk(tmp_path, threads):
    with peopled_hall.visited(tmp_path) as made:
        assert [status(made, "keeper") for _ in range(3)] == [200, 200, 200]
    assert threads.count("/me") == 3


def test_a_session_that_was_ended_opens_nothing_from_the_next_request_on(held):
    assert status(held, "keeper") == 200
    people.disable(held.hall, held.numbers["keeper"], people.OPEN)
    assert status(held, "keeper") == 303


def test_a_role_that_was_changed_holds_from_the_next_request_on(held):
    assert [status(held, "lead", "/people/log"), status(held, "lead", "/people/log")] == [403, 403]
    people.change_role(held.hall, held.numbers["lead"], "administrator", people.OPEN)
    assert status(held, "lead", "/people/log") == 200
    people.change_role(held.hall, held.numbers["lead"], "reader", people.OPEN)
    assert status(held, "lead", "/people/log") == 403


def test_a_phone_that_was_sent_away_is_out_at_once(held):
    from brinehouse.logbook import canon
    from brinehouse.workbench import clock, sealing

    at, device = canon.microseconds(clock.now()), sealing.short_id()
    told = {"id": device, "token": sealing.digest("x"), "name": "phone", "admitted_by": None,
            "first_seen": at, "last_seen": at}  # fmt: skip
    people.do(held.hall, [["add device", told]])
    held.cookies["keeper"] = held.fresh("keeper", device=device)
    assert [status(held, "keeper") for _ in range(2)] == [200, 200]
    people.end_device(held.hall, device, people.OPEN)
    assert status(held, "keeper") == 303

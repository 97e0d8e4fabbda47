"""A batch handed to the running server is what would have been stored without it."""

import http.client
import json
import re
import signal
import subprocess
import sys
import threading
from datetime import UTC, datetime, timedelta, timezone
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brinehouse import records
from brinehouse.cli import running
from brinehouse.logbook import canon, kept, lock
from brinehouse.workbench import clock, handing, mishaps
from brinehouse.workbench import hall as halls

AT = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)
words = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
times = st.builds(
    lambda at, zone: (AT + at).astimezone(zone),
    st.timedeltas(timedelta(days=-20_000), timedelta(days=20_000)),
    st.sampled_from([UTC, timezone(timedelta(hours=5))]),
)
floats = st.none() | st.floats(allow_nan=False, allow_infinity=False)
readings = st.builds(
    records.Reading, id=words, measured=times, entered=times, place=words, quantity=words, value=floats,
    unit=words, text=words, point=words, depth=floats, bound=st.sampled_from(["", "<", ">"]), missing=words,
    basis=words, instrument=words, method=words, sitting=words, person=st.none() | st.integers(1, 99),
    quality=st.sampled_from(["good", "unusual", "doubtful", "fault"]), marks=st.lists(words).map(tuple),
    source=st.sampled_from(["hand", "sensor", "import"]), note=words, supersedes=words,
    reason=words, origin=words,
)  # fmt: skip
details = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=6,
)
facts = st.builds(
    records.Fact, id=words, kind=st.sampled_from(["event", "note", "pump-run", "gas-trial"]), measured=times,
    entered=times, place=words, details=st.dictionaries(words, details, max_size=4),
    person=st.none() | st.integers(1, 99), note=words, supersedes=words, reason=words, origin=words,
)  # fmt: skip


def reading(id="0a", **changed):
    told = {"measured": AT, "entered": AT, "place": "mangrove", "quantity": "temperature", "value": 25.4,
            "unit": "°C", "text": "25.4 °C"}  # fmt: skip
    return records.Reading(id=id, **(told | changed))


# -- across the wire ------------------------------------------------------------------------------------


@given(readings | facts)
@settings(max_examples=60, deadline=None)
def test_an_entry_comes_through_with_every_field_and_the_same_digest(entry):
    back = handing.unpack(json.loads(json.dumps(handing.pack(entry))))
    assert back == entry
    assert canon.content_of(back) == canon.content_of(entry)
    assert canon.header_of(back, None) == canon.header_of(entry, None)


def test_a_lost_field_would_be_noticed():
    sent = handing.pack(reading())
    del sent["depth"]
    with pytest.raises(mishaps.Refused) as refusal:
        handing.unpack(sent)
    assert refusal.value.findings[0].code == "handing/not-understood"
    assert "depth" in refusal.value.findings[0].text


@pytest.mark.parametrize(
    ("name", "value"),
    [("measured", "soon"), ("value", "25"), ("value", True), ("value", 10**400), ("person", 1.5),
     ("marks", "x"), ("place", None), ("unit", 3)],
)  # fmt: skip
def test_a_field_of_another_kind_is_refused(name, value):
    with pytest.raises(mishaps.Refused):
        handing.unpack(handing.pack(reading()) | {name: value})


@pytest.mark.parametrize(
    "body",
    [None, [], "x", {"what": "sweep"}, {"what": "person"}, {"what": "person", "name": 5},
     {"entries": "x"}, {"entries": [1]}, {"what": "withdraw", "id": "x"}, {"what": "import", "content": "%",
      "entries": []}, {}],
)  # fmt: skip
def test_a_batch_that_is_not_understood_is_refused_in_a_sentence(hall, body):
    answer = handing.take(hall, body)
    assert [one["code"] for one in answer["findings"]] == ["handing/not-understood"]
    assert not halls.Hall.has_book(hall.folder)


def test_taking_writes_and_a_second_time_is_the_same(hall):
    body = handing.entries([reading()], None)
    first, second = handing.take(hall, body), handing.take(hall, body)
    assert [state for _, state, _ in first["answer"]] == ["new"]
    assert [state for _, state, _ in second["answer"]] == ["same"]
    assert hall.history()[0].text == "25.4 °C"


def test_a_refusal_of_the_logbook_comes_back_as_one(hall):
    answer = handing.take(hall, handing.entries([reading(person=7)], None))
    assert answer["refused"] == "refused"
    assert answer["findings"][0]["code"] == "logbook/unknown-person"


def test_an_import_is_taken_with_its_file(hall):
    body = handing.import_file("im1", "round.csv", b"\xff\x00", [reading(origin="im1:2")], at=AT, person=None)
    answer = handing.take(hall, json.loads(json.dumps(body)))
    assert answer["answer"][0][1] == "new"
    assert hall.book.import_content("im1") == b"\xff\x00"


def test_an_answer_about_a_source_is_remembered(hall):
    told = {"source": "round.csv", "question": "unit of oxygen", "answer": "mg/L", "at": AT, "person": None}
    assert handing.take(hall, json.loads(json.dumps(handing.call("remember", **told)))) == {"answer": None}
    assert hall.book.remembered("round.csv") == {"unit of oxygen": "mg/L"}


# -- a door that is not what it should be ---------------------------------------------------------------


class Stranger(BaseHTTPRequestHandler):
    reply = (200, b"{}")

    def do_POST(self):
        self.rfile.read(int(self.headers["content-length"]))
        status, body = self.reply
        if status:
            self.send_response(status)
            self.send_header("content-length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)
        self.close_connection = True

    def log_message(self, *_):
        pass


@pytest.fixture
def stranger():
    server = HTTPServer(("127.0.0.1", 0), Stranger)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    yield server.server_port
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.mark.parametrize(
    ("reply", "code"),
    [((0, b""), "handing/no-answer"), ((200, b"<html>"), "handing/no-answer"),
     ((200, b"{}"), "handing/no-answer"),
     ((500, b"oh"), "handing/no-answer"), ((403, b"no"), "handing/not-let-in")],
)  # fmt: skip
def test_no_answer_is_never_taken_for_stored(stranger, monkeypatch, reply, code):
    monkeypatch.setattr(Stranger, "reply", reply)
    with pytest.raises(kept.Refused) as refusal:
        handing.hand(lock.Owner(1, "127.0.0.1", stranger, "t"), handing.entries([reading()], None))
    assert refusal.value.finding.code == code


@pytest.mark.parametrize("owner", [lock.Owner(1, "127.0.0.1", 9, ""), lock.Owner(1, "203.0.113.5", 80, "t")])
def test_nothing_leaves_without_a_token_or_beyond_this_machine(owner):
    with pytest.raises(kept.Busy) as refusal:
        handing.hand(owner, {})
    assert refusal.value.finding.code == "handing/not-let-in"


def test_what_is_no_plain_data_is_refused_before_it_is_sent():
    with pytest.raises(mishaps.Refused):
        handing.hand(lock.Owner(1, "127.0.0.1", 9, "t"), {"entries": [object()]})


def test_a_server_that_has_just_ended_leaves_the_writing_to_the_command(hall, monkeypatch):
    monkeypatch.setattr(handing, "door", lambda _: lock.Owner(1, "127.0.0.1", 9, "t"))
    assert hall.write([reading()])[0].state == "new"


def test_what_a_killed_server_left_lying_about_stops_nobody(hall):
    (hall.folder / lock.NAME).touch()
    (hall.folder / lock.OWNER).write_text('{"pid": 1, "address": "127.0.0.1", "port": 9}')
    (hall.folder / lock.TOKEN).write_text("t")
    assert hall.write([reading()])[0].state == "new"


def test_a_program_that_takes_no_batches_is_named_when_it_keeps_the_lock(hall, monkeypatch):
    def busy(*_, **__):
        raise kept.Busy(kept.stop("logbook/being-written", "it is being written"))

    assert hall.write([reading()])
    monkeypatch.setattr(hall.book, "append", busy)
    with pytest.raises(kept.Busy):
        hall.write([reading("0b")])


# -- with a real server ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def served(lasting_folder):
    """``brinehouse serve`` in a process of its own, ended by its number."""
    with subprocess.Popen(
        [sys.executable, "-m", "brinehouse", "serve", str(lasting_folder), "--port", "0", "--json"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as server:  # fmt: skip
        told = ""
        while "}" not in told and (line := server.stdout.readline()):
            told += line
        if "}" not in told:
            pytest.fail(server.stderr.read())
        yield lasting_folder, json.loads(told)["address"], server.pid
        server.send_signal(signal.SIGINT)  # Ctrl-C, as its last line says
        assert (server.wait(30), server.stderr.read()) == (0, "")
        assert lock.owner(lasting_folder) is None
        assert not (lasting_folder / lock.TOKEN).exists()


def post(address, body, **headers):
    port = int(re.search(r":(\d+)/", address)[1])
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    line.request("POST", handing.PATH, json.dumps(body), headers)
    reply = line.getresponse()
    answer = reply.status, reply.read()
    line.close()
    return answer


def test_commands_hand_their_batches_to_the_running_server(served, capsys):
    folder, address, pid = served
    owner = lock.owner(folder)
    assert (owner.pid, owner.address) == (pid, "127.0.0.1")
    assert f":{owner.port}/" in address
    assert (folder / lock.TOKEN).stat().st_mode & 0o077 == 0

    before = (folder / "facility.toml").read_text("utf-8")
    assert (
        running.run(["read", "mangrove", "temperature", "25.4 °C", str(folder), "--by", "Lark", "--json"])
        == 0
    )
    stored = json.loads(capsys.readouterr().out)
    assert stored["stored"]
    assert running.run(["note", "strainer cleaned", str(folder), "--by", "Lark"]) == 0
    told = ["--value", "25.6 °C", "--reason", "misread", "--by", "Moss", str(folder)]
    assert running.run(["log", "--supersede", stored["id"][:8], *told]) == 0
    with halls.open_hall(folder) as hall, pytest.raises(kept.Refused) as refusal:
        hall.supersede(stored["id"], value=25.7, reason="again", entered=clock.now())
    assert refusal.value.finding.code == "logbook/already-superseded"
    with halls.open_hall(folder) as hall:
        assert [one.text for one in hall.history()] == ["25.6 °C"]
        assert [one.name for one in hall.book.people()] == ["Lark", "Moss"]
        assert hall.book.facility_at() == before
        assert hall.book.verify() == []
    assert lock.owner(folder).pid == pid  # it never let go of the lock in between


def test_only_who_can_read_the_token_may_hand_over(served):
    folder, address, _ = served
    body = handing.entries([reading()], None)
    for headers in ({}, {handing.TOKEN: ""}, {handing.TOKEN: "guess"}, {handing.TOKEN: "gu\xe9ss"}):
        assert post(address, body, **headers)[0] == 403
    token = (folder / lock.TOKEN).read_text()
    status, text = post(address, body, **{handing.TOKEN: token})
    assert (status, json.loads(text)["answer"][0][1]) == (200, "new")
    status, text = post(address, body, **{handing.TOKEN: token, "sec-fetch-site": "cross-site"})
    assert status == 403
    status, text = post(address, {"entries": [{}]}, **{handing.TOKEN: token})
    assert (status, json.loads(text)["findings"][0]["code"]) == (422, "handing/not-understood")
    with halls.open_hall(folder) as hall:
        assert [one.id for one in hall.history(quantities=["temperature"]) if len(one.id) < 32] == ["0a"]


def test_a_file_is_taken_in_and_taken_back_through_the_server(served, tmp_path, capsys):
    folder, _, pid = served
    page = tmp_path / "round.csv"
    page.write_text(
        "time,place,quantity,value,unit,by\n"
        "2026-03-01T06:40+00:00,mangrove,salinity,34.1,PSU,Wren\n"
        "2026-03-02T06:40+00:00,mangrove,salinity,34.2,PSU,Wren\n",
        "utf-8",
    )
    assert running.run(["import", str(page), str(folder), "--by", "Wren", "--json"]) == 0, capsys.readouterr()
    with halls.open_hall(folder) as hall:
        assert [one.value for one in hall.history(quantities=["salinity"])] == [34.1, 34.2]
        kept_file = hall.book.imports()[0]
        assert hall.book.import_content(kept_file.id) == page.read_bytes()
    told = ["--withdraw", kept_file.id[:8], "--reason", "other hall", "--by", "Wren"]
    assert running.run(["imports", str(folder), *told]) == 0
    with halls.open_hall(folder) as hall:
        assert hall.history(quantities=["salinity"]) == []
        assert hall.book.verify() == []
    assert lock.owner(folder).pid == pid


def test_a_second_server_on_the_same_folder_is_refused_with_the_first_named(served, capsys):
    folder, address, pid = served
    assert running.run(["serve", str(folder), "--port", "0"]) == 2
    said = capsys.readouterr().err
    assert f"process {pid}" in said
    assert "serve/already" in said
    assert address in said

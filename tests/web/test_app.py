"""Every address answers as it should, under the same headers, and never with a traceback."""

import re
import tempfile

import pytest

from brinehouse.web import guard, sheets
from brinehouse.workbench import investigation
from brinehouse.workbench import now as looking

TRIAL = "/gas/trials/{trial}"
ENTRY = "/log/{entry}"
NOTICE = "/notices/{notice}"
PAGES = (
    "/keeping",
    "/now",
    "/loop",
    "/loop?panel=pressure",
    "/gas",
    "/plant",
    "/plant/edit",
    "/plant/edit?table=limit",
    "/plant/edit/tank/mangrove",
    "/plant/add/upkeep",
    "/plant/versions",
    "/equipment",
    "/equipment/P-201",
    "/equipment/meter-A",
    "/work",
    "/work/new?of=P-201",
    "/flows",
    "/balance",
    "/balance?changes=remove+column-m",
    "/time/standby",
    "/turns",
    "/charts",
    "/charts?s=pipefish:temperature&s=mangrove:oxygen&days=30",
    "/ask/turns",
    "/time",
    "/time/power-fails",
    "/time/card/power-fails",
    "/time/drill/power-fails",
    "/gas/budget",
    "/gas/budget?temperature=25.5&salinity=35+ppt&barometer=760&tgp=104.5&oxygen=8&depth=0.2",
    "/gas/instruments",
    "/gas/sources",
    "/gas/trials",
    TRIAL,
    "/ask",
    "/ask/gas-budget",
    "/ask/settling",
    "/ask/instruments",
    "/ask/gas-changes",
    "/ask/settling?minutes=0+2+4+6+8&value=100.4+102+103+103.7+104.1&unit=%25",
    "/tank/pipefish",
    "/t",
    "/labels",
    "/log",
    "/log?place=pipefish&quantity=temperature",
    "/log?kind=gas-trial",
    "/log?page=7",
    "/log/new",
    "/log/new?place=pipefish&quantity=temperature",
    "/log/new/beside?place=pipefish&quantity=temperature",
    ENTRY,
    "/log/imports",
    "/trust",
    "/notices",
    "/notices/rates",
    NOTICE,
    "/on-call",
    "/hand-over",
    "/phone",
    "/phone/round/morning",
    "/rounds",
    "/rounds/aside",
    "/rounds/morning",
    "/rounds/morning/end",
    "/rounds/morning/sheet",
    "/rounds/morning/type",
    "/rounds/morning/mangrove-rail.temperature",
    "/rounds/morning/mangrove.look",
    "/rounds/morning/mangrove.feed",
    "/rounds/morning/q-1-mid.temperature",
    "/hand-in",
    "/enter",
    "/enter/code",
    "/leave",
    "/people",
    "/people/first",
    "/people/devices",
    "/people/log",
)
MISSING = (
    "/nothing",
    "/log/nothing",
    "/tank/nothing",
    "/t/nothing",
    "/gas/trials/nothing",
    "/notices/nothing",
    "/hand-over/nothing",
    "/ask/nothing",
    "/rounds/nothing",
    "/rounds/morning/nothing",
    "/static/nothing.css",
    "/log/imports/nothing",
)
TRACES = ("Traceback", 'File "', "site-packages", ".py", "jinja2", "&lt;function", "object at 0x")


def filled(address, visitor):
    """An address with an id that is there."""
    if "{trial}" in address:
        found = re.search(r'href="/gas/trials/([0-9a-f]{32})"', visitor.get("/gas/trials").text)
        return address.format(trial=found.group(1))
    if "{notice}" in address:
        found = re.search(r'href="/notices/([0-9a-f]{16})"', visitor.get("/notices").text)
        return address.format(notice=found.group(1))
    if "{entry}" in address:
        return address.format(
            entry=re.search(r'href="/log/([0-9a-f]{32})"', visitor.get("/log").text).group(1)
        )
    return address


def assert_sheet(answer):
    """It is whole, under the headers, and shows nothing from inside."""
    for name, value in guard.HEADERS:
        assert answer.headers[name.decode()] == value.decode()
    assert not [trace for trace in TRACES if trace in answer.text]
    assert "server" not in answer.headers


@pytest.mark.parametrize("address", PAGES)
def test_every_sheet_answers(demo, address):
    answer = demo.get(filled(address, demo))
    assert answer.status_code == 200
    assert_sheet(answer)
    assert answer.headers["content-type"].startswith("text/html")
    assert answer.headers["cache-control"] == "no-store"
    if "beside" not in address:
        assert len(re.findall(r"<h1>\s*\S[\s\S]*?</h1>", answer.text)) == 1
        assert 'class="title-block"' in answer.text


@pytest.mark.parametrize("address", MISSING)
def test_what_is_not_there_is_said_on_a_sheet(demo, address):
    answer = demo.get(address)
    assert (
        answer.status_code == (405 if address.endswith("imports/nothing") else 404)
        or answer.status_code == 404
    )
    assert_sheet(answer)
    assert "<h1>" in answer.text


def test_a_wrong_way_of_asking_is_said_on_a_sheet(demo):
    answer = demo.post("/now")
    assert answer.status_code == 405
    assert answer.headers["allow"] == "GET"
    assert_sheet(answer)


def test_the_first_address_leads_to_the_hall(demo):
    answer = demo.get("/")
    assert (answer.status_code, answer.headers["location"]) == (303, "/now")


@pytest.mark.parametrize(
    "address", ["/now", "/gas", "/gas/trials", "/log", "/log/new", "/log/imports", "/log/x"]
)
def test_without_a_hall_every_sheet_leads_to_the_five_questions(nowhere, address):
    answer = nowhere.get(address)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")


@pytest.mark.parametrize(
    "address", ["/now", "/gas", "/gas/instruments", "/gas/trials", "/log", "/log/imports"]
)
def test_a_hall_without_a_reading_has_all_its_sheets(small, address):
    answer = small.get(address)
    assert answer.status_code == 200
    assert_sheet(answer)


def test_where_nothing_was_read_nothing_is_called_in_order(small):
    text = small.get("/now").text
    assert "No reading has been written down" in text
    assert "Nothing is out of order" not in text


def test_a_facility_file_that_does_not_pass_is_told_with_its_lines(small, tmp_path):
    file = tmp_path / "hall" / "facility.toml"
    file.write_text(file.read_text("utf-8").replace("volume", "volmue"), encoding="utf-8")
    answer = small.get("/now")
    assert answer.status_code == 422
    assert "facility/unknown-word" in answer.text
    assert re.search(r"facility\.toml:\d+", answer.text)
    assert "Traceback" not in answer.text


@pytest.fixture
def kept(monkeypatch, tmp_path):
    """Where the details of what broke are kept."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return tmp_path


def test_what_breaks_becomes_a_sheet_under_the_same_headers(demo, monkeypatch, kept):
    def breaks(*_):
        raise ZeroDivisionError("a secret of the inside")

    monkeypatch.setattr(looking, "title", breaks)
    answer = demo.get("/now")
    assert answer.status_code == 500
    assert_sheet(answer)
    assert "secret" not in answer.text
    assert "ZeroDivisionError" not in answer.text
    assert "nothing was stored" in answer.text
    (details,) = kept.glob("brinehouse-*.txt")
    assert "a secret of the inside" in details.read_text("utf-8")  # for whoever mends it


def test_where_even_the_sheet_breaks_plain_words_are_left(demo, monkeypatch, kept):
    def breaks(*_, **__):
        raise ZeroDivisionError

    monkeypatch.setattr(sheets, "context", breaks)
    answer = demo.get("/now")
    assert (answer.status_code, answer.text) == (500, "Something broke that should not have.\n")
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_refusal_of_the_disk_is_told_in_its_own_words(demo, monkeypatch):
    from brinehouse import findings

    class Refused(Exception):
        finding = findings.Finding(
            code="logbook/busy", level=findings.Level.STOP, text="Another program writes here."
        )

    def breaks(*_):
        raise Refused

    monkeypatch.setattr(looking, "title", breaks)
    answer = demo.get("/now")
    assert answer.status_code == 503
    assert "Another program writes here." in answer.text
    assert "logbook/busy" in answer.text


def test_getting_sheets_changes_nothing(demo, demo_folder):
    def state():
        return sorted(
            (path.name, path.stat().st_size)
            for path in demo_folder.iterdir()
            if not path.name.endswith(("-wal", "-shm"))
        )

    head = demo.app.state.desk.hall().book.head()
    before = state()
    for address in PAGES:
        demo.get(filled(address, demo))
    assert demo.app.state.desk.hall().book.head() == head
    assert state() == before


def test_the_sheets_that_are_looked_at_most_answer_at_once(demo):
    import time

    for address in ("/now", "/gas"):
        demo.get(address)
        took = []
        for _ in range(5):
            begun = time.process_time()
            assert demo.get(address).status_code == 200
            took.append(time.process_time() - begun)
        assert min(took) < 0.1, (address, took)


def test_the_gas_sheet_says_what_the_investigation_found(demo):
    found = investigation.investigate(demo.app.state.desk.hall())
    text = demo.get("/gas").text
    assert "P-203" in found.sentence
    assert found.sentence.rstrip(".")[1:].replace("'", "&#39;") in text
    for item in found.water.not_excluded:
        assert item.text.replace("'", "&#39;") in text
    assert len(found.water.findings) > 3


def test_no_word_of_another_language_is_needed_to_read_a_static_file(demo):
    answer = demo.get("/static/sheet.css?v=anything")
    assert answer.headers["cache-control"] == "public, max-age=31536000, immutable"
    assert demo.get("/static/sheet.css").headers["cache-control"] == "no-cache"
    assert demo.get("/static/../app.py").status_code == 404
    assert demo.get("/static/%2e%2e/app.py").status_code == 404

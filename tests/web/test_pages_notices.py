"""The sheets of notices, of who is on call and of the hand-over: what a keeper can do there, and see."""

import re

import pytest

from brinehouse.workbench import clock
from conftest import serving

LIMIT = """
[[limit]]
quantity = "temperature"
at = "mangrove"
watch = "above 26 °C"
act = "above 28 °C"
cause = "the chiller rests"
consequence = "less oxygen <b>and</b> more appetite for it"
harm = "animals suffer"
response = "look at the chiller's board"
time = "6 h"
dead_band = "0.2 °C"
"""
NASTY = "<img src=x onerror=alert(1)>"


@pytest.fixture
def hall(small):
    """A small hall with one limit that asks, and one reading over it."""
    folder = small.app.state.desk.folder
    (folder / "facility.toml").write_text((folder / "facility.toml").read_text("utf-8") + LIMIT, "utf-8")
    write(small, "26.5 °C")
    return small


def write(visitor, value, at="2026-03-14T06:30"):
    given = {"place": "mangrove", "quantity": "temperature", "value": value, "at": at, "by": "Anna"}
    answer = visitor.post("/log/new", data=given)
    assert answer.status_code == 303, answer.text
    visitor.app.state.knowing.settle(visitor.app.state.desk.hall())


def notice_of(visitor):
    return re.search(r"/notices/[0-9a-f]{16}", visitor.get("/notices").text).group(0)


def test_a_notice_is_told_with_what_to_do_and_how_long_there_is(hall):
    page = hall.get(notice_of(hall)).text
    for said in ("mangrove: temperature 26.5 °C", "look at the chiller", "within 6 h", "the chiller rests"):
        assert said in page.replace("&#39;", "'").replace("Mangrove", "mangrove")
    assert "less oxygen &lt;b&gt;and&lt;/b&gt;" in page
    assert "Advice, not a command" in page


def test_one_tap_on_now_and_it_is_seen_quieter_and_still_there(hall):
    before = hall.get("/now").text
    assert 'class="standing new"' in before
    address = notice_of(hall)
    answer = hall.post(address, data={"what": "seen", "from": "now", "by": "Anna"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/now")
    after = hall.get("/now").text
    assert '<tr role="row" class="seen">' in after
    assert "seen, Anna" in after
    assert 'class="standing new"' not in after
    assert "No notice waits to be seen" in hall.get("/notices").text


def test_a_shelf_is_one_line_on_now_with_its_end(hall):
    address = notice_of(hall)
    refused = hall.post(address, data={"what": "shelved", "hours": "4", "why": " "})
    assert refused.status_code == 422
    assert "needs a reason" in refused.text
    assert hall.post(address, data={"what": "shelved", "hours": "400", "why": "x"}).status_code == 422
    assert hall.post(address, data={"what": "shelved", "hours": "-4", "why": "x"}).status_code == 422
    assert hall.post(address, data={"what": "shelved", "hours": "4", "why": NASTY}).status_code == 303
    page = hall.get("/now").text
    assert "Nothing is out of order" in page
    assert "until 2026-03-14 10:40" in page
    assert NASTY not in hall.get(address).text
    assert hall.post(address, data={"what": "unshelved"}).status_code == 303
    assert 'class="standing new"' in hall.get("/now").text


def test_what_is_no_notice_is_not_there(hall):
    assert hall.get("/notices/0000000000000000").status_code == 404
    assert hall.post("/notices/0000000000000000", data={"what": "seen"}).status_code == 404
    assert hall.post(notice_of(hall), data={"what": "forgotten"}).status_code == 422


def test_rates_of_one_day_cannot_be_told(hall):
    page = hall.get("/notices/rates").text
    assert "days of readings are too few to judge by" in page
    assert "cannot tell" in page
    assert "secondary sources" in page


def test_the_phone_is_handed_over(hall):
    assert "Nobody is on call" in hall.get("/on-call").text
    assert hall.post("/on-call", data={"name": " "}).status_code == 422
    assert hall.post("/on-call", data={"name": "Anna", "until": "not a day"}).status_code == 422
    assert hall.post("/on-call", data={"name": "Anna", "until": "2026-03-15T06:40"}).status_code == 303
    page = hall.get("/on-call").text
    assert "<h1>Anna is on call</h1>" in page
    assert "until 2026-03-15 06:40" in page
    assert "On call: Anna." in hall.get("/notices").text


def test_the_day_is_signed_over_and_read(hall):
    draft = hall.get("/hand-over").text
    assert "To hand over: one thing out of order" in draft
    pinned = {"note": f"no food {NASTY}", "about": "mangrove", "until": "2026-03-15", "promised": "yes"}
    assert hall.post("/hand-over/note", data=pinned).status_code == 303
    assert hall.post("/hand-over/note", data={**pinned, "until": ""}).status_code == 422
    signed = hall.post("/hand-over", data={"words": f"All well. {NASTY}", "by": "Anna"})
    assert signed.status_code == 303
    address = signed.headers["location"]
    page = hall.get(address).text
    assert NASTY not in page
    assert "All well." in page
    head = re.search(r"--against (\d+:[0-9a-f]{12})", page).group(1)
    from brinehouse.workbench import logging_book

    assert logging_book.verify(hall.app.state.desk.hall(), head)[0] == []
    assert "is not read yet" in hall.get("/hand-over").text
    assert hall.post(address, data={"by": "Anna"}).status_code == 422
    assert hall.post(address, data={"by": "Ben"}).status_code == 303
    assert "Ben, 2026-03-14 06:40" in hall.get(address).text
    assert "is not read yet" not in hall.get("/hand-over").text


def test_pages_of_a_hall_that_wrote_nothing_down_are_quiet(small):
    for address in ("/now", "/notices", "/notices/rates", "/on-call", "/hand-over"):
        assert small.get(address).status_code == 200
    assert not (small.app.state.desk.folder / "logbook.sqlite").exists()


@pytest.mark.part("chromium")
def test_the_fullest_hand_over_is_one_printed_page_and_fits_a_phone(hall, browser_look):
    from brinehouse.workbench import handing_over

    desk = hall.app.state.desk.hall()
    long = {
        name: [f"{name} {at}: " + "what was seen there " * 12 for at in range(20)]
        for name in handing_over.PARTS
    }
    made = handing_over.Draft(
        since=clock.now(), until=clock.now(), parts=handing_over.fitted(long), head="12345:" + "a" * 64,
        shift="early shift",
    )  # fmt: skip
    id = handing_over.sign_over(desk, made, "word " * 239, desk.person("Anna"))
    pages, overflow, shown = browser_look(f"/hand-over/{id}")
    assert pages == 1
    assert overflow <= 0
    assert shown  # the head of the chain is on the paper


@pytest.fixture
def browser_look(hall, tmp_path):
    """Pages of the print, and how far the phone's page runs over its side."""
    from playwright.sync_api import sync_playwright

    def look(address):
        with serving(hall.app, lifespan="off") as at, sync_playwright() as play:
            browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": 390, "height": 800})
            page.goto(at + address)
            overflow = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            page.emulate_media(media="print")
            shown = page.locator(".shift-signed .figure").is_visible()
            page.pdf(path=str(tmp_path / "one.pdf"), format="A4", prefer_css_page_size=True)
            browser.close()
        content = (tmp_path / "one.pdf").read_bytes()
        return len(re.findall(rb"/Type\s*/Page\b", content)), overflow, shown

    return look

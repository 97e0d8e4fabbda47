"""Rounds walked on phones to the real logbook: what a phone kept and what the hall has are the same, once."""

import contextlib

import peopled
import phones
import pytest
import shots

from brinehouse.web import app
from conftest import FIVE, serving, visiting

pytestmark = pytest.mark.part("chromium")
ROUND = "/phone/round/round"


@pytest.fixture(scope="module")
def browser():
    with shots.shared() as opened:
        yield opened


@contextlib.contextmanager
def a_hall(folder, tanks):
    """A hall of so many tanks, each with a temperature to read; its address and its logbook."""
    made = app.create_app(folder)
    rows = "\n".join(f"tank {number}, 2 m3, 1 m" for number in range(1, tanks + 1))
    with visiting(made) as visitor:
        assert visitor.post("/begin", data={**FIVE, "tanks": rows}).status_code == 303
        with serving(made, lifespan="off") as at:
            yield at, made.state.desk.hall()


def test_30_stops_are_stored_once_though_the_network_is_cut_the_page_reloaded_and_the_browser_killed(
    browser, tmp_path
):
    profile = tmp_path / "phone"
    with a_hall(tmp_path / "hall", 30) as (at, hall):
        with phones.kept_phone(browser, profile) as place:
            page = place.pages[0]
            page.goto(at + ROUND)
            phones.worker_ready(page)
            phones.begin(page)
            phones.stops(page, range(1, 13))
            place.set_offline(True)
            phones.stops(page, range(13, 17))
            page.reload()  # from the phone alone
            page.wait_for_selector("#value")
            phones.stops(page, range(17, 21))
            assert phones.kill(place)
        with phones.kept_phone(browser, profile) as place:
            place.set_offline(True)
            page = place.pages[0]
            page.goto(at + ROUND)
            page.click("text=Go on: 20 of 30 done")
            page.wait_for_selector("#value")
            phones.stops(page, range(21, 31))
            assert "no network" in page.inner_text("#phone-line")
            own = page.evaluate(phones.LIST)
            place.set_offline(False)
            page.click("text=End the round")
            page.wait_for_url("**/phone")
            page.wait_for_selector("text=Nothing waits on this phone")
            after = page.evaluate(phones.LIST)
        book = [*hall.history(), *hall.facts()]
    assert sorted(phones.readings(book)) == sorted(
        (f"tank-{number}", f"{phones.value(number)} °C") for number in range(1, 31)
    )
    assert {row["id"] for row in own} < {row["id"] for row in after}
    assert {row["state"] for row in after} == {"stored"}
    assert sorted(row["id"] for row in after) == sorted(
        entry.id for entry in book if getattr(entry, "kind", "") != "import"
    )


def test_two_phones_at_one_tank_are_both_believed(browser, tmp_path):
    with a_hall(tmp_path / "hall", 2) as (at, hall):
        with (
            phones.phone(browser, at, ROUND, service_workers="block") as one,
            phones.phone(browser, at, ROUND, service_workers="block") as other,
        ):
            for page, text in ((one, "24.5"), (other, "24.9")):
                page.wait_for_selector("text=Begin the round")
                page.context.set_offline(True)
                phones.begin(page)
                page.keyboard.type(text)
                page.keyboard.press("Enter")
                page.wait_for_selector("text=stop 2 of 2")
            for page in (one, other):
                page.context.set_offline(False)
                phones.hand_over(page)
        book = [*hall.history(), *hall.facts()]
    assert sorted(phones.readings(book)) == [("tank-1", "24.5 °C"), ("tank-1", "24.9 °C")]


def test_a_walk_begun_on_one_phone_is_gone_on_with_on_another(browser, tmp_path):
    with a_hall(tmp_path / "hall", 3) as (at, hall):
        with phones.phone(browser, at, ROUND, service_workers="block") as one:
            phones.begin(one)
            phones.stops(one, [1])
            phones.hand_over(one)
        with phones.phone(browser, at, ROUND, service_workers="block") as other:
            other.wait_for_selector("text=Go on with what somebody began, 1 of 3 done")
            phones.begin(other)
            phones.stops(other, [2, 3])
            other.click("text=End the round")
            other.wait_for_selector("text=Nothing waits on this phone")
        book = [*hall.history(), *hall.facts()]
    assert sorted(phones.readings(book)) == sorted(
        (f"tank-{number}", f"{phones.value(number)} °C") for number in (1, 2, 3)
    )
    assert len({entry.details["walk"] for entry in book if getattr(entry, "details", None)}) == 1


def sign_in(page, name="Keeper Wren"):
    page.fill("input[name=name]", name)
    page.fill("input[name=password]", peopled.PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: "/enter" not in url)


def test_leaving_with_entries_unsent_says_so_keeps_them_and_they_go_when_that_person_is_back(
    browser, own_peopled
):
    with serving(own_peopled.visitor.app, lifespan="off") as at, phones.phone(browser, at, ROUND) as page:
        page.click("a.answer")
        sign_in(page)
        page.wait_for_selector("text=Begin as Keeper Wren")
        page.context.set_offline(True)
        phones.begin(page)
        page.keyboard.type("24.5")
        page.keyboard.press("Enter")
        page.wait_for_selector("text=stop 2 of 2")
        page.wait_for_timeout(300)
        page.context.set_offline(False)
        page.route("**/phone/entries", lambda route: route.abort())  # a bad moment for leaving
        page.goto(f"{at}/leave")
        page.wait_for_selector("text=entries wait on this phone and are not sent")
        page.click("main button.answer")
        page.unroute("**/phone/entries")
        page.goto(f"{at}/phone")
        page.click("text=Send now")
        page.click("text=Sign in to send")
        assert not own_peopled.hall.history()
        sign_in(page)
        phones.hand_over(page)
        (reading,) = own_peopled.hall.history()
    assert (reading.text, reading.person) == ("24.5 °C", own_peopled.numbers["keeper"])


def test_what_a_lost_phone_kept_is_saved_as_a_file_and_handed_in_elsewhere_once(browser, tmp_path):
    with a_hall(tmp_path / "hall", 2) as (at, hall):
        with phones.phone(browser, at, ROUND, accept_downloads=True) as page:
            phones.worker_ready(page)
            page.context.set_offline(True)
            phones.begin(page)
            phones.stops(page, [1])
            page.goto(f"{at}/phone")
            with page.expect_download() as saved:
                page.click("text=Save as a file")
            saved.value.save_as(tmp_path / "queue.json")
            with phones.phone(browser, at, "/hand-in") as desk:
                desk.set_input_files("input[type=file]", tmp_path / "queue.json")
                desk.click("main button.answer")
                desk.wait_for_selector("h1:has-text('3 stored, 0 were there already')")
            page.context.set_offline(False)
            phones.hand_over(page)  # it reached the hall after all
        assert phones.readings(hall.history()) == [("tank-1", f"{phones.value(1)} °C")]

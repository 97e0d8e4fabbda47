"""A round on a phone in a real browser: without a network, full, refused, over bad lines; stored once.

The hall of these tests has the real pages and a store that fails on command; test_phone_walks.py walks to the
real logbook.
"""

import contextlib
import re
import threading

import axe
import bad_link
import phone_hall
import phones
import pytest
import shots

from brinehouse.web import app, phone_shell
from conftest import FIVE, serving, visiting

pytestmark = pytest.mark.part("chromium")


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """The application's pages over a small hall."""
    folder = tmp_path_factory.mktemp("phones") / "hall"
    made = app.create_app(folder, hosts=frozenset({"127.0.0.1", "hall.test"}))
    with visiting(made) as visitor:
        assert visitor.post("/begin", data=FIVE).status_code == 303
        yield made


@pytest.fixture(scope="module")
def browser():
    with shots.shared() as opened:
        yield opened


@contextlib.contextmanager
def a_hall(pages, **more):
    hall = phone_hall.FailingHall(pages, **more)
    with serving(hall, lifespan="off") as at:
        yield hall, at


@contextlib.contextmanager
def a_line(pages, stops):
    """A hall behind a line that can be made bad; the address at this end of it."""
    with a_hall(pages, stops=stops) as (hall, at), bad_link.Link(int(at.rsplit(":", 1)[1])) as link:
        yield hall, link, f"http://127.0.0.1:{link.port}"


DELETES = (
    '      await mark(batch, "sent");\n',
    "      await Promise.all(batch.map(async (row) => (await base()).delete('entries', row.id)));\n",
)
RENAMES = (
    "const entries = batch.map((row) => ",
    "for (const row of batch) row.id = newId();\n    const entries = batch.map((row) => ",
)


def over_a_failing_hall(browser, pages, *changes):
    """Three stops; the hall fails before the work, then loses an answer after it. The readings it has."""
    with a_hall(pages, stops=3) as (hall, at):
        if changes:
            hall.planted["/static/queue.js"] = phones.planted("queue.js", *changes)
        hall.before = lambda number: number in (2, 3)
        hall.after = lambda number: number in (4, 5)
        with phones.phone(browser, at, service_workers="block") as page:
            phones.begin(page)
            phones.stops(page, range(1, 4))
            page.evaluate("async () => { await brine.queue.releaseHolds(); }")
            for _ in range(40):
                page.evaluate("() => brine.queue.flush()")
                if hall.requests >= 6 and page.evaluate(phones.DONE):
                    break
                page.wait_for_timeout(50)
        return hall


def test_what_fails_before_or_after_the_work_is_sent_until_the_hall_has_it_and_is_there_once(browser, pages):
    hall = over_a_failing_hall(browser, pages)
    assert sorted(hall.readings()) == phones.wanted(range(1, 4))
    assert hall.again > 0  # an answer was lost, and the same entries came again


def test_a_queue_that_lets_go_before_the_answer_loses_entries(browser, pages):
    assert len(over_a_failing_hall(browser, pages, DELETES).readings()) < 3


def test_a_queue_that_names_its_entries_anew_doubles_them(browser, pages):
    assert len(over_a_failing_hall(browser, pages, RENAMES).readings()) > 3


def by_tab(page, text, most=40):
    """Walk by Tab to what is called so."""
    for _ in range(most):
        if page.evaluate(
            "text => [document.activeElement.textContent.trim(), document.activeElement.name].includes(text)",
            text,
        ):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{text} cannot be reached by keyboard")


def test_a_round_is_walked_with_the_keyboard_alone(browser, pages):
    with a_hall(pages, stops=4) as (hall, at):
        hall.plan["people"] = [{"number": 7, "name": "M. Ashdown"}, {"number": 8, "name": "T. Okafor"}]
        hall.plan["stops"][1].update(zone_name="quarantine", zone_change={"foot_bath": True, "tools": False})
        choices = ["all eat", "some eat", "none eats"]
        hall.plan["stops"][2]["asks"] = [
            phone_hall.ask(kind="observation", label="appetite", sign="appetite", choices=choices)
        ]
        with phones.phone(browser, at, service_workers="block") as page:
            page.wait_for_selector(".tile")
            by_tab(page, "T. Okafor")
            page.keyboard.press("Enter")
            page.wait_for_selector("#value")
            page.keyboard.type("27,9")
            page.keyboard.press("Enter")  # unusual: it asks for a reason
            page.keyboard.type("looked twice")
            page.keyboard.press("Enter")
            page.wait_for_selector("text=You go into quarantine")
            by_tab(page, "foot_bath")
            page.keyboard.press("Space")
            page.keyboard.press("Enter")
            page.wait_for_selector("#value")
            page.keyboard.press("Escape")
            page.wait_for_selector("text=You go into quarantine")
            page.go_forward() if page.url.endswith("#") else page.go_back()
            page.wait_for_selector("#value")
            page.keyboard.type("sfk246")  # letters are no shortcuts
            page.keyboard.press("Enter")
            assert page.is_visible("#value")
            page.keyboard.press("Control+A")
            page.keyboard.type("24.6")
            page.keyboard.press("Enter")
            by_tab(page, "some eat")
            page.keyboard.press("Enter")
            page.wait_for_selector("#value")
            by_tab(page, "skip, say why")
            page.keyboard.press("Enter")
            page.keyboard.type("lid is stuck")
            page.keyboard.press("Enter")
            by_tab(page, "End the round")
            page.keyboard.press("Enter")
            page.wait_for_selector("text=Nothing waits on this phone")
    bodies = [entry["body"] for entry in hall.stored.values()]
    first = next(body for body in bodies if body.get("text") == "27,9")
    assert (first["sure"], first["reason"]) == (True, "looked twice")
    assert {"what": "zone", "zone": "clean", "foot_bath": True, "tools": False} in bodies
    assert {"what": "skipped", "reason": "lid is stuck"} in bodies
    assert [body["answer"] for body in bodies if body.get("sign") == "appetite"] == ["some eat"]
    assert {entry["person"] for entry in hall.stored.values()} == {8}


def test_over_a_slow_line_that_loses_answers_all_arrives_once(browser, pages):
    with a_line(pages, 6) as (hall, link, at), phones.phone(browser, at, service_workers="block") as page:
        phones.begin(page)
        link.wait, link.rate, link.odds = 0.1, 50_000.0, 0.7
        link.set("lose")
        phones.stops(page, range(1, 7))
        page.evaluate("async () => { await brine.queue.releaseHolds(); brine.queue.flush(); }")
        for _ in range(60):
            page.evaluate("() => { dispatchEvent(new Event('online')); }")
            page.wait_for_timeout(250)
            if page.evaluate(phones.DONE):
                break
        assert page.evaluate(phones.DONE)
    assert link.lost > 0
    assert sorted(hall.readings()) == phones.wanted(range(1, 7))


@pytest.mark.parametrize(
    ("pulls", "within"),
    [(5, 10_000), pytest.param(50, 3000, marks=pytest.mark.soak)],  # the long run has the machine to itself
)
def test_a_line_pulled_and_plugged_again_and_again_loses_and_doubles_nothing(browser, pages, pulls, within):
    with (
        a_line(pages, pulls + 1) as (hall, link, at),
        phones.phone(browser, at, service_workers="block") as page,
    ):
        phones.begin(page)
        for number in range(1, pulls + 1):
            link.set("down" if number % 2 else "silent")
            page.wait_for_selector("text=no network: all stays", timeout=within)
            page.keyboard.type(phones.value(1))
            page.keyboard.press("Enter")
            page.evaluate("() => brine.queue.releaseHolds()")
            link.set("ok")
            page.wait_for_function(
                "() => document.querySelector('.network').textContent.trim() === 'network'", timeout=within
            )
        page.wait_for_selector(f"text=stop {pulls + 1} of")
        phones.hand_over(page)
    assert sorted(hall.readings()) == sorted(
        (f"stop-{number}", phones.value(1)) for number in range(1, pulls + 1)
    )


def test_a_refused_entry_is_shown_with_its_reason_and_holds_nothing_up(browser, pages):
    with a_hall(pages, stops=4) as (hall, at):
        hall.refuse = lambda entry: (
            "This tank is no more" if entry["body"].get("text") in (phones.value(2), phones.value(3)) else ""
        )
        with phones.phone(browser, at, service_workers="block") as page:
            phones.begin(page)
            phones.stops(page, range(1, 5))
            page.click("text=End the round")
            page.wait_for_selector("text=2 need you; 0 wait on this phone")
            assert sorted(hall.readings()) == phones.wanted([1, 4])
            needs = page.locator("#phone-needs li")
            assert "This tank is no more" in needs.nth(0).inner_text()
            needs.nth(0).locator("input").first.fill("25.5")
            needs.nth(0).locator("button:text('Send it mended')").click()
            page.wait_for_selector("text=1 need you")
            needs.nth(0).locator("summary").click()
            give_up = needs.nth(0).locator("button:text('Give it up')")
            give_up.click()
            assert needs.count() == 1  # not without a word
            needs.nth(0).locator("details input").fill("the tank was emptied")
            give_up.click()
            page.wait_for_selector("text=Nothing waits on this phone")
            assert "the tank was emptied" in page.inner_text("#phone-gone")
    assert ("stop-2", "25.5") in hall.readings()


def test_signed_out_meanwhile_all_stays_and_goes_after_signing_in(browser, pages):
    with a_hall(pages, stops=2) as (hall, at), phones.phone(browser, at, service_workers="block") as page:
        phones.begin(page)
        hall.status = 401
        phones.stops(page, [1])
        page.evaluate("async () => { await brine.queue.releaseHolds(); await brine.queue.flush(); }")
        page.wait_for_selector("text=Sign in to send")
        assert not hall.readings()
        assert {row["state"] for row in page.evaluate(phones.LIST) if row["kind"] == "reading"} == {"phone"}
        hall.status = 503
        page.evaluate("() => brine.queue.flush()")
        hall.status = 0
        phones.hand_over(page)
        assert hall.readings() == phones.wanted([1])


PICTURE = """async () => {
  const canvas = new OffscreenCanvas(4800, 3600);
  canvas.getContext("2d").fillRect(0, 0, 999, 999);
  const blob = await canvas.convertToBlob({ type: "image/png" });
  const data = new DataTransfer();
  data.items.add(new File([blob], "tank.png", { type: "image/png" }));
  const box = document.getElementById("photo");
  box.files = data.files;
  box.dispatchEvent(new Event("change"));
}"""


def test_a_picture_that_fails_holds_no_reading_back_and_goes_later_small_enough(browser, pages):
    with a_hall(pages, stops=3) as (hall, at), phones.phone(browser, at, service_workers="block") as page:
        hall.photo_status = 500
        phones.begin(page)
        page.evaluate(PICTURE)
        page.wait_for_selector("text=The picture is on this phone")
        phones.stops(page, [1, 2])
        phones.hand_over(page)
        assert hall.readings() == phones.wanted([1, 2])
        assert not hall.photos
        page.wait_for_selector("text=1 pictures wait")
        hall.photo_status = 0
        page.evaluate("() => { dispatchEvent(new Event('online')); }")
        phones.wait_until(page, "async () => (await brine.queue.counts()).photos === 0")
    (picture,) = hall.photos.values()
    import io

    from PIL import Image

    seen = Image.open(io.BytesIO(picture))
    assert seen.format == "JPEG"
    assert seen.width * seen.height <= 12e6
    assert abs(seen.width / seen.height - 4 / 3) < 0.01


NO_TRIAL = ('      await put("keep", trial, "trial");\n', "")
NO_ESTIMATE = ("if (navigator.storage?.estimate)", "if (false)")


def told_when_full(browser, pages, *changes):
    """What the page says before the round on a phone with hardly any storage left."""
    with a_hall(pages, stops=3) as (hall, at):
        if changes:
            hall.planted["/static/queue.js"] = phones.planted("queue.js", *changes)
        with phones.phone(browser, at, page="/static/tab.svg", service_workers="block") as page:
            line = page.context.new_cdp_session(page)
            line.send("Storage.overrideQuotaForOrigin", {"origin": at, "quotaSize": 1_000_000})
            page.goto(f"{at}/phone/round/morning")
            page.wait_for_selector(".safe p")
            return page.inner_text(".safe")


def test_a_phone_without_room_is_told_before_the_round(browser, pages):
    assert "Not safe to go offline: its storage is full" in told_when_full(browser, pages)


def test_a_page_that_does_not_try_its_storage_calls_a_full_phone_safe(browser, pages):
    assert "Not safe" not in told_when_full(browser, pages, NO_TRIAL, NO_ESTIMATE)


FULL = """() => {
  IDBObjectStore.prototype.put = () => { throw new DOMException("full", "QuotaExceededError"); };
}"""


def test_an_entry_that_the_phone_cannot_keep_is_not_called_kept(browser, pages):
    with a_hall(pages, stops=3) as (_, at), phones.phone(browser, at, service_workers="block") as page:
        phones.begin(page)
        page.evaluate(FULL)
        page.keyboard.type("24.5")
        page.keyboard.press("Enter")
        page.wait_for_selector("text=This could not be kept on this phone: its storage is full")
        assert page.input_value("#value") == "24.5"


def test_within_ten_seconds_an_entry_is_taken_back_and_never_sent(browser, pages):
    with a_hall(pages, stops=3) as (hall, at), phones.phone(browser, at, service_workers="block") as page:
        phones.begin(page)
        phones.stops(page, [1])
        page.click("text=take it back")
        page.wait_for_selector("text=stop 1 of 3")
        page.keyboard.type("25.9")
        page.keyboard.press("Enter")
        phones.hand_over(page)
        assert hall.readings() == [("stop-1", "25.9")]


def test_a_hall_set_back_to_an_older_copy_gets_the_week_again_and_once(browser, pages):
    with a_hall(pages, stops=3) as (hall, at), phones.phone(browser, at, service_workers="block") as page:
        phones.begin(page)
        phones.stops(page, [1, 2, 3])
        page.click("text=End the round")
        page.wait_for_selector("text=Nothing waits on this phone")
        lost = dict(hall.stored)
        hall.stored.clear()
        for _ in range(2):
            page.click("text=Send the last seven days again")
            phones.wait_until(page, phones.DONE)
        assert hall.stored == lost
        assert len(hall.readings()) == 3


NO_LOCKS = "Object.defineProperty(Navigator.prototype, 'locks', { value: undefined });"


@pytest.mark.parametrize(
    "locks",
    [pytest.param(True, id="with locks", marks=pytest.mark.soak), pytest.param(False, id="on plain http")],
)
def test_of_two_open_pages_only_one_sends(browser, pages, locks):
    with a_hall(pages, stops=3) as (hall, at):
        inside, most, door = [], [], threading.Lock()
        answered = hall.entries

        async def entries(request):
            import asyncio

            with door:
                inside.append(1)
                most.append(len(inside))
            await asyncio.sleep(0.3)
            with door:
                inside.pop()
            return await answered(request)

        hall.entries = entries
        with phones.phone(browser, at, service_workers="block") as page:
            if not locks:
                page.context.add_init_script(NO_LOCKS)
                page.reload()
            phones.begin(page)
            other = page.context.new_page()
            other.goto(f"{at}/phone")
            page.bring_to_front()
            phones.stops(page, [1, 2])
            page.evaluate("() => brine.queue.releaseHolds()")
            for one in (page, other):
                one.evaluate("() => { brine.queue.flush(); }")
            phones.wait_until(page, phones.DONE)
    assert max(most) == 1
    assert hall.again == 0
    assert sorted(hall.readings()) == phones.wanted([1, 2])


def test_on_plain_http_an_open_page_goes_on_without_a_network_and_says_what_it_cannot(
    browser, pages, tmp_path
):
    with a_hall(pages, stops=4) as (hall, at):
        port = at.rsplit(":", 1)[1]
        with phones.kept_phone(
            browser, tmp_path / "phone", "--host-resolver-rules=MAP hall.test 127.0.0.1"
        ) as place:
            page = place.pages[0]
            page.goto(f"http://hall.test:{port}/phone/round/morning")
            page.wait_for_selector("text=This address has no certificate")
            assert page.evaluate("() => !navigator.serviceWorker && !navigator.locks && !isSecureContext")
            phones.begin(page)
            place.set_offline(True)
            phones.stops(page, [1, 2, 3])
            place.set_offline(False)
            page.goto(f"http://hall.test:{port}/phone")  # left and come back: the entries are here
            phones.hand_over(page)
    assert sorted(hall.readings()) == phones.wanted([1, 2, 3])


HELD = """async () => {
  for (const name of await caches.keys()) {
    const page = await (await caches.open(name)).match("/phone/round/-");
    if (page) return page.headers.get("X-Build");
  }
}"""
MIXES = (' && answer.headers.get("X-Build") === BUILD', "")


def build_held_after_an_update(browser, pages, monkeypatch, *changes):
    """The build of the kept page, after the hall was updated and the phone has seen the new one."""
    phone_shell.worker.cache_clear()
    phone_shell.build()
    with a_hall(pages, stops=3) as (hall, at):
        if changes:
            hall.planted["/phone-worker.js"] = re.sub(
                "__BUILD__|__FILES__",
                lambda found: {"__BUILD__": phone_shell.build(), "__FILES__": "[]"}[found.group()],
                phones.planted("phone-worker.js", *changes),
            )
        with phones.phone(browser, at) as page:
            phones.worker_ready(page)
            kept = phone_shell.worker()
            monkeypatch.setattr(phone_shell, "build", lambda: "another-build")
            monkeypatch.setattr(phone_shell, "worker", lambda: kept)
            page.reload()
            phones.begin(page)
            page.wait_for_timeout(300)
            page.context.set_offline(True)
            page.reload()
            page.wait_for_selector("#value")
            phones.stops(page, [1])
            found = page.evaluate(HELD)
        monkeypatch.undo()
    return found


def test_a_phone_keeps_its_own_page_when_the_hall_is_updated_while_it_is_away(browser, pages, monkeypatch):
    assert build_held_after_an_update(browser, pages, monkeypatch) == phone_shell.build()


def test_a_worker_that_takes_pages_of_any_build_mixes_them(browser, pages, monkeypatch):
    assert build_held_after_an_update(browser, pages, monkeypatch, MIXES) == "another-build"


@pytest.mark.parametrize("every", [False, pytest.param(True, marks=pytest.mark.soak)])
def test_no_screen_of_a_round_shuts_anyone_out(browser, pages, every):
    with a_hall(pages, stops=5) as (hall, at):
        said = ["as usual", "none", "other"]
        signs = [
            phone_hall.ask(kind="observation", label=sign, sign=sign, choices=said)
            for sign in ("appetite", "breathing")
        ]
        fed = phone_hall.ask(kind="feeding", label="mysis", food="mysis", grams=20, choices=["all", "half"])
        hall.plan["stops"][1].update(zone_name="quarantine", zone_change={"foot_bath": True, "tools": True})
        hall.plan["stops"][2]["asks"], hall.plan["stops"][3]["asks"] = signs, [fed]
        hall.refuse = lambda entry: "This tank is no more" if entry["body"].get("text") == "27.9" else ""
        found = []
        with phones.phone(browser, at, service_workers="block") as page:

            def look(name):
                if every or name in ("an unusual value", "signs", "what needs somebody"):
                    found.extend(axe.look(page, name))

            page.wait_for_selector("#walk button.answer")
            look("begin")
            phones.begin(page)
            page.keyboard.type("27.9")
            look("an unusual value")
            page.focus("#value")
            page.keyboard.press("Enter")
            page.wait_for_selector("#why")
            look("why")
            page.focus("#why")
            page.keyboard.press("Enter")
            page.wait_for_selector("text=You go into quarantine")
            look("a zone")
            page.click("button.answer")
            page.click("button.answer")
            page.wait_for_selector("#value")
            page.keyboard.type("246")
            look("an impossible value")
            page.focus("#value")
            page.keyboard.press("Control+A")
            page.keyboard.type("24.6")
            page.keyboard.press("Enter")
            page.wait_for_selector("text=all as usual")
            page.locator("fieldset").nth(1).locator("button").nth(2).click()
            look("signs")
            page.click("text=keep it; the rest as usual")
            page.wait_for_selector("#grams")
            look("feeding")
            page.click("text=half")
            page.wait_for_selector("#value")
            page.click("text=skip, say why")
            look("skip")
            page.click("text=no time")
            page.wait_for_selector("text=End the round")
            look("end")
            page.click("text=back")
            page.click(".walk-top a")
            page.wait_for_selector("ol.stops")
            look("every stop")
            page.click("text=To the end")
            page.click("text=End the round")
            page.wait_for_selector("text=1 need you")
            look("what needs somebody")
            page.emulate_media(color_scheme="dark")
            look("by night")
    assert not found, "\n".join(map(str, found))
    bodies = [entry["body"] for entry in hall.stored.values()]
    assert [(body["sign"], body["answer"]) for body in bodies if "sign" in body] == [
        ("appetite", "as usual"),
        ("breathing", "other"),
    ]
    assert [(body["food"], body["grams"], body["eaten"]) for body in bodies if "food" in body] == [
        ("mysis", 20, "half")
    ]

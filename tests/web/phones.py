"""Phones for tests: a browser of their size, and hands that walk a round on it."""

import contextlib
import os
import signal

import shots

from brinehouse.web import files

LIST = "() => brine.queue.list()"
DONE = "async () => { const now = await brine.queue.counts(); return now.waiting === 0; }"


@contextlib.contextmanager
def phone(browser, at, page="/phone/round/morning", **more):
    """A page of its own, with a round open."""
    place = browser.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True, **more
    )
    shown = place.new_page()
    shown.set_default_timeout(15_000)
    shown.goto(f"{at}{page}")
    yield shown
    place.close()


@contextlib.contextmanager
def kept_phone(browser, profile, *flags):
    """A phone whose browser keeps its data between starts; gives its context."""
    from playwright import sync_api

    place = browser.browser_type.launch_persistent_context(
        profile,
        executable_path=shots.CHROMIUM,
        args=[*shots.FLAGS, *flags],
        headless=True,
        viewport={"width": 390, "height": 844},
    )
    try:
        yield place
    finally:
        with contextlib.suppress(sync_api.Error):
            place.close()


def kill(place):
    """End the browser's own processes at once, as an empty battery would."""
    told = place.browser.new_browser_cdp_session() if place.browser else place.new_cdp_session(place.pages[0])
    pids = [
        row["id"] for row in told.send("SystemInfo.getProcessInfo")["processInfo"] if row["type"] == "browser"
    ]
    for pid in pids:
        os.kill(pid, signal.SIGKILL)
    return pids


def begin(page):
    """Past the first screen: the first name, or the only button."""
    page.locator("#walk .tile, #walk button.answer").first.click()
    page.wait_for_selector("#value")


def worker_ready(page):
    """Until the worker holds the page."""
    page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")


def value(number):
    """What is typed at a stop: within what is expected, each one's own."""
    return f"{24 + number / 20:.2f}"


def type_at(page, number):
    """Type the value of a stop and keep it, by the keys of a keyboard; back when the next one is shown."""
    title = page.inner_text("#walk h1")
    assert title == f"tank {number}, temperature"
    page.keyboard.type(value(number))
    page.keyboard.press("Enter")
    page.wait_for_function("title => document.querySelector('#walk h1').textContent !== title", arg=title)


def stops(page, numbers):
    for number in numbers:
        type_at(page, number)


def hand_over(page, seconds=20):
    """Let go of what is held for taking back, and wait until nothing waits."""
    page.evaluate("async () => { await brine.queue.releaseHolds(); brine.queue.flush(); }")
    wait_until(page, DONE, seconds)


def wait_until(page, what, seconds=20):
    """Until an expression that may take its time says yes."""
    for _ in range(seconds * 20):
        if page.evaluate(what):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"not within {seconds} s: {what}")


def planted(name, *changes):
    """A script with faults put in."""
    text = (files.folder() / name).read_text("utf-8")
    for right, wrong in changes:
        assert text.count(right) == 1, right
        text = text.replace(right, wrong)
    return text


def readings(book):
    """Place and text of the readings among entries of a logbook."""
    return [(entry.place, entry.text) for entry in book if hasattr(entry, "quantity")]


def wanted(numbers):
    return sorted((f"stop-{number}", value(number)) for number in numbers)

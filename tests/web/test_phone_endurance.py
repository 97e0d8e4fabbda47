"""A long day of phones: hundreds of entries over a line that loses answers, and a hall set back in time."""

import contextlib
import shutil

import bad_link
import phones
import pytest
import shots

from brinehouse.web import app
from conftest import FIVE, serving, visiting

pytestmark = [pytest.mark.part("chromium"), pytest.mark.soak]
FILL = """async ([count, phone, pictures]) => {
  const { queue } = brine, walk = queue.newId(), ids = [];
  for (let number = 0; number < count; number += 1) {
    const text = `${20 + phone}.${String(number).padStart(3, "0")}`;
    const body = { place: "tank-1", quantity: "temperature", text, unit: "°C", sure: false, reason: "" };
    const made = new Date().toISOString();
    const [id] = await queue.keep([{ id: queue.newId(), made, person: null, round: "round",
      walk, stop: "tank-1.temperature", kind: "reading", about: {}, body }]);
    ids.push(id);
  }
  const canvas = new OffscreenCanvas(320, 240), pen = canvas.getContext("2d");
  for (let number = 0; number < pictures; number += 1) {
    pen.fillStyle = `rgb(${number * 5}, 90, 120)`;
    pen.fillRect(0, 0, 320, 240);
    const blob = await canvas.convertToBlob({ type: "image/jpeg" });
    const bytes = await blob.arrayBuffer();
    await queue.keepPhoto({ about: ids[number], made: new Date().toISOString(), type: "image/jpeg", bytes });
  }
  return ids;
}"""


@pytest.fixture(scope="module")
def browser():
    with shots.shared() as opened:
        yield opened


def begun(folder):
    made = app.create_app(folder)
    with visiting(made) as visitor:
        assert visitor.post("/begin", data={**FIVE, "tanks": "tank 1, 2 m3, 1 m"}).status_code == 303
    return app.create_app(folder)


def drained(page, seconds):
    for _ in range(seconds * 2):
        page.evaluate("() => { dispatchEvent(new Event('online')); }")
        page.wait_for_timeout(500)
        now = page.evaluate("() => brine.queue.counts()")
        if not now["waiting"] and not now["photos"]:
            return
    raise AssertionError(now)


def test_300_entries_and_40_pictures_of_a_day_offline_arrive_once_over_a_slow_line_that_loses_answers(
    browser, tmp_path
):
    made = begun(tmp_path / "hall")
    with serving(made, lifespan="off") as at, bad_link.Link(int(at.rsplit(":", 1)[1])) as link:
        with phones.phone(browser, f"http://127.0.0.1:{link.port}", "/phone") as page:
            page.wait_for_selector("text=Nothing waits")
            link.set("down")
            ids = page.evaluate(FILL, [300, 1, 40])
            link.wait, link.rate, link.odds = 0.4, 50_000.0, 0.3
            link.set("lose")
            drained(page, 240)
        hall = made.state.desk.hall()
        assert sorted(reading.id for reading in hall.history()) == sorted(ids)
        pictures = [fact for fact in hall.facts() if fact.kind == "file"]
    assert link.lost > 5
    assert len(pictures) == 40
    assert {fact.details["about"] for fact in pictures} == set(ids[:40])


def test_what_a_hall_set_back_to_an_older_copy_lost_comes_back_from_its_phones_once(browser, tmp_path):
    """Three phones, 500 entries; a line stands between, so that the hall may come back under its address."""
    folder, older = tmp_path / "hall", tmp_path / "older"
    made = begun(folder)
    wanted = []
    with contextlib.ExitStack() as held:
        first = held.enter_context(contextlib.ExitStack())
        link = held.enter_context(bad_link.Link(0))
        link.target = int(first.enter_context(serving(made)).rsplit(":", 1)[1])
        at = f"http://127.0.0.1:{link.port}"
        pages = [held.enter_context(phones.phone(browser, at, "/phone")) for _ in range(3)]
        for number, page in enumerate(pages):
            wanted += page.evaluate(FILL, [100, number, 0])
            drained(page, 60)
        first.close()
        shutil.copytree(folder, older)
        again = held.enter_context(contextlib.ExitStack())
        link.target = int(again.enter_context(serving(app.create_app(folder))).rsplit(":", 1)[1])
        for number, (page, count) in enumerate(zip(pages, (100, 50, 50), strict=True)):
            wanted += page.evaluate(FILL, [count, number + 5, 0])
            drained(page, 60)
        again.close()
        restored = app.create_app(older)
        link.target = int(held.enter_context(serving(restored)).rsplit(":", 1)[1])
        assert len(restored.state.desk.hall().history()) == 300
        for page in pages:
            page.click("text=Send the last seven days again")
            drained(page, 120)
        found = [reading.id for reading in restored.state.desk.hall().history()]
    assert sorted(found) == sorted(wanted)
    assert len(found) == 500

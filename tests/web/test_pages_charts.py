"""The sheet of charts: drawn by the server, and taken nearer, moved and read out by its script."""

import csv
import datetime as dt
import io
import re

import pytest
import shots

from brinehouse import records
from brinehouse.workbench import clock, hall
from conftest import serving, visiting

NOW = dt.datetime(2026, 3, 14, 6, 40, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
FILE = """schema = 1
[facility]
name = "Small hall"
timezone = "Europe/London"
[tank.reef]
name = "Reef"
volume = "26 m3"
stands_alone = true
[tank.kelp]
name = "Kelp <i>"
volume = "9 m3"
stands_alone = true
[[limit]]
quantity = "temperature"
aim = "24 °C to 26 °C"
act = "above 30 °C"
"""
BOTH = "/charts?s=reef:temperature&s=kelp:temperature&s=reef:pH&days=90"


def reading(ago, value, **more):
    told = {"place": "reef", "quantity": "temperature", "unit": "°C", "text": f"{value} °C"} | more
    at = NOW - ago * HOUR
    return records.Reading(id=hall.new_id(), measured=at, entered=at, value=value, **told)


@pytest.fixture(scope="module")
def visitor(tmp_path_factory):
    """Ninety days: a sensor every hour with one excursion and one gap, hands twice a day, one doubtful."""
    from brinehouse.web import app

    folder = tmp_path_factory.mktemp("charts")
    (folder / "facility.toml").write_text(FILE, "utf-8")
    clock.freeze(NOW)
    hours = [ago for ago in range(1, 2150) if not 300 <= ago < 400]
    rows = [reading(ago, 31.5 if ago == 1234 else 25.0 + (ago % 24) / 50.0, source="sensor") for ago in hours]
    rows += [reading(12 * n + 0.5, 25.2, text="25.2 °C") for n in range(100)]
    rows += [reading(7, 29.0, quality="doubtful"), reading(3, 8.1, quantity="pH", unit="1", text="8.1")]
    rows += [reading(2, 14.0, place="kelp", instrument="=SUM(1)", text="14 °C")]
    at = NOW - 5 * HOUR
    rows.append(records.Fact(id=hall.new_id(), kind="event", measured=at, entered=at, place="reef",
                             details={"what": "water <b>changed"}))  # fmt: skip
    with hall.open_hall(folder) as made:
        made.write(rows)
    with visiting(app.create_app(folder)) as seen:
        yield seen
    clock.freeze(None)


@pytest.fixture(scope="module")
def address(visitor):
    with serving(visitor.app, lifespan="off") as at:
        yield at


@pytest.fixture(scope="module")
def browser():
    with shots.shared() as opened:
        yield opened


@pytest.fixture
def page(browser, address):
    place = shots.context(browser, 1200, 900, "light")
    opened = place.new_page()
    faults = []
    opened.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    opened.on("pageerror", lambda fault: faults.append(str(fault)))
    opened.goto(address + BOTH)
    opened.wait_for_selector(".uplot")
    yield opened
    place.close()
    assert faults == []


def test_the_server_draws_what_the_script_would(visitor):
    page = visitor.get(BOTH).text
    assert page.count('class="wide"') == 2  # one chart a unit
    assert "d-aim" in page
    assert "c-limit act" in page
    assert "c-mark c0 hollow" in page
    assert "water &lt;b&gt;changed" in page
    assert "Kelp &lt;i&gt;" in page
    assert "<b>changed" not in page


def test_the_excursion_stands_in_the_table_behind_the_chart_and_in_the_data(visitor):
    data = visitor.get(BOTH.replace("/charts?", "/charts/data.json?")).json()
    line = next(one for one in data["panels"][0]["series"][0]["lines"] if one["sensor"])
    assert len(line["times"]) <= 700
    assert max(line["high"]) == 31.5
    assert max(line["values"]) < 31.5


def test_nothing_chosen_draws_the_first_tank_and_a_fault_is_told_on_the_sheet(visitor):
    assert visitor.get("/charts").status_code == 200
    assert "Reef" in visitor.get("/charts").text
    wrong = visitor.get("/charts?s=nowhere:temperature")
    assert wrong.status_code == 422
    assert "chart/no-place" in wrong.text
    assert visitor.get("/charts/data.json?s=reef:heat").status_code == 422


def test_a_place_and_a_quantity_that_are_chosen_come_on_top(visitor):
    page = visitor.get("/charts?s=reef:temperature&place=reef&quantity=pH").text
    assert re.search(r"<h1>Temperature and pH of Reef", page)
    assert "s=reef%3ApH" in page  # its link away, and the others'


def test_the_file_holds_every_reading_and_no_formula(visitor):
    answer = visitor.get(BOTH.replace("/charts?", "/charts/data.csv?"))
    assert answer.headers["content-disposition"].startswith("attachment")
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert len(rows) == 2049 + 100 + 3
    assert {row["instrument"] for row in rows} == {"", "'=SUM(1)"}


def test_the_script_takes_the_place_of_the_picture_and_the_picture_is_still_there_for_paper(page):
    assert page.locator(".uplot").count() == 2
    assert page.locator(".chart-drawn:visible").count() == 0
    page.emulate_media(media="print")
    assert page.locator(".chart-drawn:visible").count() == 2
    assert page.locator(".uplot:visible").count() == 0


def test_without_a_script_the_picture_stands(browser, address):
    place = browser.new_context(java_script_enabled=False)
    opened = place.new_page()
    opened.goto(address + BOTH)
    assert opened.locator(".chart-drawn:visible").count() == 2
    place.close()


def said(page):
    return page.locator(".chart-said").first.text_content()


def test_keys_go_from_reading_to_reading_and_are_told_politely(page):
    assert page.locator(".chart-said").first.get_attribute("aria-live") == "polite"
    page.locator(".plot").first.focus()
    page.keyboard.press("ArrowUp")  # to the last line: kelp, by hand
    assert "Kelp <i>, 14 °C, by hand" in said(page)
    page.keyboard.press("ArrowUp")  # reef, by hand
    page.keyboard.press("End")
    first = said(page)
    assert "Sat, 14 Mar 2026" in first.replace("14 Mar 2026,", "14 Mar 2026")
    assert "25.2 °C, by hand" in first
    page.keyboard.press("ArrowLeft")
    assert "29 °C, by hand, doubtful" in said(page)
    assert "meanwhile: water <b>changed" in said(page)
    page.keyboard.press("Home")
    assert said(page) != first


def width(page):
    """Hours that the charts show, read off the data they last asked for."""
    return page.evaluate("() => { const ask = performance.getEntriesByType('resource').map(e => e.name)"
                         ".filter(n => n.includes('data.json')).pop(); const q = new URL(ask).searchParams;"
                         " return (q.get('until') - q.get('since')) / 3600; }")  # fmt: skip


def test_plus_goes_nearer_with_finer_data_and_escape_goes_back(page):
    page.locator(".plot").first.focus()
    with page.expect_response(lambda answer: "data.json" in answer.url and "since=" in answer.url):
        page.keyboard.press("+")
        page.keyboard.press("+")
    assert width(page) == pytest.approx(90 * 24 / 4, rel=0.01)
    with page.expect_response(lambda answer: "data.json" in answer.url):
        page.keyboard.press("Escape")
    assert width(page) == pytest.approx(90 * 24, rel=0.01)


def touch(cdp, kind, points):
    cdp.send(
        "Input.dispatchTouchEvent",
        {"type": kind, "touchPoints": [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(points)]},
    )


def test_two_fingers_scale_and_one_moves_on_a_phone(browser, address):
    place = shots.context(browser, 390, 844, "light")
    opened = place.new_page()
    opened.goto(address + BOTH)
    opened.wait_for_selector(".uplot")
    over = opened.locator(".u-over").first
    assert over.evaluate("one => getComputedStyle(one).touchAction") == "pan-y"
    over.scroll_into_view_if_needed()
    box = over.bounding_box()
    y, left = box["y"] + box["height"] / 2, box["x"]
    cdp = place.new_cdp_session(opened)
    with opened.expect_response(lambda answer: "data.json" in answer.url):
        touch(cdp, "touchStart", [(left + 120, y), (left + 180, y)])
        for n in range(1, 7):
            touch(cdp, "touchMove", [(left + 120 - 10 * n, y), (left + 180 + 10 * n, y)])
        touch(cdp, "touchEnd", [])
    near = width(opened)
    assert near == pytest.approx(90 * 24 / 3, rel=0.1)
    with opened.expect_response(lambda answer: "data.json" in answer.url):
        touch(cdp, "touchStart", [(left + 200, y)])
        for n in range(1, 7):
            touch(cdp, "touchMove", [(left + 200 - 15 * n, y)])
        touch(cdp, "touchEnd", [])
    assert width(opened) == pytest.approx(near, rel=0.01)
    place.close()

"""The pages in a real browser: by keyboard, through a reload, without scripts, on paper, for everyone."""

import contextlib
import datetime as dt
import io
import re
import shutil

import axe
import pypdf
import pytest
import shots
from test_app import PAGES, filled

from brinehouse.web import app
from brinehouse.workbench import clock
from conftest import NOW, serving

pytestmark = pytest.mark.part("chromium")
LEFT = (  # one page of a kind: the same templates with other values
    "/ask/instruments",
    "/ask/gas-changes",
    "/log?place=pipefish&quantity=temperature",
    "/log?kind=gas-trial",
    "/log?page=7",
    "/log/new/beside?place=pipefish&quantity=temperature",
    "/ask/gas-budget",
    "/gas/budget",
    "/log/new",
    "/time/card/power-fails",
)


@pytest.fixture(scope="module", autouse=True)
def one_browser():
    """Starting Chromium costs more than most of these tests."""
    with shots.shared():
        yield


@pytest.fixture(scope="module")
def hall(demo_folder, tmp_path_factory):
    """A copy of the invented hall, served; with one running trial and one corrected reading."""
    folder = tmp_path_factory.mktemp("browsed") / "hall"
    shutil.copytree(demo_folder, folder)
    clock.freeze(NOW)
    with serving(app.create_app(folder)) as at:
        yield at
    clock.freeze(None)


@pytest.fixture
def still(stopped_clock):
    return stopped_clock


@contextlib.contextmanager
def opened(width=1366, height=900, scheme="light"):
    with shots.browser() as browser:
        place = shots.context(browser, width, height, scheme)
        place.set_default_navigation_timeout(180_000)  # a cold engine on a busy machine is not what is tested
        yield place.new_page()
        place.close()


def begin_trial(page, at):
    page.goto(f"{at}/gas/trials")
    page.select_option("select[name=place]", "pipefish")
    page.select_option("select[name=instrument]", "meter-A")
    page.fill("input[name=by]", "Test Person")
    page.click("main form button.answer")
    page.wait_for_url(re.compile(r"/gas/trials/[0-9a-f]{32}$"))
    return page.url


PHONE, DESKTOP = shots.VIEWPORTS


@pytest.mark.parametrize(
    ("size", "night"),
    [
        pytest.param(PHONE, True, id="phone"),
        pytest.param(DESKTOP, False, id="desktop"),  # the same colours by night in the long run
        pytest.param(DESKTOP, True, id="desktop by night too", marks=pytest.mark.soak),
    ],
)
def test_no_sheet_shuts_anyone_out(hall, demo_address, still, demo, tmp_path, size, night):
    with serving(app.create_app(tmp_path / "empty")) as empty, opened(*size) as page:
        trial = begin_trial(page, hall)
        for minute, value in ((0, 100.4), (2, 102), (4, 103), (6, 103.7)):
            page.fill("input[name=minute]", str(minute))
            page.fill("input[name=value]", str(value))
            page.click("form.add button")
            page.wait_for_load_state()
        urls = [demo_address + filled(address, demo) for address in PAGES if address not in LEFT]
        urls += [
            trial, f"{hall}/nothing", f"{demo_address}/ask/settling?minutes=x&value=y", f"{empty}/"
        ]  # fmt: skip
        found = [fault for url in urls for fault in by_day_and_by_night(page, url, night)]
    assert not found, "\n".join(map(str, found))


def by_day_and_by_night(page, url, night):
    """Every fault by day; by night again what colours can change, where asked for."""
    heard = []
    page.on("pageerror", lambda fault: heard.append(str(fault)))
    page.emulate_media(color_scheme="light")
    page.goto(url, wait_until="load")
    found = [*heard, *axe.look(page, "by day")]
    if not night:
        return found
    page.emulate_media(color_scheme="dark")
    rules = {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}
    told = page.evaluate("rules => axe.run(document, rules)", rules)
    found += [f"{url} by night: {node['html']}" for rule in told["violations"] for node in rule["nodes"]]
    return found + [f"{url} by night: {row}" for row in page.evaluate(axe.STILL)]


def test_the_faults_of_a_form_shut_nobody_out_either(hall, still):
    with opened(390, 844) as page:
        page.goto(f"{hall}/log/new?place=pipefish&quantity=temperature")
        page.fill("input[name=value]", "38 °C")
        page.click("main form button.answer")
        page.wait_for_selector("input[name=sure]")
        found = axe.look(page, "phone, an unusual value")
        page.goto(f"{hall}/log/imports")
        content = b"time,place,quantity,value,unit\n2026-03-02T08:00:00,mangrove,temperature,warm,degC\n"
        page.set_input_files(
            "input[type=file]", {"name": "log.csv", "mimeType": "text/csv", "buffer": content}
        )
        page.click("main form button.answer")
        page.wait_for_selector("h1")
        found += axe.look(page, "phone, a file with faults")
    assert not found, "\n".join(map(str, found))


def test_a_reading_is_written_with_the_keyboard_alone(hall, still):
    with opened() as page:
        page.goto(f"{hall}/now")
        reach(page, "Write a reading")
        page.keyboard.press("Enter")
        page.wait_for_url("**/log/new")
        for box, keys in (("place", "pipefish"), ("quantity", "temperature")):
            reach(page, box)
            page.keyboard.type(keys)
        page.wait_for_selector("#beside .aside")  # what was read last came by itself
        for box, keys in (("value", "25.5 °C"), ("by", "Test Person")):
            reach(page, box)
            page.keyboard.type(keys)
        page.keyboard.press("Enter")
        page.wait_for_url(re.compile(r"/log/[0-9a-f]{32}$"))
        assert "25.5 °C" in page.inner_text("h1")


def reach(page, wanted, most=60):
    """Walk by Tab to a link of that text or a box of that name."""
    for _ in range(most):
        page.keyboard.press("Tab")
        got = page.evaluate("[document.activeElement.name || '', document.activeElement.textContent.trim()]")
        if wanted in got:
            return
    raise AssertionError(f"{wanted} cannot be reached by keyboard")


def test_the_clock_of_a_trial_survives_a_reload(hall):
    clock.freeze(NOW)
    with opened(390, 844) as page:
        begin_trial(page, hall)
        clock.freeze(NOW + dt.timedelta(minutes=12, seconds=30))
        page.reload()
        first = float(page.inner_text("time"))
        page.wait_for_timeout(6500)  # it ticks by tenths of a minute
        later = float(page.inner_text("time"))
        assert 12.5 <= first <= 12.6 < later + 0.05 <= 12.8
        assert float(page.input_value("input[name=minute]")) == later
        page.fill("input[name=minute]", "7")
        page.wait_for_timeout(1200)
        assert page.input_value("input[name=minute]") == "7"  # what a person typed stays
        page.reload()
        assert float(page.inner_text("time")) <= later


def test_without_scripts_a_trial_works_as_well(hall, still):
    with shots.browser() as browser:
        place = browser.new_context(java_script_enabled=False)
        page = place.new_page()
        begin_trial(page, hall)
        clock.freeze(NOW + dt.timedelta(minutes=3))
        page.reload()
        assert page.inner_text("time") == "3.0"
        assert page.input_value("input[name=minute]") == "3.0"
        page.fill("input[name=value]", "102.0")
        page.click("form.add button")
        assert "102.0" in page.inner_text("table.readings")
        place.close()


@pytest.mark.parametrize(
    ("address", "says"),
    [("/now", "not as they should be"), ("/gas", "Which meters to believe"), ("/log", "temperature")],
)
def test_on_paper_a_sheet_has_its_title_block_and_no_buttons(demo_address, still, address, says):
    with shots.browser() as browser:
        page = browser.new_page()
        page.goto(demo_address + address)
        paper = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True, print_background=True)))
        page.close()
    texts = [" ".join(sheet.extract_text().split()) for sheet in paper.pages]
    assert 1 <= len(texts) <= 6
    assert says in " ".join(texts)
    for number, text in enumerate(texts, 1):
        assert "Highmoor Sea Hall" in text
        assert f"{number} / {len(texts)}" in text
        assert "questions" not in text
        assert "Write a reading" not in text
        assert len(text) > 150
    for sheet in paper.pages:
        width, height = (float(side) / 72 * 25.4 for side in sheet.mediabox[2:])
        assert (round(width), round(height)) == (210, 297)

"""What a page weighs on the line, counted by the browser: the first one, and the next."""

import pytest
import shots
from starlette.middleware import gzip
from test_app import filled

from brinehouse.web import files

pytestmark = pytest.mark.part("chromium")
KIB = 1024
FIRST, NEXT, SCRIPTS = 100 * KIB, 30 * KIB, 50 * KIB
SHEETS = ("/now", "/rounds", "/phone/round/morning")


class Counter:
    """Bytes on the line by address, as the browser counts them: heads and packed bodies."""

    def __init__(self, page):
        self.sent, self.names = {}, {}
        line = page.context.new_cdp_session(page)
        line.send("Network.enable")
        line.on(
            "Network.requestWillBeSent",
            lambda told: self.names.update({told["requestId"]: told["request"]["url"]}),
        )
        line.on("Network.loadingFinished", self._finished)

    def _finished(self, told):
        url = self.names.get(told["requestId"], "?")
        self.sent[url] = self.sent.get(url, 0) + told["encodedDataLength"]

    def take(self, *, only="", without="woff2"):
        found = sum(size for url, size in self.sent.items() if only in url and without not in url)
        self.sent.clear()
        return found


def weights(at, first, following, **more):
    """Bytes of a first page without letters, of its scripts, and of the page after it."""
    with shots.browser() as browser:
        place = browser.new_context(service_workers="block", **more)
        page = place.new_page()
        page.set_default_navigation_timeout(120_000)
        counter = Counter(page)
        page.goto(at + first, wait_until="load")
        page.wait_for_timeout(300)
        scripts = sum(size for url, size in counter.sent.items() if ".js" in url)
        whole = counter.take()
        page.goto(at + following, wait_until="load")
        page.wait_for_timeout(300)
        after = counter.take()
        place.close()
    return whole, scripts, after


@pytest.fixture(scope="module")
def one_browser():
    with shots.shared() as opened:
        yield opened


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_first_page_weighs_at_most_100_kib_its_scripts_50_and_the_next_page_30(
    one_browser, demo, demo_address, sheet
):
    whole, scripts, after = weights(
        demo_address, filled(sheet, demo), "/log/new" if sheet != "/now" else "/phone"
    )
    assert 2 * KIB < whole <= FIRST, f"{whole / KIB:.1f} KiB"
    assert scripts <= SCRIPTS, f"{scripts / KIB:.1f} KiB"
    assert after <= NEXT, f"{after / KIB:.1f} KiB"


def test_a_page_whose_files_go_out_unpacked_is_found_too_heavy(one_browser, demo, demo_address, monkeypatch):
    monkeypatch.setattr(files, "PACKED", {})
    monkeypatch.setattr(gzip.GZipMiddleware, "__call__", lambda self, *more: self.app(*more))
    _, scripts, _ = weights(demo_address, "/phone/round/morning", "/phone")
    assert scripts > SCRIPTS

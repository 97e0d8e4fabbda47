"""The working day's sheets over a hall in which every name and every word is hostile: nothing of it runs."""

import json
import re

import pytest
import shots
from test_escapes import ALLOWED, PAYLOADS, Reader

from brinehouse import records
from brinehouse.web import app
from brinehouse.workbench import hall as halls
from conftest import NOW, serving, visiting

MORE = {"fieldset", "legend", "img", "noscript", "template", "video", "datalist", "output", "progress", "dfn",
        "line", "polygon", "polyline", "tspan", "defs", "pattern", "use", "symbol", "b", "em", "pre", "ins",
        "del", "hr", "tfoot", "colgroup", "col", "kbd", "aside", "canvas", "marker", "clippath", "s", "time",
        "blockquote", "q", "i", "u", "figure", "figcaption", "article", "address", "optgroup"}  # fmt: skip
HOOK = """window.__pwn = 0; window.alert = window.confirm = window.prompt = () => { window.__pwn += 1; };
document.addEventListener('securitypolicyviolation', e => console.error('policy: ' + e.violatedDirective));"""
RUNS = "<script>window.__pwn=1</script><img src=x onerror=window.__pwn=1><svg onload=window.__pwn=1>"


def text(words):
    """A TOML text: what no file may hold is left out, since the checker refuses it."""
    return json.dumps("".join(one for one in words if one.isprintable()), ensure_ascii=False)


def facility(words):
    name = text(words)
    return f"""schema = 1
[facility]
name = {name}
timezone = "Europe/London"
[zone.z]
name = {name}
order = 1
[tank.T-1]
name = {name}
volume = "3 m3"
depth = "0.8 m"
zone = "z"
[sump.S-1]
name = {name}
volume = "2 m3"
[[animals]]
at = "T-1"
species = {name}
count = 4
depth = ["0.1 m", "0.6 m"]
[pump.P-1]
name = {name}
flow = "3 m3/h"
maker = {name}
serial = {name}
manual = {name}
[pump.P-2]
name = {name}
flow = "3 m3/h"
[duty.d]
name = {name}
pumps = ["P-1", "P-2"]
[run.r]
from = "S-1"
to = "T-1"
through = ["d"]
flow = "3 m3/h"
[run.b]
from = "T-1"
to = "S-1"
flow = "3 m3/h"
[instrument.m]
name = {name}
measures = ["temperature"]
[point.p]
at = "T-1"
depth = "0.3 m"
[[upkeep]]
of = "P-1"
what = {name}
every = "30 d"
note = {name}
[[limit]]
quantity = "temperature"
at = "T-1"
watch = "above 20 °C"
act = "above 24 °C"
source = {name}
cause = {name}
consequence = {name}
response = {name}
time = "4 h"
"""


def facts(words, person):
    """A fact of every kind, hostile in every word it has."""
    details = {
        "what": words, "title": words, "did": words, "parts": words, "why": words, "of": "P-1", "tag": words,
        "order": "a" * 32, "due": words, "round": words, "walk": "b" * 32, "stop": words, "zone": words,
        "sha256": "c" * 64, "name": words, "type": "image/jpeg", "size": 5, "about": "d" * 32, "hours": 5.0,
        "starts": 3, "duty": "d", "stopped": "P-1", "started": "P-2", "worked": True, "seconds": 20,
        "lot": words, "expires": words, "notice": words, "until": words, "since": words, "text": words,
        "head": words, "where": words, "pinned": True, "promised": words, "animals": words, "sign": words,
        "answer": words, "words": words, "food": words, "grams": 3, "eaten": words, "pump": "P-1",
        "running": True, "instrument": "m", "check": words, "quantity": "temperature", "unit": "°C",
        "reads": 1.0, "should_read": 2.0, "setting": words, "value": words, "count": 2, "on": True,
    }  # fmt: skip
    # On-call speaks of a number and times, and is read as such; it holds no words.
    return [
        records.Fact(
            id=halls.new_id(), kind=kind, measured=NOW, entered=NOW, place="T-1", details={**details, **own},
            person=person, note=words,
        )
        for kind, own in (
            ("note", {}), ("event", {}), ("observation", {}), ("feeding", {}), ("pump-run", {}),
            ("instrument-check", {}), ("instrument-setting", {}), ("walk", {"what": "begun"}),
            ("stop", {"what": "skipped", "reason": words}), ("file", {}), ("work", {"what": "asked"}),
            ("lock-out", {}), ("run-hours", {}), ("change-over", {}), ("renewal", {}),
            ("notice", {"what": "seen"}), ("hand-over", {"what": "written", "text": words}),
            ("backup", {"what": "made"}),
        )
    ]  # fmt: skip


def poisoned(folder, words):
    """A hall in which every word is hostile."""
    folder.mkdir()
    (folder / "facility.toml").write_text(facility(words), "utf-8")
    plain = words.replace("\0", "")
    with halls.open_hall(folder) as hall:
        person = hall.person(plain)
        hall.write(facts(plain, person), person=person)
        hall.write(
            [
                records.Reading(
                    id=halls.new_id(), measured=NOW, entered=NOW, place="T-1", point="p",
                    quantity="temperature",
                    value=25.0, unit="°C", text="25.0 °C", instrument="m", person=person, note=plain,
                    method=plain, reason="",
                )
            ],
            person=person,
        )  # fmt: skip
    return folder


def addresses(visitor):
    """Every sheet of the application, with ids that are there."""
    known = {"table": "tank", "key": "T-1", "number": "1", "round": "all", "duty": "d", "sha256": "c" * 64}
    found = []
    for route in visitor.app.state.routes:
        if "GET" in route.methods and not route.path.startswith(("/turns.ics", "/phone-worker", "/leave")):
            plain = re.sub(r"\{id(:path)?\}", "T-1" if "tank" in route.path else "P-1", route.path)
            plain = plain.replace("{code}", "ZZZZ")
            found.append(re.sub(r"\{(\w+)\}", lambda hit: known.get(hit[1], "x"), plain))
    entries = re.findall(r'href="/log/([0-9a-f]{32})"', visitor.get("/log").text)
    return [*found, *(f"/log/{entry}" for entry in entries), "/charts?s=T-1:temperature"]


class Seen(Reader):
    """A reader that knows the tags of the working day's sheets too."""

    def handle_starttag(self, tag, attrs):
        before = len(self.wrong)
        super().handle_starttag(tag, attrs)
        if tag in MORE and tag not in ALLOWED:
            self.wrong.remove(tag)
        kept = [one for one in self.wrong[before:] if not one.startswith(("src=data:image", "href=?"))]
        self.wrong[before:] = kept


def assert_harmless(answer, address):
    assert answer.status_code < 500, f"{address}: {answer.text[:300]}"
    if "html" in answer.headers.get("content-type", ""):
        reader = Seen()
        reader.feed(answer.text)
        assert not reader.wrong, f"{address}: {reader.wrong[:3]}"
        assert "1445259" not in answer.text, address


NO_SHEET = re.compile(r"\.(crt|csv|json|webmanifest|png)$|^/files/|^/phone/(beat|icon)")
HEAPS = [PAYLOADS[start::2] for start in range(2)]


@pytest.mark.parametrize("heap", HEAPS, ids=["heap 1", "heap 2"])
def test_hostile_words_become_part_of_no_sheet(tmp_path, stopped_clock, heap):
    made = app.create_app(poisoned(tmp_path / "hall", " ".join(heap)))
    with visiting(made) as visitor:
        for address in addresses(visitor):
            assert_harmless(visitor.get(address), address)


@pytest.mark.part("chromium")
def test_hostile_words_run_on_no_sheet_of_a_real_browser(tmp_path, stopped_clock):
    made = app.create_app(poisoned(tmp_path / "hall", RUNS + " ".join(PAYLOADS)))
    with shots.browser() as browser, visiting(made) as visitor, serving(made, lifespan="off") as at:
        found = [one for one in addresses(visitor) if not NO_SHEET.search(one)]
        place = shots.context(browser, 1366, 900, "light")
        place.add_init_script(HOOK)
        page, heard = place.new_page(), []
        page.on("dialog", lambda dialog: (heard.append(f"{page.url}: dialog"), dialog.dismiss()))
        page.on(
            "console",
            lambda told: heard.append(f"{page.url}: {told.text}") if "policy" in told.text else None,
        )
        ran = []
        for address in found:
            page.goto(at + address, wait_until="load")
            if page.evaluate("window.__pwn"):
                ran.append(address)
        place.close()
    assert not ran
    assert not heard, "\n".join(heard[:5])


@pytest.mark.part("chromium")
def test_a_sheet_that_lets_words_through_is_found_by_reader_and_browser():
    body = f"<!doctype html><title>x</title><p>{RUNS}</p>"
    reader = Seen()
    reader.feed(body)
    assert reader.wrong
    with shots.browser() as browser:
        place = shots.context(browser, 390, 844, "light")
        place.add_init_script(HOOK)
        page = place.new_page()
        page.set_content(body)
        page.wait_for_timeout(200)
        assert page.evaluate("window.__pwn")
        place.close()


def test_hostile_words_stay_words_in_a_table_for_other_programs(tmp_path, stopped_clock):
    words = '=HYPERLINK("http://elsewhere.example") +1 @x'
    made = app.create_app(poisoned(tmp_path / "hall", words))
    with visiting(made) as visitor:
        rows = visitor.get("/charts/data.csv?of=T-1:temperature").text.splitlines()
    cells = [cell.strip('"') for row in rows for cell in row.split(",")]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "@", "\t"))]

"""Nothing that a person or a file writes becomes part of a page: forty ways to try it, in every box."""

import html.parser
import json
import re

import pytest

from brinehouse.web import app
from brinehouse.workbench import clock
from conftest import FIVE, NOW, visiting

PAYLOADS = (
    "<script>alert(1)</script>",
    "</script><script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "<svg onload=alert(1)>",
    "<svg/onload=alert(1)>",
    '"><script>alert(1)</script>',
    "'><script>alert(1)</script>",
    '" onmouseover="alert(1)',
    "' onfocus='alert(1)' autofocus='",
    "</title><script>alert(1)</script>",
    "</textarea><script>alert(1)</script>",
    "</option></select><script>alert(1)</script>",
    "</style><script>alert(1)</script>",
    "--><script>alert(1)</script>",
    "<!--<script>alert(1)//-->",
    "<iframe src=javascript:alert(1)>",
    "<a href=javascript:alert(1)>x</a>",
    "javascript:alert(1)",
    "data:text/html,<script>alert(1)</script>",
    "<body onload=alert(1)>",
    "<input autofocus onfocus=alert(1)>",
    "<details open ontoggle=alert(1)>",
    "<marquee onstart=alert(1)>",
    "<math><mtext><script>alert(1)</script>",
    "<base href=//elsewhere.example/>",
    "<meta http-equiv=refresh content=0;url=//elsewhere.example>",
    "<link rel=stylesheet href=//elsewhere.example>",
    "<form action=//elsewhere.example><button>x</button></form>",
    "<object data=//elsewhere.example>",
    "<embed src=//elsewhere.example>",
    "{{481753*3}}",
    "{% for x in ().__class__.__base__.__subclasses__() %}{% endfor %}",
    "${481753*3}",
    "#{481753*3}",
    "<%= 481753*3 %>",
    "{{config}}",
    "&lt;script&gt;alert(1)&lt;/script&gt;",
    "&#60;script&#62;",
    "\u202e<script>\u202calert(1)",
    "＜script＞alert(1)＜/script＞",
    "<scr\x00ipt>alert(1)</scr\x00ipt>",
    "<ScRiPt>alert(1)</sCrIpT>",
    "`${alert(1)}`",
    "%3Cscript%3Ealert(1)%3C/script%3E",
    "a\r\nset-cookie: x=1\r\n\r\n<script>",
    '=HYPERLINK("http://elsewhere.example")',
    "../../../etc/passwd",
    "' OR '1'='1",
    "1; DROP TABLE entries; --",
    "|calc|",
    "\x1b[31mred",
    "x" * 300,
)
ALLOWED = {
    "html",
    "head",
    "meta",
    "title",
    "link",
    "script",
    "body",
    "a",
    "div",
    "header",
    "nav",
    "ul",
    "li",
    "main",
    "h1",
    "h2",
    "h3",
    "h4",
    "p",
    "footer",
    "dl",
    "dt",
    "dd",
    "span",
    "form",
    "label",
    "input",
    "select",
    "option",
    "textarea",
    "button",
    "details",
    "summary",
    "table",
    "thead",
    "tbody",
    "tr",
    "th",
    "td",
    "caption",
    "strong",
    "small",
    "svg",
    "path",
    "circle",
    "rect",
    "text",
    "g",
    "section",
    "ol",
    "code",
    "br",
    "time",
}


class Reader(html.parser.HTMLParser):
    """Every tag and every attribute that a page really has."""

    def __init__(self):
        super().__init__()
        self.wrong = []

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag not in ALLOWED:
            self.wrong.append(tag)
        self.wrong += [
            name for name in given if name.startswith("on") or name in ("style", "srcdoc", "http-equiv")
        ]
        for name in ("href", "src", "action", "formaction"):
            target = given.get(name, "/")
            if not target.startswith(("/", "#")) or target.startswith("//"):
                self.wrong.append(f"{name}={target}")
        if tag == "script" and not given.get("src", "").startswith("/static/"):
            self.wrong.append("a script of its own")
        if tag == "meta" and "elsewhere" in str(given):
            self.wrong.append("meta")


def wrong(answer):
    reader = Reader()
    reader.feed(answer.text)
    return reader.wrong + (["worked out"] if "1445259" in answer.text else [])


def assert_harmless(answer):
    assert answer.status_code in (200, 303, 404, 422)
    assert "set-cookie" not in answer.headers
    assert "elsewhere.example" not in answer.headers.get("location", "")
    assert not wrong(answer), answer.text


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """One small hall for all of them: whatever one leaves behind, the next must live with."""
    clock.freeze(NOW)
    with visiting(app.create_app(tmp_path_factory.mktemp("escapes") / "hall")) as visitor:
        assert visitor.post("/begin", data=FIVE).status_code == 303
        yield visitor
    clock.freeze(None)


@pytest.fixture(autouse=True)
def still(stopped_clock):
    """The clock stands still."""


def test_the_reader_of_pages_sees_what_it_should():
    class Answer:
        text = '<p onclick="x"><script>alert(1)</script><a href="javascript:x">x</a><blink>'

    assert len(wrong(Answer)) == 4


BOXES = (
    "place",
    "quantity",
    "value",
    "at",
    "instrument",
    "depth",
    "note",
    "basis",
    "reason",
    "by",
    "minute",
    "maps",
    "with",
    "sha",
    "answers",
    "name",
)
SOUND = {"place": "mangrove", "quantity": "temperature", "value": "25.4 °C", "at": "2026-03-14T06:30"}
HEAPS = [PAYLOADS[start::4] for start in range(4)]


@pytest.mark.parametrize("heap", HEAPS, ids=["heap 1", "heap 2", "heap 3", "heap 4"])
def test_in_every_box_of_every_form(small, heap):
    written = [write_everywhere(small, payload) for payload in heap]
    listed = links(small, "/log?") | links(small, "/log?versions=all&")
    told = small.get("/gas/trials")
    assert_harmless(told)
    listed |= set(re.findall(r'href="(/gas/trials/[0-9a-f]{32})"', told.text))
    assert not {one for some in written for one in some} - listed


def links(small, address):
    """Every entry on every page of a list, each page harmless."""
    found, page = set(), 1
    while True:
        seen = small.get(f"{address}page={page}")
        assert_harmless(seen)
        here = set(re.findall(r'href="(/log/[0-9a-f]{32})"', seen.text))
        if here <= found:
            return found
        found, page = found | here, page + 1


def write_everywhere(small, payload):
    """One way to try it, in every box of every form, and its sheets; gives their addresses."""
    given = dict.fromkeys(BOXES, payload)
    assert_harmless(small.post("/log/new", data=given))
    assert_harmless(small.post("/begin", data={**FIVE, "name": payload, "tanks": payload, "meters": payload}))
    for box in SOUND:
        assert_harmless(small.post("/log/new", data={**SOUND, "note": payload, box: payload}))
    stored = small.post("/log/new", data={**SOUND, "note": payload, "by": payload, "reason": payload})
    assert stored.status_code == 303
    entry = stored.headers["location"]
    assert_harmless(small.post(f"{entry}/supersede", data={**given, "reason": ""}))
    corrected = small.post(
        f"{entry}/supersede", data={**SOUND, "value": "25.5 °C", "reason": payload, "by": payload}
    )
    assert_harmless(small.get(corrected.headers["location"]))
    assert_harmless(small.post("/gas/trials", data=given))
    trial = small.post(
        "/gas/trials", data={"place": "mangrove", "instrument": "meter-B", "by": payload}
    ).headers["location"]
    assert_harmless(small.post(f"{trial}/add", data=given))
    for address in (entry, trial, "/now", "/log/new/beside?place=mangrove&quantity=temperature"):
        assert_harmless(small.get(address))
    for address in ("/log/imports/again", "/log/imports/store"):
        assert_harmless(small.post(address, data={**given, f"answer:{payload}"[:60]: payload}))
    return entry, corrected.headers["location"], trial


@pytest.mark.parametrize("payload", PAYLOADS)
def test_in_every_part_of_an_address(demo, payload):
    for address in (
        "/log",
        "/log/new",
        "/log/new/beside",
        "/gas/budget",
        "/ask/settling",
        "/ask/instruments",
        "/log/imports",
    ):
        names = (
            "place",
            "quantity",
            "instrument",
            "kind",
            "since",
            "until",
            "versions",
            "page",
            "temperature",
            "tgp",
            "minutes",
            "value",
            "stored",
            "by",
        )
        assert_harmless(demo.get(address, params=dict.fromkeys(names, payload)))
    clean = "".join(one for one in payload if one.isprintable())
    for address in ("/log/", "/gas/trials/", "/ask/", "/"):
        assert_harmless(demo.get(address + clean.replace("/", "").replace("?", "").replace("#", "")))


@pytest.mark.parametrize("payload", PAYLOADS)
def test_in_the_names_and_the_rows_of_a_file(small, payload):
    clean = payload.replace("\r", " ").replace("\n", " ").replace('"', "'").replace("\x00", "")
    row = f'2026-03-02T08:00:00+00:00,mangrove,temperature,24.6,degC,"{clean}"\n'
    row += f'2026-03-02T09:00:00+00:00,"{clean}",temperature,"{clean}",degC,x\n'
    content = ("time,place,quantity,value,unit,note\n" + row).encode("utf-8")
    seen = small.post(
        "/log/imports", data={"by": "logger", "at": ""}, files={"file": (f"{clean[:40]}.csv", content)}
    )
    assert_harmless(seen)
    kept = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', seen.text))
    if "Store the" in seen.text:
        assert small.post("/log/imports/store", data={**kept, "good": "yes"}).status_code == 303
        assert_harmless(small.get("/log"))
    assert_harmless(small.get("/log/imports"))


def test_json_is_never_taken_for_a_page(demo):
    answer = demo.get(
        "/ask/gas-budget", params={"temperature": "<script>alert(1)</script>", "format": "json"}
    )
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.status_code == 422
    json.loads(answer.text)


@pytest.mark.parametrize("payload", PAYLOADS[::4])
def test_in_the_five_questions(nowhere, payload):
    for box in FIVE:
        assert_harmless(nowhere.post("/begin", data={**FIVE, box: payload}))
    for address in ("/", "/now", "/log"):
        assert_harmless(nowhere.get(address))

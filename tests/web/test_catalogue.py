"""Every word of ours comes from the catalogue: the invented language shows the ones that do not."""

import html.parser
import pathlib
import re

import pytest
from test_app import PAGES, filled

from brinehouse.web import catalogue
from brinehouse.workbench import desk

WEB = pathlib.Path(catalogue.__file__).parent
KEY = re.compile(r"""\bt(?:\.many)?\(\s*['"]([a-z]+\.[a-z_0-9]+)['"]""")
BUILT = {
    "kind.",
    "trust.step_",
    "trust.remove_",
    "trust.without_",
    "notices.state_",
    "notices.priority_",
    "notices.act_",
    "notices.result_",
    "notices.f_",
    "notices.v_",
    "oncall.kind_",
    "handover.part_",
    "handover.title_",
    "nav.",
    "rounds.title_",
    "rounds.one_",
    "sheet.",
    "part.level_",
    "imports.verdict_",
    "log.good",
    "log.doubtful",
    "log.fault",
    "plant.kind_",
    "plant.runs",
    "plant.rests",
    "plant.unknown",
    "plant.from_outside",
    "plant.to_outside",
    "loop.where_",
    "loop.missing_",
    "loop.title_",
    "balance.q_",
    "flows.mark_",
    "flows.said_",
    "flows.state_",
    "people.role_",
    "people.may_",
    "me.kind_",
    "door.",
    "hand.q_",
    "hand.band_",
    "turns.done_",
    "charts.days_",
    "turns.why_",
    "turns.state_",
    "turns.word_",
    "equipment.group_",
    "work.state_",
    "work.is_",
    "walk.",
    "phone.told_",
}


def sources():
    for path in [*WEB.rglob("*.html"), *WEB.rglob("*.py")]:
        yield path, path.read_text("utf-8")


def test_every_word_that_is_asked_for_is_there():
    words = catalogue.words()
    missing = []
    for path, text in sources():
        for many, key in re.findall(r"""\bt(\.many)?\(\s*['"]([a-z]+\.[a-z_0-9]+)['"]\s*[,)]""", text):
            wanted = (f"{key}_one", f"{key}_other") if many else (key,)
            missing += [(path.name, one) for one in wanted if one not in words]
    assert not missing


def test_every_word_that_is_there_is_asked_for():
    asked = {key for _, text in sources() for key in re.findall(r"""['"]([a-z]+\.[a-z_0-9]+)['"]""", text)}
    unused = [
        key
        for key in catalogue.words()
        if key not in asked
        and re.sub(r"_(one|other)$", "", key) not in asked
        and not any(key.startswith(start) for start in BUILT)
    ]
    assert not unused


def test_a_missing_word_is_a_fault_and_an_unknown_language_is_english():
    with pytest.raises(KeyError):
        catalogue.Words()("now.no_such_word")
    assert catalogue.Words("xx")("nav.now") == "now"
    assert catalogue.INVENTED in catalogue.languages()


class Text(html.parser.HTMLParser):
    """What a page says: its text, and the attributes that are read aloud."""

    def __init__(self):
        super().__init__()
        self.said, self.stack = [], []

    def handle_starttag(self, tag, attrs):
        if tag not in ("input", "br", "meta", "link", "path", "rect", "circle"):
            self.stack.append(tag)
        self.said += [
            value
            for name, value in attrs
            if name in ("aria-label", "placeholder", "data-label", "title") and value
        ]

    def handle_endtag(self, tag):
        while self.stack and self.stack.pop() != tag:
            pass

    def handle_data(self, data):
        if not {"script", "style"} & set(self.stack):
            self.said.append(data)


def unmarked(page):
    """Words of ours that stand outside the marks."""
    reader = Text()
    reader.feed(page)
    bare = "\n".join(reader.said)
    while "⟦" in bare and (less := re.sub(r"⟦[^⟦⟧]*⟧", " ", bare)) != bare:
        bare = less  # a gap may hold words of its own
    return bare


OURS = [
    re.sub(r"\{[^}]*\}", "", text).strip(" .,;:()")
    for key, text in catalogue.words().items()
    if not key.startswith(("kind.", "time."))
]
TERMS = {"time in hand"}  # words of the glossary that answers use as well
LONG = [text for text in OURS if len(text.split()) >= 3 and text not in TERMS]


@pytest.mark.parametrize("address", PAGES)
def test_in_the_invented_language_no_sheet_shows_a_sentence_of_ours_unmarked(demo, monkeypatch, address):
    monkeypatch.setattr(desk.Desk, "language", lambda _: catalogue.INVENTED)
    page = demo.get(filled(address, demo)).text
    assert "⟦" in page
    bare = unmarked(page)
    assert not [text for text in LONG if text in bare]


def test_the_first_page_and_the_faults_are_in_the_hall_s_language_too(nowhere, monkeypatch):
    monkeypatch.setattr(desk.Desk, "language", lambda _: catalogue.INVENTED)
    for address in ("/", "/nothing"):
        bare = unmarked(nowhere.get(address).text)
        assert not [text for text in LONG if text in bare]


def test_templates_hold_no_english_of_their_own():
    """Text between tags of a template is a gap or nothing: letters there are words from nowhere."""
    found = []
    for path in WEB.rglob("*.html"):
        text = re.sub(r"\{#.*?#\}", "", path.read_text("utf-8"), flags=re.DOTALL)
        text = re.sub(r"\{%.*?%\}|\{\{.*?\}\}", "", text, flags=re.DOTALL)
        text = re.sub(r"<[^>]*>", "\n", text)
        found += [
            (path.name, line.strip())
            for line in text.splitlines()
            if re.search(r"[A-Za-z]{2,}", line) and '="' not in line
        ]
    assert found == [("first.html", "brinehouse demo")]  # a command, the same in every language


def test_the_look_for_english_bites():
    assert unmarked("<p>⟦now⟧ What the water holds</p>").strip() == "What the water holds"

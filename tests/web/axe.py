"""What is wrong with a page for those who cannot see, point or wait as others do.

``check`` runs axe-core and our own look at what axe leaves to people: how large a target is, whether the
page fits a narrow phone, whether focus shows and is not covered, whether a box stands out, and whether values
can be read in poor light. One browser serves many pages.

``python tests/web/axe.py URL [URL ...]``
"""

import dataclasses
import functools
import pathlib
import sys

import shots

AXE = pathlib.Path(__file__).parents[1] / "vendor" / "axe.min.js"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
VIEWPORTS = ((390, 844), (1366, 900))
SCHEMES = ("light", "dark")
NARROWEST = 320  # CSS px: WCAG 2.2, 1.4.10
LOOKS = pathlib.Path(__file__).parent / "looks"
OWN = (
    "brine-title",
    "brine-target",
    "brine-input",
    "brine-box",
    "brine-drawn-text",
    "brine-value",
    "brine-reflow",
    "brine-focus",
    "brine-covered",
    "brine-script",
    "brine-answer",
)


@dataclasses.dataclass(frozen=True)
class Fault:
    """One thing wrong: where, which check, on what, and why."""

    url: str
    at: str
    id: str
    node: str
    message: str

    def __str__(self):
        return f"{self.url} [{self.at}] {self.id}: {self.message}\n    {self.node}"


SIDEWAYS = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
START = "() => { document.activeElement?.blur?.(); scrollTo(0, 0); getSelection().removeAllRanges(); }"


def _script(*names):
    """One function out of files of ``looks``."""
    return "() => {" + "".join((LOOKS / f"{name}.js").read_text("utf-8") for name in names) + "}"


STILL = _script("common", "still")
WALK = _script("common", "walk")
WIDEST = _script("widest")


@functools.cache
def _axe():
    return AXE.read_text("utf-8")


def check(pages, viewports=VIEWPORTS, schemes=SCHEMES, forced=False, allow=()):
    """Every fault on every page, size and scheme.

    ``pages`` is a URL, several URLs, or an open Playwright page (looked at as it stands, once). ``allow``
    names checks that a test leaves to another one. A page that does not load, or whose scripts fail, is a
    fault too.
    """
    if hasattr(pages, "evaluate"):
        size = pages.viewport_size
        return [f for f in look(pages, f"{size['width']}x{size['height']}") if f.id not in allow]
    urls = [pages] if isinstance(pages, str) else list(pages)
    found = []
    with shots.browser() as opened:
        for scheme in schemes:
            for width, height in viewports:
                place = shots.context(opened, width, height, scheme, forced=forced)
                at = f"{width}x{height} {scheme}{' forced' if forced else ''}"
                for url in urls:
                    found += _visit(place, url, at)
                place.close()
    return [fault for fault in found if fault.id not in allow]


def _visit(place, url, at):
    """One page opened by itself, with what its console said."""
    page = place.new_page()
    heard = []
    page.on("pageerror", lambda fault: heard.append(str(fault)))
    page.on("console", lambda line: heard.append(line.text) if line.type == "error" else None)
    try:
        status = _open(page, url)
        if not isinstance(status, int) or status >= 500:
            return [Fault(url, at, "brine-answer", "page", f"answers {status}")]
        found = look(page, at)
        return [Fault(url, at, "brine-script", "console", said) for said in _own(heard, status)] + found
    finally:
        page.close()


def _open(page, url):
    """The status a page answers with, or why it did not come."""
    from playwright import sync_api

    try:
        answer = page.goto(url, wait_until="load", timeout=20_000)
    except sync_api.Error as fault:
        return str(fault).splitlines()[0]
    return answer.status if answer else 200


def _own(heard, status):
    """What the console said, without its echo of a page that is meant to answer 4xx."""
    return [said for said in heard if not (400 <= status < 500 and f"status of {status}" in said)]


def look(page, at):
    """Faults of one page as it stands: axe, then our own."""
    url = page.url
    page.evaluate("document.fonts.ready.then(() => true)")
    page.evaluate(_axe())  # evaluated, not added as a script, so the page's own content policy stays in force
    result = page.evaluate(
        "tags => axe.run(document, { runOnly: { type: 'tag', values: tags }, resultTypes: ['violations'] })",
        TAGS,
    )
    found = [
        Fault(url, at, rule["id"], " ".join(map(str, node["target"])), f"{rule['help']}: {_why(node)}")
        for rule in result["violations"]
        for node in rule["nodes"]
    ]
    found += [Fault(url, at, *row) for row in page.evaluate(STILL)]
    found += [Fault(url, at, *row) for row in _reflow(page)]
    found += [Fault(url, at, *row) for row in _walk(page)]
    return found


def _why(node):
    lines = [line.strip() for line in (node.get("failureSummary") or "").splitlines()[1:]]
    return "; ".join(line for line in lines if line)


def _reflow(page):
    size = page.viewport_size
    page.set_viewport_size({"width": NARROWEST, "height": 640})
    over = page.evaluate(SIDEWAYS)
    rows = (
        [("brine-reflow", page.evaluate(WIDEST), f"{over} px stand out sideways at {NARROWEST} px")]
        if over > 1
        else []
    )
    page.set_viewport_size(size)
    return rows


def _walk(page):
    """From stop to stop as by keyboard: focus must show, and nothing may cover it."""
    page.evaluate(START)
    page.keyboard.press("Tab")
    return page.evaluate(WALK)


if __name__ == "__main__":
    faults = check(sys.argv[1:])
    for one in faults:
        print(one)
    print(f"{len(faults)} faults")
    sys.exit(1 if faults else 0)

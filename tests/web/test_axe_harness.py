"""The harness that looks at pages must itself bite: each check finds the fault planted for it."""

import axe
import gallery
import pytest
import shots

pytestmark = pytest.mark.part("chromium")


@pytest.fixture(scope="module", autouse=True)
def one_browser():
    """Starting Chromium costs more than most of these tests."""
    with shots.shared():
        yield


GOOD = """<!doctype html><html lang="en"><head><title>A good page</title>
<meta name="viewport" content="width=device-width">
<link rel="icon" href="data:,"></head><body><main><h1>A good page</h1>
<p>Words with <a href="#x">a link</a> in them.</p><label for="a">Value</label>
<input id="a" class="box"><button class="large">Keep it</button>
<p class="figure"><span class="number">104.7</span></p>
<svg width="120" height="40" role="img" aria-label="scale"><text x="0" y="20" font-size="13">0 m</text></svg>
</main></body></html>"""
STYLE = """<style>%s .box{font-size:16px;min-height:48px;border:1px solid #555}
.large{min-height:48px;min-width:60px}
:focus-visible{outline:3px solid #000}</style></head>"""


DOT = "data:image/gif;base64,R0lGODlhAQABAAAAACw="


def planted(old="", new="", style=""):
    page = GOOD.replace("</head>", STYLE % style)
    assert not old or old in page
    return page.replace(old, new, 1) if old else page


FAULTS = {
    "brine-title": planted("<title>A good page</title>", "<title> </title>"),
    "brine-target": planted('class="large"', "", "button{width:40px;height:40px;padding:0;font-size:8px}"),
    "brine-input": planted("font-size:16px", "font-size:15px"),
    "brine-box": planted("1px solid #555", "1px solid #ccc"),
    "brine-drawn-text": planted('font-size="13"', 'font-size="11"'),
    "brine-value": planted(style=".number{color:#666}"),
    "brine-reflow": planted('class="figure"', 'class="figure" style="width:360px"'),
    "brine-focus": planted(":focus-visible{outline:3px solid #000}", "*:focus{outline:none}"),
    "brine-covered": planted(
        "<main>", '<div style="position:fixed;inset:0;background:#fff0;z-index:9"></div><main>'
    ),
    "brine-script": planted("</main>", "</main><script>throw new Error('broken')</script>"),
    "image-alt": planted("<main>", f'<main><img src="{DOT}" width="9" height="9">'),
    "label": planted('<label for="a">Value</label>', ""),
    "html-has-lang": planted(' lang="en"', ""),
    "color-contrast": planted(style="h1{color:#aaa}"),
}  # fmt: skip


@pytest.fixture(scope="module")
def seen():
    """Faults of every planted page and of the good one, found in one browser."""
    found = {}
    with shots.browser() as opened:
        place = shots.context(opened, 390, 844, "light")
        for name, body in {"good": planted(), **FAULTS}.items():
            page = place.new_page()
            heard = []
            page.on("pageerror", lambda fault, heard=heard: heard.append(str(fault)))
            page.set_content(body)
            found[name] = {fault.id: fault for fault in axe.check(page)}
            if heard:
                found[name]["brine-script"] = heard
            page.close()
        place.close()
    return found


def test_a_good_page_has_no_fault(seen):
    assert not seen["good"], "\n".join(map(str, seen["good"].values()))


@pytest.mark.parametrize("check", FAULTS)
def test_a_planted_fault_is_found_by_its_own_check(seen, check):
    assert check in seen[check]


def test_every_check_of_our_own_has_a_planted_fault():
    assert set(axe.OWN) - set(FAULTS) == {"brine-answer"}


def test_a_page_whose_script_fails_and_one_that_breaks_are_told():
    pages = {"broken": FAULTS["brine-script"], "good": planted()}
    with gallery.served(pages, broken={"breaks": 500}, policy=False) as at:
        found = axe.check(
            [f"{at}/broken", f"{at}/breaks", f"{at}/good"], viewports=((390, 844),), schemes=("light",)
        )
    assert [(fault.url.rsplit("/", 1)[1], fault.id) for fault in found] == [
        ("broken", "brine-script"),
        ("breaks", "brine-answer"),
    ]


def test_a_style_in_the_page_is_stopped_by_the_policy_and_told():
    with gallery.served({"styled": planted()}) as at:
        found = axe.check(f"{at}/styled", viewports=((390, 844),), schemes=("light",))
    assert any(fault.id == "brine-script" and "Content Security Policy" in fault.message for fault in found)

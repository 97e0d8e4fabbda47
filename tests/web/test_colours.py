"""Every pair of colours that stand side by side, by day and by night (WCAG 2.2, relative luminance)."""

import re

import pytest

from brinehouse.web import files

CSS = (files.folder() / "sheet.css").read_text("utf-8")
TEXT, VALUE, LINE = 4.5, 7.0, 3.0
PAIRS = [
    *(("ink", ground, VALUE) for ground in ("paper", "sheet", "water", "gas-tint")),
    *(("soft", ground, TEXT) for ground in ("paper", "sheet")),
    *((mark, "sheet", TEXT) for mark in ("watch", "act", "gas")),
    *((mark, ground, LINE) for mark in ("watch", "act") for ground in ("water", "gas-tint")),
    *((line, "sheet", LINE) for line in ("water-line", "fresh-line", "gas", "soft", "ink")),
    *(
        (line, ground, LINE)
        for line in ("gas", "water-line", "ink", "soft")
        for ground in ("water", "gas-tint")
    ),
    ("sheet", "ink", VALUE),
]


def schemes(css):
    """The properties of the day, of the night by the reader's own choice, and of the night by the page's."""
    blocks = re.findall(r"(:root[^{]*)\{\s*color-scheme: (light|dark);(.*?)\}", css, re.DOTALL)
    found = {}
    for selector, scheme, body in blocks[:3]:
        found[f"{scheme} {selector.strip()}"] = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", body))
    return found


def light(colour):
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def ratio(one, other):
    low, high = sorted((light(one), light(other)))
    return (high + 0.05) / (low + 0.05)


def weak(css):
    return [
        (name, top, ground, round(got, 2))
        for name, colours in schemes(css).items()
        for top, ground, least in PAIRS
        if (got := ratio(colours[top], colours[ground])) < least
    ]


def test_the_ratio_is_that_of_the_standard():
    assert ratio("#ffffff", "#000000") == pytest.approx(21.0)  # WCAG 2.2, definition of contrast ratio
    assert ratio("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)  # the grey that just passes on white


def test_three_schemes_are_looked_at_and_both_nights_are_one():
    found = schemes(CSS)
    assert len(found) == 3
    day, *nights = found.values()
    assert nights[0] == nights[1]
    assert day != nights[0]


def test_every_pair_of_colours_can_be_told_apart():
    assert weak(CSS) == []


def test_a_paler_watch_colour_is_found():
    assert ("watch", "sheet") in {row[1:3] for row in weak(CSS.replace("#96670f", "#c69a3f"))}

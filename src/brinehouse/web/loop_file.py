"""A loop profile as a file by itself: an SVG with its colours and letters in it, fit for print."""

from __future__ import annotations

import base64
import functools
import re

from markupsafe import Markup

from brinehouse.web import files, loop_drawing, loop_layout, loop_sheet, loop_words, svg
from brinehouse.workbench import loop

MARGIN = 28.0
FACES = (("B612", 400, "b612-regular"), ("B612", 700, "b612-bold"), ("Brine Serif", 600, "serif-semibold"))
_DROPPED = re.compile(r' (?:tabindex|role|aria-label|data-row)="[^"]*"')
_SIZE = re.compile(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"')


@functools.cache
def style() -> str:
    """The rules of the drawing with the colours of the day written out."""
    sheet = (files.folder() / "sheet.css").read_text("utf-8")
    block = re.search(r":root \{(.*?)\}", sheet, re.DOTALL)
    colours = dict(re.findall(r"--([a-z-]+): ([^;]+);", block[1] if block else ""))
    faces = "".join(_face(*one) for one in FACES)
    rules = faces + (files.folder() / "loop.css").read_text("utf-8").split("/* in the page only */")[0]
    return re.sub(r"var\(--([a-z-]+)\)", lambda found: colours.get(found[1], "black"), rules)


def _face(family: str, weight: int, name: str) -> str:
    """A letter inside the file itself, so that every machine draws it with the widths it was laid out for."""
    body = base64.b64encode((files.folder() / "fonts" / f"{name}.woff2").read_bytes()).decode("ascii")
    source = f"url(data:font/woff2;base64,{body}) format('woff2')"
    return f"@font-face {{ font-family: '{family}'; font-weight: {weight}; src: {source}; }}\n"


def drawing(one: loop.System, say: loop_words.Say, hall: str, as_of: str) -> str:
    """The whole file: sentence, picture, key, what it rests on."""
    inner = str(loop_drawing.picture(one.profile, say, "wide", name="p", then=one.then))
    found = _SIZE.search(inner)
    wide, high = (float(found[1]), float(found[2])) if found else (loop_layout.WIDTH["wide"], 0.0)
    drawn = _DROPPED.sub("", inner).replace(
        "<svg ", f'<svg x="{MARGIN:g}" y="64" width="{wide:g}" height="{high:g}" ', 1
    )
    width, key_at = wide + 2 * MARGIN, 64.0 + high + 26.0
    key, key_high = _key(say, wide, then=one.then is not None)
    height = key_at + key_high + 44.0
    title = loop_sheet.title(one, say.t, say)
    foot = say.t("loop.file_foot", hall=hall, as_of=as_of)
    body = [
        svg.tag("title", title),
        Markup(f"<style>{style()}</style>"),  # noqa: S704  # our own style sheet
        svg.tag("rect", x=0, y=0, width=width, height=height, class_="l-paper"),
        svg.tag("rect", x=6, y=6, width=width - 12, height=height - 12, class_="l-frame"),
        svg.tag("text", title[:1].upper() + title[1:], x=MARGIN, y=38, class_="l-title"),
        Markup(drawn),  # noqa: S704  # drawn by us
        svg.tag("g", *key, transform=f"translate({MARGIN:g} {key_at:g})"),
        svg.tag("text", foot, x=MARGIN, y=height - 20, class_="l-foot"),
    ]
    return (
        str(
            svg.tag(
                "svg",
                *body,
                xmlns="http://www.w3.org/2000/svg",
                viewBox=f"0 0 {width:g} {height:g}",
                width=f"{width:g}",
                height=f"{height:g}",
                class_="loop file",
            )
        )
        + "\n"
    )


def _key(say: loop_words.Say, wide: float, *, then: bool) -> tuple[list[Markup], float]:
    """The key in rows under the picture, and how high it is."""
    made: list[Markup] = []
    x, y = 0.0, 0.0
    for drawn, words in [*loop_sheet.key_rows(say), *(loop_sheet.then_rows(say) if then else ())]:
        needed = 38.0 + loop_layout.text_width(words) + 24.0
        if x and x + needed > wide:
            x, y = 0.0, y + 22.0
        made.append(svg.tag("g", drawn, transform=f"translate({x:g} {y:g})"))
        made.append(svg.tag("text", words, x=x + 36.0, y=y + 11.5))
        x += needed
    return made, y + 16.0

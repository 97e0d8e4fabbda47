"""What a phone keeps of the pages: the files of a round, the digest of the build, worker and icon."""

from __future__ import annotations

import functools
import hashlib
import importlib.resources
import io
import json

from brinehouse import _version
from brinehouse.web import files

SCRIPTS = ("lib/idb.min.js", "judging.js", "queue.js", "phone.js", "round.js")
"""What a round needs, in the order it is run in."""
LIST_SCRIPTS = ("lib/idb.min.js", "queue.js", "phone.js", "phone-list.js")
FONTS = (
    "fonts/b612-regular.woff2",
    "fonts/b612-bold.woff2",
    "fonts/serif-regular.woff2",
    "fonts/serif-semibold.woff2",
)
KEPT = ("sheet.css", "pages.css", "phone.css", "tab.svg", *SCRIPTS, "phone-list.js", *FONTS)
TEMPLATES = ("base.html", "page.html", "phone.html", "phone_round.html")
SIZES = (192, 512)


@functools.cache
def build() -> str:
    """A short digest of everything a phone keeps: it changes when any of it does."""
    inside = importlib.resources.files("brinehouse.web")
    digest = hashlib.sha256(_version.__version__.encode())
    for name in (*KEPT, "phone-worker.js"):
        digest.update(files.digest(name).encode())
    for name in TEMPLATES:
        digest.update(inside.joinpath("templates", name).read_bytes())
    words = inside.joinpath("words")
    for page in sorted(words.iterdir(), key=lambda one: one.name):
        digest.update(page.read_bytes())
    return digest.hexdigest()[:12]


@functools.cache
def worker() -> str:
    """The worker's script, with the files it keeps."""
    script = (files.folder() / "phone-worker.js").read_text("utf-8")
    kept = json.dumps([files.address(name) for name in KEPT])
    return script.replace("__BUILD__", build()).replace("__FILES__", kept)


@functools.cache
def icon(size: int, *, whole: bool) -> bytes:
    """The hall's mark as a PNG: a vessel with its level and, dashed, its gas line.

    Parameters
    ----------
    size : int
        Edge in pixels.
    whole : bool
        Whether the paper reaches the edges, so that a phone may cut it to its own shape.
    """
    from PIL import Image, ImageDraw

    fine = 4 * size
    picture = Image.new("RGB", (fine, fine), "#fdfbf6")
    pen = ImageDraw.Draw(picture)
    unit = fine / (46.0 if whole else 32.0)
    shift = (fine - 32.0 * unit) / 2.0

    def at(x: float, y: float) -> tuple[float, float]:
        return shift + x * unit, shift + y * unit

    pen.rectangle([at(7, 14), at(25, 26)], fill="#dfe9ea")
    wide = round(2.5 * unit)
    pen.line([at(7, 6), at(7, 26), at(25, 26), at(25, 6)], fill="#1c2b33", width=wide, joint="curve")
    for start in (9.0, 14.5, 20.0):
        pen.line([at(start, 14), at(start + 3.5, 14)], fill="#7a4a8a", width=wide)
    out = io.BytesIO()
    picture.resize((size, size), Image.Resampling.LANCZOS).save(out, "PNG", optimize=True)
    return out.getvalue()

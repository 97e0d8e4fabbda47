"""Pictures of pages for looking at: phone and desktop, light and dark, and A4 pages.

``python tests/web/shots.py FOLDER URL [URL ...]``
"""

import contextlib
import os
import pathlib
import re
import sys

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
]
VIEWPORTS = ((390, 844), (1366, 900))


_running = []


@contextlib.contextmanager
def shared():
    """While it lasts, whoever asks for a browser gets this one."""
    with browser() as opened:
        _running.append(opened)
        try:
            yield opened
        finally:
            _running.remove(opened)


@contextlib.contextmanager
def browser():
    """One Chromium for as long as it is needed; the one that is shared, where one is."""
    from playwright import sync_api

    if _running:
        yield _running[-1]
        return
    with sync_api.sync_playwright() as play:
        opened = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS, headless=True)
        try:
            yield opened
        finally:
            opened.close()


def context(opened, width, height, scheme, *, forced=False, scale=1):
    """A browser context of one size; narrow ones are phones."""
    return opened.new_context(
        viewport={"width": width, "height": height},
        color_scheme=scheme,
        reduced_motion="reduce",
        device_scale_factor=scale,
        forced_colors="active" if forced else "none",
        has_touch=width < 700,
        is_mobile=width < 700,
    )


def name(url):
    """A file name out of an address."""
    return re.sub(r"[^A-Za-z0-9]+", "-", re.sub(r"^[a-z]+://[^/]*", "", url)).strip("-") or "page"


def shoot(
    urls, folder, viewports=VIEWPORTS, schemes=("light", "dark"), print_pdf=True, forced=False, whole=True
):
    """PNG pictures of every page, size and scheme, and one A4 PDF a page; gives the files made."""
    folder = pathlib.Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    with browser() as opened:
        for scheme in schemes:
            for width, height in viewports:
                place = context(opened, width, height, scheme, forced=forced)
                page = place.new_page()
                for url in urls:
                    page.goto(url)
                    page.evaluate("document.fonts.ready.then(() => true)")
                    made.append(folder / f"{name(url)}-{width}-{scheme}{'-forced' if forced else ''}.png")
                    page.screenshot(path=made[-1], full_page=whole)
                place.close()
        if print_pdf:
            page = opened.new_page()
            for url in urls:
                page.goto(url)
                page.evaluate("document.fonts.ready.then(() => true)")
                made.append(folder / f"{name(url)}.pdf")
                page.pdf(path=made[-1], prefer_css_page_size=True, print_background=True, format="A4")
            page.close()
    return made


if __name__ == "__main__":
    for one in shoot(sys.argv[2:], sys.argv[1]):
        print(one)

"""Every part of a sheet, on a phone and a desktop, by day and by night, in forced colours and on paper."""

import io

import axe
import gallery
import pypdf
import pytest
import shots

pytestmark = pytest.mark.part("chromium")


@pytest.fixture(scope="module", autouse=True)
def one_browser():
    """Starting Chromium costs more than most of these tests."""
    with shots.shared():
        yield


@pytest.fixture(scope="module")
def at():
    with gallery.served(gallery.pages()) as address:
        yield address


def test_no_part_of_a_sheet_shuts_anyone_out(at):
    found = axe.check([f"{at}/{name}" for name in gallery.pages()])
    assert not found, "\n".join(map(str, found))


def test_forced_colours_keep_every_part_legible(at):
    found = axe.check(
        [f"{at}/{name}" for name in gallery.pages()], viewports=((390, 844),), schemes=("dark",), forced=True
    )
    assert not found, "\n".join(map(str, found))


def test_at_twice_the_text_size_nothing_stands_out_sideways(at):
    with shots.browser() as opened:
        place = shots.context(opened, 640, 900, "light")
        page = place.new_page()
        for name in gallery.pages():
            page.goto(f"{at}/{name}")
            page.evaluate("document.documentElement.style.fontSize = '200%'")
            assert page.evaluate(axe.SIDEWAYS) <= 1, page.evaluate(axe.WIDEST)
        place.close()


def test_a_printed_sheet_carries_its_title_block_on_every_page_and_no_navigation(at):
    with shots.browser() as opened:
        page = opened.new_page()
        page.goto(f"{at}/gas")
        paper = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True, print_background=True)))
        page.close()
    assert len(paper.pages) > 1
    for number, sheet in enumerate(paper.pages, 1):
        text = " ".join(sheet.extract_text().split())
        assert "M. Orde, keeper" in text
        assert "2026-03-14/1" in text
        assert f"{number} / {len(paper.pages)}" in text
        assert "time in hand" not in text
        width, height = (float(side) / 72 * 25.4 for side in sheet.mediabox[2:])
        assert (round(width), round(height)) == (210, 297)

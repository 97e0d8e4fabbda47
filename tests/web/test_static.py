"""What the pages carry: files of others held to their sums, letters and first load to their weight."""

import gzip
import hashlib
import pathlib
import re
import shutil
import tomllib

import gallery
import pytest

from brinehouse.web import catalogue, files

VENDOR = pathlib.Path(__file__).parents[1] / "vendor"
ELK = files.folder().parent / "elk"
LISTS = {"pages": (files.folder() / "lib", files.folder()), "tests": (VENDOR, VENDOR), "layout": (ELK, ELK)}
OURS = {"VENDORED.toml"}


def unlike(where, root):
    """Files that are not what their list says, or stand in no list."""
    listed = tomllib.loads((where / "VENDORED.toml").read_text("utf-8"))["file"]
    wrong = [
        row["path"]
        for row in listed
        if not (root / row["path"]).is_file()
        or hashlib.sha256((root / row["path"]).read_bytes()).hexdigest() != row["sha256"]
        or not (where / row["licence_text"]).is_file()
    ]
    named = {row["path"] for row in listed}
    folders = [where, *([root / "fonts"] if (root / "fonts").is_dir() else [])]
    held = {
        str(path.relative_to(root))
        for folder in folders
        for path in folder.iterdir()
        if path.suffix in {".js", ".css", ".woff2"}
    }
    return wrong + sorted(held - named)


@pytest.mark.parametrize("name", LISTS)
def test_each_file_of_others_is_the_one_its_list_names(name):
    assert unlike(*LISTS[name]) == []


def test_a_changed_a_missing_and_an_unlisted_file_are_found(tmp_path):
    root = tmp_path / "static"
    shutil.copytree(files.folder(), root)
    (root / "lib" / "htmx.min.js").write_text("changed")
    (root / "fonts" / "b612-bold.woff2").unlink()
    (root / "lib" / "stranger.js").write_text("who put this here")
    assert unlike(root / "lib", root) == ["lib/htmx.min.js", "fonts/b612-bold.woff2", "lib/stranger.js"]


def test_each_font_is_asked_for_by_the_digest_it_has():
    asked = re.findall(r'url\("(fonts/[^"?]+)\?v=([0-9a-f]+)"\)', (files.folder() / "sheet.css").read_text())
    assert len(asked) == 4
    assert all(files.digest(name) == digest for name, digest in asked)


def test_all_letters_weigh_at_most_80_kilobytes():
    assert sum(path.stat().st_size for path in (files.folder() / "fonts").iterdir()) <= 80 * 1024


def test_the_first_load_without_letters_weighs_at_most_100_kilobytes():
    css = len(gzip.compress((files.folder() / "sheet.css").read_bytes()))
    scripts = sum(
        len(gzip.compress((files.folder() / "lib" / name).read_bytes()))
        for name in ("htmx.min.js", "uPlot.iife.min.js")
    )
    heaviest = max(len(gzip.compress(page.encode())) for page in gallery.pages().values())
    assert css + scripts + heaviest <= 100 * 1024


def test_a_sheet_brings_no_style_or_script_of_its_own_and_asks_nobody_else_for_anything():
    for page in gallery.pages().values():
        assert not re.search(r"\sstyle=|<style|\son[a-z]+=", page)
        assert not re.search(r"<script(?![^>]*\ssrc=)", page)
        assert not re.search(r"""(?:src|href)=["'](?:https?:)?//""", page)


def test_every_word_of_the_parts_is_in_the_catalogue():
    folder = files.folder().parent / "templates"
    keys = {
        key
        for page in [folder / "base.html", *(folder / "parts").iterdir()]
        for key in re.findall(r"\bt\('([a-z_]+\.[a-z_]+)'", page.read_text("utf-8"))
        if not key.endswith("_")
    }
    keys |= {f"part.level_{level}" for level in ("watch", "act", "ask", "stop")}
    assert keys <= set(catalogue.words("en"))


def test_the_parts_speak_only_through_the_catalogue():
    bare = re.sub(r"<[^>]+>", "\n", gallery.pages("xb")["form"])
    ours = ("For example", "needed", "newer", "older", "refused", "invented", "Try:", "choose", "as of")
    lines = [line for line in bare.splitlines() for word in ours if word in line]
    assert lines
    assert all("⟦" in line for line in lines)

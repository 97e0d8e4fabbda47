"""The manual: reference pages are up to date, links lead somewhere, commands in the README exist."""

import pathlib
import re
import subprocess
import sys

import pytest

ROOT = pathlib.Path(__file__).parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]


def broken(page, text):
    """Relative links of a page that lead nowhere."""
    targets = re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text)
    return [one for one in targets if not re.match(r"[a-z]+:", one) and not (page.parent / one).exists()]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_leads_somewhere(page):
    assert broken(page, page.read_text("utf-8")) == []


def test_a_broken_link_is_seen():
    assert broken(ROOT / "README.md", "see [it](docs/nowhere.md) and [that](docs/contributing.md)") == [
        "docs/nowhere.md"
    ]


def test_reference_pages_are_made_from_the_code_as_it_is():
    result = subprocess.run(
        [sys.executable, ROOT / "docs" / "generate.py", "--check"], capture_output=True, text=True, cwd=ROOT
    )
    assert result.returncode == 0, f"run: python docs/generate.py ({result.stdout}{result.stderr[-500:]})"


def test_every_verb_named_in_the_manual_exists():
    from brinehouse.cli import running

    for page in PAGES:
        for verb in re.findall(
            r"^\s+(?:\.venv/bin/)?brinehouse ([a-z]+)", page.read_text("utf-8"), re.MULTILINE
        ):
            assert verb in running.VERBS, f"{page.name}: brinehouse {verb}"


def test_every_make_target_named_in_the_manual_exists():
    made = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE))
    for page in PAGES:
        shown = re.findall(r"^ {4}make ([a-z]+)\b", page.read_text("utf-8"), re.MULTILINE)
        assert set(shown) <= made, page.name


def test_every_public_name_of_science_is_in_the_manual():
    import importlib
    import inspect
    import pkgutil

    import brinehouse.science

    page = (ROOT / "docs" / "reference" / "science.md").read_text("utf-8")
    for found in pkgutil.iter_modules(brinehouse.science.__path__):
        module = importlib.import_module(f"brinehouse.science.{found.name}")
        for name, thing in vars(module).items():
            if inspect.isfunction(thing) and thing.__module__ == module.__name__ and not name.startswith("_"):
                assert f"### `{name}(" in page, f"{found.name}.{name}"

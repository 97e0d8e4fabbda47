"""Finding codes are permanent, listed with a meaning, and each one is met in a test."""

import pathlib
import re

from brinehouse import findings

ROOT = pathlib.Path(__file__).parents[2]
QUOTED = re.compile(r"""["']([a-z][a-z-]+/[a-z0-9][a-z0-9-]*)["']""")


def used(folder):
    """Quoted ``family/name`` texts whose family has a page of codes, with the file each stands in."""
    families = {code.split("/")[0] for code in findings.codes()}
    found = {}
    for path in sorted(folder.rglob("*.py")):
        for code in QUOTED.findall(path.read_text("utf-8")):
            if code.split("/")[0] in families:
                found.setdefault(code, path)
    return found


def test_every_code_in_the_source_has_a_meaning():
    missing = {code: str(path) for code, path in used(ROOT / "src").items() if code not in findings.codes()}
    assert missing == {}


def test_every_meaning_belongs_to_a_code_in_the_source():
    assert sorted(set(findings.codes()) - set(used(ROOT / "src"))) == []


def test_every_code_is_met_in_a_test():
    met = set()
    for path in (ROOT / "tests").rglob("*.py"):
        met |= set(re.findall(r"[a-z][a-z-]+/[a-z0-9][a-z0-9-]*", path.read_text("utf-8")))
    assert sorted(set(findings.codes()) - met) == []


def test_meanings_are_sentences():
    for code, meaning in findings.codes().items():
        assert meaning[0].isupper(), code
        assert meaning.endswith("."), code

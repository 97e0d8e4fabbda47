"""A phone without a signal judges as the hall does, word for word."""

import json
import pathlib

import pytest
import quickjs

from brinehouse.web import files

TABLE = json.loads(pathlib.Path(__file__).parents[1].joinpath("data/judging_cases.json").read_text("utf-8"))
SCRIPT = (files.folder() / "judging.js").read_text("utf-8")


def wrong(script):
    """The cases that a script answers otherwise than the table."""
    engine = quickjs.Context()
    engine.eval(script)
    engine.eval("var said = (ask, text, unit) => JSON.stringify("
                "brine.judging.judge(JSON.parse(ask), text, unit));")  # fmt: skip
    judge = engine.get("said")
    found = []
    for case in TABLE["cases"]:
        said = json.loads(judge(json.dumps(TABLE["asks"][case["ask"]]), case["text"], case["unit"]))
        if rounded(said) != rounded(case["says"]):
            found.append(case["name"])
    return found


def rounded(says):
    told = json.loads(json.dumps(says))
    for one in (told, told["slip"] or {}):
        if one.get("value") is not None:
            one["value"] = round(float(one["value"]), 9)
    return told


def test_the_phone_answers_every_case_as_the_hall_does():
    assert wrong(SCRIPT) == []


@pytest.mark.parametrize(
    ("right", "planted", "missed"),
    [
        (
            '? "-" : ""}${entry[3]}${entry[4] ? `.${entry[4]}` : ""}',
            '? "-" : ""}${entry[3]}',
            "a decimal comma",
        ),
        ("if (!far(ask, value)) return null;", "return null;", "the decimal sign was forgotten"),
        ("value < least", "value < low", ""),
        ("+ 1e-9", "* 9", ""),
    ],
    ids=["the part behind the sign lost", "no slips", "impossible and unexpected mixed up", "slips too wide"],
)
def test_a_phone_that_judges_otherwise_is_found_out(right, planted, missed):
    assert SCRIPT.count(right) == 1
    found = wrong(SCRIPT.replace(right, planted))
    assert found
    assert not missed or any(name.startswith(missed) for name in found)

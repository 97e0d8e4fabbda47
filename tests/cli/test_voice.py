"""How the terminal speaks: aligned, honest about intervals, and never driven by what was typed."""

import json

import pytest

from brinehouse import answers, findings
from brinehouse.cli import voice


@pytest.mark.parametrize("sign", ["\x1b[31m", "\x07", "\r", "\u202e", "\u200f", "\x9b2J", "\u2066"])
def test_signs_that_drive_a_terminal_are_shown_instead(capsys, sign):
    voice.say(f"a{sign}b")
    out = capsys.readouterr().out
    assert not any(one in out for one in sign if one not in "[31m2J")
    assert out.startswith("a\\")


def test_the_fields_own_signs_stay():
    assert voice.plain("ΔP 34 mmHg, 25 °C, µmol/kg, ‰, −1") == "ΔP 34 mmHg, 25 °C, µmol/kg, ‰, −1"


def test_json_never_holds_what_json_does_not_know(capsys):
    voice.say_json({"low": float("-inf"), "value": float("nan"), "rows": (1.0, float("inf"))})
    assert json.loads(capsys.readouterr().out) == {"low": None, "value": None, "rows": [1.0, None]}


@pytest.mark.parametrize(
    ("value", "told"),
    [(answers.Value(value=102.94, unit="%", u=0.15), "102.9 ± 0.3"),
     (answers.Value(value=None, unit="%"), "not known"),
     (answers.Value(value=104.0, unit="%", low=103.9, high=105.1), "104.0 (103.9 … 105.1)"),
     (answers.Value(value=104.0, unit="%", low=103.0, high=float("inf")), "104.0 (from 103.0)"),
     (answers.Value(value=-1.5, unit="%"), "−1.5")],
)  # fmt: skip
def test_a_value_is_told_with_how_sure_it_is(value, told):
    assert voice.with_interval(value, 1) == told


def test_many_of_one_kind_are_counted_and_not_poured_out(capsys):
    one = findings.Finding(code="typed/unusual", level=findings.Level.ASK, text="odd")
    voice.show_findings([one] * 130)
    out = capsys.readouterr().out
    assert out.count("[typed/unusual]") == 101
    assert "and 30 more of this kind" in out


def test_a_table_stands_in_line_whatever_is_marked():
    told = voice.table(["tank", "TGP %"], [["◆ pipefish", "104.5"], ["mangrove", "99.7"]], frozenset({1}))
    lines = told.splitlines()
    assert lines[1].startswith("◆ pipefish")
    assert len({line.rstrip()[-1] for line in lines}) >= 1
    assert [line.rindex(end) + len(end) for line, end in zip(lines, ("%", "104.5", "99.7"), strict=True)] == [
        len(line) for line in lines
    ]
    assert len({len(line) for line in lines}) == 1


def test_text_is_filled_to_the_terminal(monkeypatch):
    monkeypatch.setenv("COLUMNS", "70")
    assert max(map(len, voice.paragraph("word " * 60, 2).splitlines())) <= 70
    assert all(line.startswith("  ") for line in voice.hanging("1  ", "word " * 60).splitlines())

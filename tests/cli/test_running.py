"""One command line: every verb answers to its name, and whatever is typed ends in a sentence."""

import io
import json
import os
import socket
import subprocess
import sys

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brinehouse import _version
from brinehouse.cli import running, voice

QUIET = [verb for verb in running.VERBS if verb not in ("serve", "demo")]


@pytest.mark.parametrize("verb", running.VERBS)
def test_every_verb_says_what_it_takes_and_has_json(run, verb):
    said = run(verb, "--help")
    assert said.status == 0
    assert "Usage: brinehouse" in said.out
    parts = {"gas": "investigate", "ask": "settling", "people": "list"}
    whole = said.out + (run(verb, parts[verb], "--help").out if verb in parts else "")
    assert "--json" in whole


def test_help_lists_every_verb_with_a_sentence(run):
    said = run("--help")
    assert said.status == 0
    for verb, (_, text) in running.VERBS.items():
        assert f"  {verb} " in said.out
        assert text.split()[0] in said.out
    assert run().status == 0
    assert run("ask").out.startswith("Usage: brinehouse ask")


def test_the_version_is_the_packages_own(run):
    assert run("--version").out == f"brinehouse {_version.__version__}\n"


@pytest.mark.parametrize(
    ("typed", "meant"), [("raed", "read"), ("chekc", "check"), ("invstigate", "--help"), ("x", "--help")]
)
def test_a_misspelt_verb_gets_the_nearest(run, typed, meant):
    said = run(typed, "somewhere")
    assert said.status == 2
    assert f"'{typed}' is not a verb" in said.err
    assert meant in said.err
    assert "[cli/usage]" in said.err


def test_a_missing_argument_and_an_unknown_option_say_where_help_is(run):
    for arguments in (
        ("read", "mangrove"),
        ("log", "--palce", "x"),
        ("log", "--rows", "many"),
        ("ask", "weather"),
    ):
        said = run(*arguments)
        assert said.status == 2
        assert f"'brinehouse {arguments[0]}" in said.err
        assert "--help' says" in said.err


def test_a_refusal_is_json_where_json_was_asked_for(run, tmp_path):
    said = run("now", tmp_path, "--json")
    assert said.status == 2
    assert said.json["findings"][0]["code"] == "workbench/no-facility"
    assert "brinehouse init" in said.err


def test_a_folder_that_cannot_be_used_is_said(run, tmp_path):
    page = tmp_path / "page"
    page.write_text("x")
    assert run("now", page).status == 2
    five = ("--name", "H", "--altitude", "1 m", "--zone", "UTC", "--tank", "a, 1 m3", "--meter", "m: oxygen")
    assert run("init", *five, page / "inside").status == 2


def test_a_bug_ends_in_a_sentence_and_keeps_its_details(capsys, monkeypatch, tmp_path):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    monkeypatch.setitem(running.VERBS, "now", ("brinehouse.cli.looking:gone", "?"))
    assert running.run(["now"]) == 2
    said = capsys.readouterr()
    assert "Traceback" not in said.out + said.err
    assert "[workbench/unforeseen]" in said.err
    kept = next(tmp_path.glob("brinehouse-*.txt"))
    assert "Traceback" in kept.read_text("utf-8")
    assert kept.stat().st_mode & 0o077 == 0
    assert str(kept) in said.err


def test_stopping_by_hand_is_no_bug(capsys, monkeypatch):
    def stop(**_):
        raise KeyboardInterrupt

    monkeypatch.setattr(running.root, "main", stop)
    assert running.run(["now"]) == 2
    assert capsys.readouterr().err == "stopped\n"


def test_half_a_sign_is_refused_with_a_way_out(capsys):
    assert running.run(["init", "\ud800"]) == 2
    said = capsys.readouterr().err
    assert "cli/not-text" in said
    assert "\\ud800" in said
    assert running.run(["init", "--json", "\ud800"]) == 2
    assert '"cli/not-text"' in capsys.readouterr().out


TYPED = (
    "budget investigate changes settling --json --help --place --at --supersede --withdraw --reason --value "
    "mangrove temperature -1 -- - --input --output --rows --trail 0 no.csv --keep --basis --against --tgp "
    "--since"
)
signs = st.text(st.characters(exclude_characters="\0"), max_size=6)
words = st.sampled_from([*QUIET, *TYPED.split(), "", "25 °C", "104.5 %"]) | signs


lines = st.tuples(st.sampled_from(QUIET), st.lists(words, max_size=6)).map(lambda pair: [pair[0], *pair[1]])
fuzz = settings(
    max_examples=100,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def ends_well(capsys, monkeypatch, arguments):
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    status = running.run(arguments)
    said = capsys.readouterr()
    assert status in (0, 1, 2)
    assert "Traceback" not in said.out + said.err
    assert "workbench/unforeseen" not in said.err, (arguments, said.err)


@given(st.lists(words, max_size=7))
@fuzz
def test_whatever_is_typed_ends_in_a_status_and_never_in_a_traceback(
    capsys, monkeypatch, tmp_path, arguments
):
    monkeypatch.chdir(tmp_path)
    ends_well(capsys, monkeypatch, arguments)


@given(lines)
@fuzz
def test_whatever_is_typed_in_a_hall_ends_so_too(capsys, monkeypatch, hall, arguments):
    monkeypatch.chdir(hall)
    ends_well(capsys, monkeypatch, arguments)


# -- as a process of its own


def process(*arguments, **environment):
    return subprocess.run(
        [sys.executable, "-m", "brinehouse", *map(str, arguments)],
        capture_output=True, text=True, timeout=60, env=os.environ | environment, check=False,
    )  # fmt: skip


def test_the_command_itself_gives_status_text_and_json(hall):
    good = process("check", hall)
    assert (good.returncode, good.stderr) == (0, "")
    assert json.loads(process("check", hall, "--json").stdout)["accepted"]
    (hall / "facility.toml").write_bytes(b"\xff")
    bad = process("check", hall)
    assert bad.returncode == 2
    assert "Traceback" not in bad.stdout + bad.stderr


def test_a_reader_who_leaves_early_is_no_fault():
    line = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {sys.executable} -m brinehouse words | head -1"],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert line.stderr == ""
    assert line.stdout.count("\n") == 1


def test_an_output_that_knows_no_signs_still_gets_its_words(hall):
    assert process("note", "25 °C", hall).returncode == 0
    said = process("log", hall, PYTHONIOENCODING="ascii", PYTHONUTF8="0", LC_ALL="C")
    assert said.returncode == 0, said.stderr
    assert r"25 \xb0C" in said.stdout


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.7", "example.org", "::"])
def test_the_pages_are_never_served_beyond_this_machine(run, hall, host):
    said = run("serve", hall, "--host", host, "--port", "0")
    assert said.status == 2
    assert "serve/loopback-only" in said.err
    assert host in said.err


def test_a_port_that_is_taken_is_said(run, hall):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        said = run("serve", hall, "--port", other.getsockname()[1])
    assert said.status == 2
    assert "serve/port-taken" in said.err
    assert "--port" in said.err


def test_colour_is_only_on_a_terminal_that_wants_it(monkeypatch):
    class Screen(io.StringIO):
        def isatty(self):
            return True

    monkeypatch.setattr("sys.stdout", Screen())
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert voice.marked("act") == "\x1b[31m◆\x1b[0m"
    monkeypatch.setenv("NO_COLOR", "1")
    assert voice.marked("act") == "◆"
    monkeypatch.delenv("NO_COLOR")
    monkeypatch.setattr("sys.stdout", io.StringIO())
    assert voice.marked("act") == "◆"

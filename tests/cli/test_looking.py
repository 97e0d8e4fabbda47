"""What stands: the log with every version, what is not as it should be, and the chain."""

import json
import re
import shutil
import sqlite3
from datetime import UTC, datetime

import pytest

from brinehouse import records
from brinehouse.cli import running
from brinehouse.workbench import hall as halls

FILLED = (
    ("read", "mangrove", "temperature", "25.4 °C", "--by", "Lark", "--at", "2026-03-10 06:40"),
    ("read", "mangrove", "temperature", "25.6 °C", "--by", "Moss", "--at", "2026-03-11 06:40"),
    ("read", "pipefish", "total gas pressure", "104.5 %", "--with", "meter-B", "--at", "2026-03-11 06:50"),
    ("note", "strainer cleaned", "--kind", "event", "--place", "pipefish", "--at", "2026-03-11 08:00"),
)


@pytest.fixture(scope="module")
def written(tmp_path_factory, facility):
    """A hall in which four things were written down, by command; copied for each test."""
    folder = tmp_path_factory.mktemp("written") / "hall"
    folder.mkdir()
    (folder / "facility.toml").write_text(facility, "utf-8")
    assert [running.run([*command, str(folder)]) for command in FILLED] == [0] * len(FILLED)
    return folder


@pytest.fixture
def filled(written, tmp_path):
    return shutil.copytree(written, tmp_path / "filled")


def rows(run, hall, *options):
    said = run("log", hall, *options, "--json")
    assert said.status == 0, said.err
    return said.json["rows"]


def test_the_log_shows_newest_first_with_who_and_with_what(run, filled):
    said = run("log", filled)
    lines = said.out.splitlines()
    assert "strainer cleaned" in lines[1]
    assert "meter-B" in lines[2]
    assert lines[4].startswith("  2026-03-10 06:40  mangrove")
    assert "Lark" in lines[4]


@pytest.mark.parametrize(
    ("options", "texts"),
    [(("--place", "mangrove"), ["25.6 °C", "25.4 °C"]), (("--quantity", "total gas pressure"), ["104.5 %"]),
     (("--instrument", "meter-B"), ["104.5 %"]), (("--kind", "event"), ["strainer cleaned"]),
     (("--kind", "reading", "--until", "2026-03-10"), ["25.4 °C"]), (("--since", "2026-03-12"), []),
     (("--rows", "1"), ["strainer cleaned"])],
)  # fmt: skip
def test_the_log_is_filtered_by_what_was_asked(run, filled, options, texts):
    assert [row["text"] for row in rows(run, filled, *options)] == texts


def test_days_are_those_of_the_hall_and_not_of_greenwich(run, hall):
    assert run("read", "mangrove", "temperature", "25 °C", hall, "--at", "2025-07-02 00:30").status == 0
    assert len(rows(run, hall, "--since", "2025-07-02")) == 1
    assert rows(run, hall, "--until", "2025-07-01") == []


@pytest.mark.parametrize(
    ("options", "way_out"),
    [(("--place", "mangroev"), "'mangrove'"), (("--quantity", "temprature"), "'temperature'"),
     (("--instrument", "meter-C"), "'meter-B'"), (("--kind", "evnt"), "'event'"),
     (("--since", "yesterday"), "2026")],
)  # fmt: skip
def test_a_filter_that_means_nothing_is_said_and_not_an_empty_log(run, filled, options, way_out):
    said = run("log", filled, *options, "--json")
    assert said.status == 2
    assert said.json["findings"][0]["code"] in ("workbench/no-such", "workbench/not-a-time")
    assert way_out in said.json["findings"][0]["hint"]


def test_a_correction_needs_a_reason_and_leaves_the_old_version_to_be_seen(run, filled):
    old = rows(run, filled, "--place", "mangrove")[1]["id"]
    refused = run("log", filled, "--supersede", old[:8], "--value", "25.2 °C")
    assert (refused.status, "workbench/no-reason" in refused.out) == (2, True)
    done = run(
        "log", filled, "--supersede", old[:8], "--value", "25.2 °C", "--reason", "misread", "--by", "Moss"
    )
    assert done.status == 0
    assert [row["text"] for row in rows(run, filled, "--place", "mangrove")] == ["25.6 °C", "25.2 °C"]
    assert len(rows(run, filled, "--place", "mangrove", "--all-versions")) == 3
    versions = run("log", filled, "--trail", old[:8], "--json").json["versions"]
    assert [(one["says"].split()[-2], one["stands"], one["reason"]) for one in versions] == [
        ("25.4", False, ""), ("25.2", True, "misread"),
    ]  # fmt: skip
    assert versions[1]["by"] == "Moss"
    assert "superseded" in run("log", filled, "--trail", versions[1]["id"]).out


@pytest.mark.parametrize(
    ("change", "field", "value"),
    [(("--to-place", "pipefish"), "place", "pipefish"), (("--taken-by", "Wren"), "by", "Wren"),
     (("--at", "2026-03-10 07:10"), "measured", "2026-03-10T07:10:00+00:00")],
)  # fmt: skip
def test_place_person_and_time_are_corrected_too_and_the_text_stays(run, filled, change, field, value):
    old = rows(run, filled, "--place", "mangrove")[1]
    done = run("log", filled, "--supersede", old["id"], *change, "--reason", "wrong", "--json")
    assert (done.status, done.json["findings"]) == (0, [])
    new = next(row for row in rows(run, filled) if row["id"] == done.json["id"])
    assert new[field] == value
    assert {name: new[name] for name in new if name not in ("id", field)} == {
        name: old[name] for name in old if name not in ("id", field)
    }


@pytest.mark.parametrize(
    ("change", "code"),
    [((), "workbench/nothing-changed"), (("--value", "25.4 °C"), "workbench/nothing-changed"),
     (("--value", "33 °C"), "typed/unusual"), (("--to-place", "mangroev"), "typed/unknown-place"),
     (("--at", "2999-01-01 00:00"), "typed/future")],
)  # fmt: skip
def test_a_correction_that_cannot_be_is_refused_and_changes_nothing(run, filled, change, code):
    old = rows(run, filled, "--place", "mangrove")[1]["id"]
    done = run("log", filled, "--supersede", old, *change, "--reason", "so", "--by", "Nobody", "--json")
    assert done.status == 2
    assert [found["code"] for found in done.json["findings"]] == [code]
    assert len(run("log", filled, "--trail", old, "--json").json["versions"]) == 1
    if code == "typed/unusual":
        assert (
            run("log", filled, "--supersede", old, *change, "--keep", "--reason", "chiller off").status == 0
        )


def test_an_entry_can_be_taken_back_and_is_still_in_the_trail(run, filled):
    event = rows(run, filled, "--kind", "event")[0]["id"]
    assert run("log", filled, "--supersede", event, "--withdraw", "--reason", "other tank").status == 0
    assert rows(run, filled, "--kind", "event") == []
    assert len(run("log", filled, "--trail", event, "--json").json["versions"]) == 2


def test_an_id_that_is_not_there_or_fits_several_is_said(run, filled):
    missing = run("log", filled, "--trail", "zz")
    assert (missing.status, "workbench/no-entry" in missing.err) == (2, True)
    with halls.open_hall(filled) as opened:
        at = datetime(2026, 3, 12, tzinfo=UTC)
        opened.write(
            [records.Fact(id=id, kind="note", measured=at, entered=at, note=id) for id in ("zx1", "zx2")]
        )
    several = run("log", filled, "--trail", "zx")
    assert (several.status, "2 entries" in several.err) == (2, True)
    assert run("log", filled, "--trail", "zx2").status == 0


def test_now_names_what_is_crossed_and_then_the_water(run, filled):
    said = run("now", filled, "--json")
    assert said.status in (0, 1)
    assert {line["place"] for line in said.json["water"]} == {"mangrove", "pipefish"}
    assert run("now", filled).out.splitlines()[0].endswith((".", "old."))


def test_a_fresh_reading_over_a_limit_is_an_act_on_the_first_line(run, hall):
    assert run("read", "pipefish", "total gas pressure", "108 %", hall, "--with", "meter-B").status == 0
    said = run("now", hall)
    assert said.status == 1
    assert "as it should be" in said.out.splitlines()[0]
    assert "◆" in said.out
    assert "house rule" in said.out
    codes = {one["code"] for one in run("now", hall, "--json").json["concerns"]}
    assert "limit/crossed" in codes


def test_what_was_not_read_makes_no_empty_columns(run, hall):
    said = run("now", hall)
    assert "mangrove: nothing read in the last 14 days" in said.out
    assert run("read", "mangrove", "temperature", "25.4 °C", hall).status == 0
    said = run("now", hall)
    assert "25.4 °C" in said.out
    assert "salinity" not in said.out


def test_a_quiet_hall_is_told_in_one_sentence(run, hall):
    said = run("now", hall)
    assert (said.status, said.out.splitlines()[0]) == (0, "Nothing is out of order.")
    assert not (hall / "logbook.sqlite").exists()


# -- the chain


def test_a_whole_chain_is_said_to_be_whole_and_its_head_compares(run, filled):
    said = run("verify", filled)
    assert said.status == 0
    head = re.search(r"head (\d+:[0-9a-f]{12})", said.out)[1]
    assert run("note", "later", filled).status == 0
    assert run("verify", filled, "--against", head).status == 0


def test_a_value_changed_behind_the_triggers_is_found(run, filled):
    with sqlite3.connect(filled / "logbook.sqlite") as base:
        for (name,) in base.execute("select name from sqlite_master where type = 'trigger'").fetchall():
            base.execute(f"drop trigger {name}")
        base.execute("update entry set value = 24.0 where text = '25.4 °C'")
    base.close()
    said = run("verify", filled, "--json")
    assert said.status == 1
    assert said.json["findings"]
    assert all(found["code"].startswith("logbook/") for found in said.json["findings"])
    assert run("verify", filled).status == 1


def test_a_shortened_logbook_is_found_against_a_printed_head(run, filled):
    head = run("verify", filled, "--json").json["head"]
    with sqlite3.connect(filled / "logbook.sqlite") as base:
        for (name,) in base.execute("select name from sqlite_master where type = 'trigger'").fetchall():
            base.execute(f"drop trigger {name}")
        base.execute("delete from entry where seq = (select max(seq) from entry)")
    base.close()
    assert run("verify", filled, "--against", head).status == 1


def test_a_head_that_is_none_and_a_logbook_that_is_gone_are_said(run, filled):
    wrong = run("verify", filled, "--against", "yesterday")
    assert (wrong.status, "logbook/not-a-head" in wrong.err) == (2, True)
    head = run("verify", filled, "--json").json["head"]
    for one in filled.glob("logbook.*"):
        one.unlink()
    gone = run("verify", filled, "--against", head, "--json")
    assert (gone.status, gone.json["findings"][0]["code"]) == (1, "workbench/no-logbook")
    assert run("verify", filled).status == 0
    assert not (filled / "logbook.sqlite").exists()
    assert json.loads(run("verify", filled, "--json").out)["head"].startswith("0:")

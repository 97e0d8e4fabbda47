"""The what-ifs a loop is asked, and a keeper's own."""

import dataclasses

import pytest
import small_plant

from brinehouse.engines import gas_sources
from brinehouse.engines.gas_sources import supposing
from brinehouse.facility import reading


def changes(answer):
    return list(dict.fromkeys(row["change"] for row in small_plant.table(answer, "what_ifs")))


def test_the_usual_what_ifs_are_asked_of_every_loop(leaking):
    told = changes(leaking[1])
    for words in ("P-2 stopped", "column taken out", "packed column added on supply of the low tank",
                  "contactor under vacuum", "led in below the water"):  # fmt: skip
        assert any(words in one for one in told), words


def test_a_new_machine_says_what_was_assumed_of_it_and_from_where(leaking):
    rows = small_plant.table(leaking[1], "what_ifs")
    added = next(row for row in rows if "packed column added" in row["change"])
    assert "Hackney and Colt (1982)" in added["basis"]
    low, high = added["then"].interval()
    assert high - low > 1.0


def test_taking_the_column_out_lets_the_gas_rise_and_no_change_helps_by_magic(leaking):
    rows = small_plant.table(leaking[1], "what_ifs")
    out = next(r for r in rows if "taken out" in r["change"] and r["place"] == "high")
    assert out["difference"].value > 5.0
    stop = next(r for r in rows if "stopped" in r["change"] and r["place"] == "high")
    assert stop["difference"].value == pytest.approx(-small_plant.settled(15.0)["high"], abs=1.5)


def test_the_animals_are_set_against_the_new_gas_line(leaking):
    rows = small_plant.table(leaking[1], "what_ifs")
    low = [row for row in rows if row["place"] == "low"]
    assert all(row["animals"] == pytest.approx(0.1) for row in low)
    assert {row["verdict"] for row in low} <= {"too shallow", "may be too shallow", "deep enough"}
    for row in low:
        begin, end = row["gas_line"].interval()
        assert (row["verdict"] == "too shallow") == (begin > 0.1), row["change"]
        assert (row["verdict"] == "deep enough") == (end <= 0.1), row["change"]


def test_a_keepers_own_plan_stands_among_them(leaking):
    given, _ = leaking
    text = small_plant.TEXT.replace("{elevation}", "2.5 m").replace(
        'through = ["return"]', 'through = ["return", "column"]'
    )
    plan = reading.read(text).facility
    answer = gas_sources.survey(dataclasses.replace(given, changed={"both over the column": plan}))
    row = next(r for r in small_plant.table(answer, "what_ifs")
               if r["change"] == "both over the column" and r["place"] == "low")  # fmt: skip
    assert row["difference"].value < -3.0


def test_a_leaking_pump_that_rests_is_asked_running_again():
    given = small_plant.given()
    until = given.samples[-1].at
    rest = gas_sources.Turn(at=given.samples[-12].at, pump="P-2", running=False)
    turns = (*(t for t in given.turns if t.at < rest.at), rest)
    kept = tuple(s for s in given.samples if s.at < rest.at)
    quiet = dataclasses.replace(kept[-1], at=until, delta_p=6.0, place="high")
    answer = gas_sources.survey(dataclasses.replace(given, turns=turns, samples=(*kept, quiet)))
    assert any("P-2 running again" in one for one in changes(answer))


def test_assumptions_of_new_machines_stand_where_the_sources_do():
    # science reference: 105 to 99 % against 89.6 % is 39 % of the way; G = -ln(1 - 0.39)
    assert supposing.NEW_CONTACTOR.mean == pytest.approx(-0.705, abs=0.01)
    assert pytest.approx(-0.104) == supposing.VACUUM

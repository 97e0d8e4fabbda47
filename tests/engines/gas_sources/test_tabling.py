"""The tables: sums that close or say so, and how each thing is known."""

import small_plant

from brinehouse.engines import gas_sources
from brinehouse.engines.gas_sources import tabling


def test_a_sum_that_does_not_meet_the_reading_is_said(monkeypatch):
    real = tabling._measured

    def higher(found, place):
        value, _, ago = real(found, place)
        return value + 20.0, 0.5, ago

    monkeypatch.setattr(tabling, "_measured", higher)
    answer = gas_sources.survey(small_plant.given(count=40))
    assert "sources/does-not-close" in [f.code for f in answer.findings]
    rows = [row for row in small_plant.table(answer, "sources") if row["kind"] == "sum"]
    assert all(not row["closes"] and "less by" in row["how"] for row in rows)


def test_a_place_nobody_read_is_foretold_and_says_so():
    answer = gas_sources.survey(small_plant.given(places=("high", "basin"), count=60))
    rows = small_plant.table(answer, "sources")
    low = next(row for row in rows if row["kind"] == "sum" and row["place"] == "low")
    assert low["how"] == "foretold"


def test_every_row_says_how_it_is_known(leaking):
    for name in ("sources", "removals", "what_ifs"):
        for row in small_plant.table(leaking[1], name):
            assert row.get("how") or row.get("basis")


def test_removals_stand_apart_and_are_never_sources(leaking):
    rows = small_plant.table(leaking[1], "removals")
    assert {row["place"] for row in rows} == {"high", "low", "basin"}
    assert any("without column" in row["removal"] for row in rows)


def test_each_pump_stands_with_what_the_hydraulics_say(leaking):
    rows = small_plant.table(leaking[1], "pumps")
    assert [row["pump"] for row in rows] == ["P-1", "P-2", "P-3"]
    assert {row["below_air"] for row in rows} == {"yes"}

"""What standby pumps are worth, by command: told where the file has rates, and what is missing where not."""

import pytest

PUMPS = """
[sump.sump-m]
volume = "7.5 m3"

[pump.P-1]
flow = "22 m3/h"

[pump.P-2]
flow = "22 m3/h"

[duty.return]
name = "return pumps"
pumps = ["P-1", "P-2"]
keep = 1
standby = "automatic"
hand_start = "2 h"
turn = "7 d"
common_cause = "5 %"
common_cause_source = "one strainer"

[run.supply]
from = "sump-m"
through = ["return"]
to = "mangrove"
flow = "20 m3/h"

[run.back]
from = "mangrove"
to = "sump-m"
"""
RATES = """
[[rate]]
of = "pump"
mode = "fails running"
low = "once in 200000 h"
typical = "once in 30000 h"
high = "once in 6000 h"
source = "house rule"
repair = "24 h"

[[rate]]
of = "pump"
mode = "fails at rest"
typical = "once in 300000 h"
source = "house rule"

[[rate]]
of = "return"
mode = "change-over fails"
typical = "5 %"
source = "house rule"
"""


@pytest.fixture
def told(hall):
    file = hall / "facility.toml"
    file.write_text(file.read_text("utf-8") + PUMPS + RATES, "utf-8")
    return hall


def test_each_group_is_told_with_causes_what_helps_and_by_whose_word(run, told):
    said = run("standby", told)
    assert said.status == 0
    for text in (
        "no pump runs",
        "without shared causes",
        "a cause that takes all at once",
        "rarer",
        "house rule",
    ):
        assert text in said.out
    assert "Advice, not a command" in said.out


def test_the_same_is_given_as_data(run, told):
    data = run("standby", told, "--json").json
    assert (data["question"], data["state"]) == ("standby", "told")
    years = data["values"]["years"]
    assert years["low"] < years["value"] < years["high"]
    tables = {table["name"]: table["rows"] for table in data["tables"]}
    assert tables["groups"][0]["duty"] == "return"
    assert {row["mode"] for row in tables["rates"]} == {"fails running", "fails at rest", "change-over fails"}


def test_each_number_shows_how_it_came_about(run, told):
    said = run("standby", told, "--working")
    assert "Markov chain" in said.out
    assert "Gamma-Poisson" in said.out


def test_without_rates_the_missing_words_are_named_and_nothing_is_made_up(run, hall):
    file = hall / "facility.toml"
    file.write_text(file.read_text("utf-8") + PUMPS, "utf-8")
    said = run("standby", hall)
    assert said.status == 0
    assert "fails running" in said.out
    assert "once in" not in said.out


def test_a_hall_without_duty_groups_has_nothing_to_judge(run, hall):
    assert "no duty group" in run("standby", hall).out

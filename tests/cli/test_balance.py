"""``balance`` in the terminal: sentence first, today beside then, faults at their line."""

import importlib.resources

import pytest

HALL = importlib.resources.files("brinehouse.demo").joinpath("hall.toml").read_bytes()


@pytest.fixture
def hall(tmp_path):
    (tmp_path / "facility.toml").write_bytes(HALL)
    return tmp_path


def test_the_sentence_stands_first_and_every_place_follows(run, hall):
    said = run("balance", hall)
    assert said.status in (0, 1)
    assert "settle" in said.out.splitlines()[0]
    for name in ("Mangrove", "Pipefish side tank", "Kelp tower", "What was assumed and matters most"):
        assert name in said.out
    assert "Advice, not a command" in said.out


def test_a_change_is_told_today_beside_then(run, hall):
    said = run("balance", hall, "--change", "set m-supply flow = 60 m3/h")
    assert "What would be different" in said.out
    assert "run m-supply: flow 60 m3/h instead of 48 m3/h" in said.out
    assert "What the change moves" in said.out
    assert "Where all the water would settle" in said.out


def test_a_list_in_a_file_says_the_same_as_one_typed(run, hall, tmp_path):
    page = tmp_path / "plan.toml"
    page.write_text('[[remove]]\nwhat = "column-m"\n', "utf-8")
    from_file = run("balance", hall, "--what-if", page, "--json").json
    typed = run("balance", hall, "--change", "remove column-m", "--json").json
    assert from_file["sentence"] == typed["sentence"]
    assert from_file["tables"] == typed["tables"]


def test_json_has_the_shape_of_every_engine(run, hall):
    answer = run("balance", hall, "--change", "remove column-m", "--json").json
    assert answer["question"] == "balance"
    assert answer["state"] == "compared"
    assert {"places", "differences", "said", "terms", "assumptions"} <= {t["name"] for t in answer["tables"]}
    assert answer["inputs"] == {"what-if": "remove column-m"}
    assert answer["cautions"]


def test_a_fault_is_refused_with_its_line_and_the_nearest_name(run, hall, tmp_path):
    page = tmp_path / "plan.toml"
    page.write_text('[[remove]]\nwhat = "colum-m"\n\n[[set]]\nwhat = "m-supply"\nflow = "40"\n', "utf-8")
    said = run("balance", hall, "--what-if", page)
    assert said.status == 2
    assert "plan.toml:2" in said.err
    assert "did you mean 'column-m'" in said.err
    assert "plan.toml:6" in said.err


def test_a_list_that_is_not_there_is_refused(run, hall):
    said = run("balance", hall, "--what-if", hall / "none.toml")
    assert said.status == 2
    assert "balance/no-list" in said.err


def test_a_file_and_typed_changes_do_not_go_together(run, hall):
    said = run("balance", hall, "--what-if", hall / "none.toml", "--change", "remove column-m")
    assert said.status == 2


def test_working_shows_what_balances(run, hall):
    said = run("balance", hall, "--working")
    assert "oxygen in Mangrove" in said.out
    assert "mass balance" in said.out or "Clarke and Johnston" in said.out

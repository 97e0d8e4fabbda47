"""Where the gas comes from, by command."""

import pytest


def table(answer, name):
    return next(one for one in answer["tables"] if one["name"] == name)["rows"]


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The invented hall as a folder."""
    from brinehouse.demo import building, truths
    from brinehouse.workbench import clock

    folder = tmp_path_factory.mktemp("sources-cli") / "hall"
    clock.freeze(truths.END)
    building.build(folder, seed=1, end="2026-03-14 06:40")
    yield folder
    clock.freeze(None)


def test_one_place_is_told_with_its_sum_its_removals_and_its_what_ifs(run, demo):
    said = run("gas", "sources", str(demo), "--place", "pipefish")
    assert said.status == 1
    for words in ("Where the excess at Pipefish side tank", "air drawn in at P-203", "sum against measured",
                  "without packed column of m", "What if", "Read next", "Advice, not a command"):  # fmt: skip
        assert words in said.out, words
    assert "excess at Mangrove" not in said.out


def test_as_json_it_is_the_engines_own_answer(run, demo):
    answer = run("gas", "sources", str(demo), "--json").json
    assert answer["question"] == "gas sources"
    assert answer["state"] == "found"
    assert {one["name"] for one in answer["tables"]} >= {"sources", "removals", "what_ifs", "pumps"}
    assert {row["place"] for row in table(answer, "sources")} >= {"mangrove", "pipefish"}
    assert answer["cautions"]


def test_a_place_that_is_not_there_is_refused_with_the_nearest(run, demo):
    said = run("gas", "sources", str(demo), "--place", "pipfish")
    assert said.status == 2
    assert "did you mean pipefish?" in said.err


def test_a_list_of_changes_stands_among_the_what_ifs(run, demo, tmp_path):
    page = tmp_path / "plan.txt"
    page.write_text("remove column-m\n", "utf-8")
    answer = run("gas", "sources", str(demo), "--what-if", str(page), "--json").json
    assert len({row["change"] for row in table(answer, "what_ifs")}) > 8


def test_a_hall_without_a_logbook_is_told_what_to_read(run, hall):
    said = run("gas", "sources", str(hall))
    assert said.status == 0
    assert "No system with gas readings" in said.out

"""The table of words is whole, and what it promises is what the checker does."""

import tomllib

import pytest

from brinehouse.facility import values, words

ALL = [(table, word) for table, rows in words.tables().items() for word in rows.values()]


@pytest.mark.parametrize(("table", "word"), ALL, ids=[f"{table}.{word.name}" for table, word in ALL])
def test_every_example_is_one_that_the_checker_takes(table, word):
    if word.kind == "inner":
        return
    value = tomllib.loads(f"x = {word.example}")["x"]
    rows = words.tables()[table]
    beside = {"quantity": tomllib.loads(f"x = {rows['quantity'].example}")["x"]} if "quantity" in rows else {}
    if word.kind == "band":
        beside["quantity"] = "temperature" if "°C" in value else beside["quantity"]
    if word.kind == "unit" and table == "source.map":
        beside = {}
    if word.kind == "accuracies":
        beside["measures"] = tuple(tomllib.loads(f"x = {rows['measures'].example}")["x"])
    got, faults = values.take(word, value, beside)
    assert faults == []
    assert got is not None


@pytest.mark.parametrize(("table", "word"), ALL, ids=[f"{table}.{word.name}" for table, word in ALL])
def test_every_word_says_what_it_means_and_expects(table, word):
    assert word.meaning.endswith(".")
    assert "\n" not in word.meaning
    assert word.expects


WRONG = [True, 3, 2.5, "\x07", [], [[]], {}, {"a": 1}, [1], ["x", 2], tomllib.loads("d=07:00:00")["d"]]


@pytest.mark.parametrize("wrong", WRONG, ids=repr)
def test_no_value_makes_a_word_crash(wrong):
    for _, word in ALL:
        if word.kind not in ("inner", "accuracies"):
            got, faults = values.take(word, wrong, {"quantity": "temperature"})
            assert got is None or not faults


def test_the_reference_has_every_table_and_word():
    page = words.reference()
    for table in words.catalogue().values():
        assert f"### `{table.heading}`" in page
    for _, word in ALL:
        assert f"`{word.name}`" in page
        assert word.meaning in page
    rows = [line for line in page.splitlines() if line.startswith("|")]
    assert all(line.replace("\\|", "").count("|") == 5 for line in rows if "---" not in line)

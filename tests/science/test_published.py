import published
import pytest

NAMES = sorted(path.stem for path in published.FOLDER.glob("*.csv"))


@pytest.mark.parametrize("name", NAMES)
def test_every_table_names_its_source_and_every_row_how_it_is_known(name):
    known = ("published; read in a public copy", "computed with", "from memory", "independent calculation")
    assert published.rows(name)
    for row in published.rows(name):
        assert row.provenance.startswith(known), row.id


@pytest.mark.parametrize(
    ("text", "half"), [("274.610", 0.0005), ("6.6", 0.05), ("35", 0.5), ("1.3972e-3", 5e-8)]
)
def test_the_tolerance_is_half_the_last_printed_digit(text, half):
    assert published.half_last_digit(text) == pytest.approx(half)


def test_a_value_one_digit_off_is_missed():
    row = published.rows("inert_hamme_emerson_2004")[0]
    right = {"nitrogen": lambda **_: row.value + 0.9 * row.tolerance, "argon": lambda **_: 13.4622}
    wrong = {"nitrogen": lambda **_: row.value + 1.1 * row.tolerance, "argon": lambda **_: float("nan")}
    assert published.misses("inert_hamme_emerson_2004", right) == []
    assert published.misses("inert_hamme_emerson_2004", wrong) == ["N2-01", "AR-01"]

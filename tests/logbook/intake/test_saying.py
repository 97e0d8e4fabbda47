"""What is said is safe to show, and a million faults stay few."""

from brinehouse import findings
from brinehouse.logbook.intake import saying


def test_what_does_not_show_is_made_visible():
    assert saying.shown("\x1b[2J\u202eabc\u200b") == r"'\x1b[2J\u202eabc\u200b'"


def test_a_long_text_is_shortened_and_its_length_told():
    assert saying.shown("x" * 50, 3) == "'xxx…' (50 characters)"


def test_findings_of_one_kind_are_kept_up_to_a_number_and_all_counted():
    said = saying.Said("a.csv")
    for line in range(saying.KEPT + 5):
        said.add(saying.stop("intake/blank", "x", "y", "value"), line)
    assert len(said.found) == saying.KEPT
    assert said.counts == {"intake/blank": saying.KEPT + 5}


def test_a_question_about_one_cell_names_its_line():
    said = saying.Said("a.csv")
    said.add(saying.ask("intake/date-value", "x", "value@LINE", (), "value", "answer 'value@LINE=...'"), 5)
    (found,) = said.found
    assert (found.data["answer"], found.hint) == ("value@5", "answer 'value@5=...'")
    assert found.level is findings.Level.ASK


def test_items_are_items_and_lines_are_lines():
    for by_item, place in ((True, "a.json:item 3"), (False, "a.json:3")):
        said = saying.Said("a.json", by_item)
        said.add(saying.note("intake/bound", "x"), 3)
        assert str(said.found[0].spot) == place

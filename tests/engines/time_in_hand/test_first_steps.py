"""A sentence is said only where everything it names is known, and the data are whole."""

import string

import pytest

from brinehouse.engines.time_in_hand import first_steps

CARDS = first_steps.cards()


def test_of_several_forms_the_first_is_taken_of_which_every_word_is_known():
    pump = {"part": "pump 1 (P-1)", "it": "P-1", "first": "reef"}
    assert first_steps.told("pump-alone", pump).steps[0].startswith("If the floor by P-1 is wet, have it")
    with_board = first_steps.told("pump-alone", pump | {"board": "board A"})
    assert "switch it off at board A" in with_board.steps[0]


def test_a_sentence_that_names_what_is_not_there_is_left_out():
    steps = first_steps.told("pump-alone", {"part": "pump 1", "it": "P-1", "first": "reef"}).steps
    assert not any("back into it" in step for step in steps)  # no sump is known
    steps = first_steps.told("pump-alone", {"part": "pump 1", "it": "P-1", "sump": "basin"}).steps
    assert any("Watch basin" in step for step in steps)
    assert not any("oxygen" in step for step in steps)


def test_braces_in_a_name_are_no_words_to_fill():
    told = first_steps.told("pump-alone", {"part": "{0} {it}", "it": "P-{first}", "first": "reef"})
    assert "P-{first}" in told.steps[0]


@pytest.mark.parametrize("card", CARDS)
def test_every_card_says_how_it_shows_and_has_at_most_eight_steps(card):
    page = CARDS[card]
    assert set(page) <= {"noticed", "steps", "cautions"}
    assert 4 <= len(page["steps"]) <= 8
    for forms in (page["noticed"], *page["steps"], *page.get("cautions", ())):
        for form in [forms] if isinstance(forms, str) else forms:
            assert form.rstrip().endswith((".", "?")), form
            assert all(kind is None or not kind for _, _, kind, _ in string.Formatter().parse(form)), form


@pytest.mark.parametrize("card", CARDS)
def test_the_last_form_of_a_sentence_needs_no_more_than_the_first(card):
    page = CARDS[card]
    for forms in page["steps"]:
        if not isinstance(forms, str):
            needed = [set(first_steps.names_in(form)) for form in forms]
            assert len(needed) > 1, forms
            assert not any(needed[0] < later for later in needed[1:]), forms

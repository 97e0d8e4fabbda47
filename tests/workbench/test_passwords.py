"""Passwords that are tried first are refused; those people can keep are taken."""

import pytest

from brinehouse.workbench import passwords


def code(found):
    return [one.code for one in found]


@pytest.mark.parametrize(
    "typed",
    [
        "Password2026!",
        "p4ssw0rd-p4ssw0rd",
        "qwertyuiop[]12",
        "123456789012",
        "aaaaaaaaaaaaaaaa",
        "abcabcabcabcabc",
        "Brinehouse2026",
        "sunshine-ocean-1",
        "letmein-letmein",
        "1qaz2wsx3edc4rfv",
        "seahorseseahorse",
        "summer!938172",
        "Highmoor-Hall-1!",
    ],
)
def test_what_is_tried_first_is_refused(typed):
    assert code(passwords.faults(typed)) == ["people/password-common"]


@pytest.mark.parametrize(
    "typed",
    [
        "brown kettle under nine ladders",
        "violet-ladders-in-jam",
        "x7#Rm2!qLp9Zt",
        "zwölf krumme Nägel",
        "пятьсот кривых гвоздей",
        "correct horse battery staple",  # it has been printed often; the words are still nobody's here
    ],
)
def test_long_ones_of_unrelated_words_are_taken(typed):
    assert passwords.faults(typed) == []


def test_names_that_others_know_do_not_count():
    assert passwords.faults("Philomena Tern 1", names=("Philomena Tern", "Test Hall")) != []
    assert passwords.faults("Philomena Tern 1") == []  # without the name it would be taken: the check bites


def test_length_has_two_ends():
    assert code(passwords.faults("x7#Rm2!qLp9")) == ["people/password-short"]
    assert code(passwords.faults("kettle nine " * 20)) == ["people/password-long"]


def test_the_list_is_short_plain_words():
    assert 250 < len(passwords.words()) < 600
    assert all(word.isascii() and word.islower() and word.isalpha() for word in passwords.words())


@pytest.mark.parametrize(
    "pin", ["1234", "4321", "0000", "1984", "2026", "7878", "1122", "13579135", "987654"]
)
def test_pins_that_are_tried_first_are_refused(pin):
    assert code(passwords.pin_faults(pin)) == ["people/pin-common"]


@pytest.mark.parametrize("pin", ["", "123", "123456789", "12a4", "٤٨٠٧", "48 07"])
def test_a_pin_is_four_to_eight_digits(pin):
    assert code(passwords.pin_faults(pin)) == ["people/pin-digits"]


def test_most_pins_are_taken():
    taken = sum(not passwords.pin_faults(f"{number:04}") for number in range(10_000))
    assert 9_000 < taken < 9_900

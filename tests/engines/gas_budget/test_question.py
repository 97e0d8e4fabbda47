"""What is asked for and given, declared once."""

from brinehouse import findings, glossary, units
from brinehouse.engines.gas_budget import kernel, question


def test_every_example_is_understood_by_the_units():
    for item in question.QUESTION.inputs:
        if item.kind == "amount":
            units.read_amount(item.example)


def test_every_word_is_in_the_glossary():
    for item in question.QUESTION.inputs:
        if item.word:
            assert glossary.quantity(item.word) is not None, item.name


def test_every_output_is_a_value_of_the_kernel():
    assert {output.name for output in question.QUESTION.outputs} == set(kernel.OUTPUTS)


def test_cautions_speak_of_animals_gas_sumps_and_electricity():
    text = " ".join(question.QUESTION.cautions).lower()
    for word in ("veterinarian", "compressed gas", "sump", "electricity"):
        assert word in text


def test_every_open_error_is_listed():
    for one in (*question.NOT_EXCLUDED, question.CARBON_DIOXIDE_UNSEEN):
        assert one.code in findings.codes()
        assert one.next_reading.endswith(".")

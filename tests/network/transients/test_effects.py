"""The closed list of what can happen to a plant and of what helps."""

import math

import pytest

from brinehouse.network.transients import effects


def _some(kind: str) -> effects.Effect:
    known = effects.KINDS[kind]
    part = "P-201" if known.part else ""
    return effects.Effect(kind, part, known.value[0] if known.value else None)


def test_every_effect_of_the_list_can_be_made_and_says_itself_in_a_sentence():
    for kind in effects.KINDS:
        said = str(_some(kind))
        assert said, kind
        assert "{" not in said, kind
        assert "None" not in said, kind


def test_what_people_do_is_marked_and_is_in_the_same_list():
    remedies = {kind for kind, known in effects.KINDS.items() if known.remedy}
    assert remedies == {"aerate", "exchange", "no-feed", "start", "valve"}


def test_a_word_that_is_no_effect_is_refused_with_the_list():
    with pytest.raises(ValueError, match="is no effect; the effects are: stop"):
        effects.Effect("explode", "P-201")


@pytest.mark.parametrize(
    ("kind", "part", "value", "at", "why"),
    [
        ("stop", "", None, "", "names no machine"),
        ("power", "P-201", None, "", "of the whole hall"),
        ("leak", "mangrove", None, "floor", "needs a value in m"),
        ("leak", "mangrove", 0.02, "roof", "is no place of a hole"),
        ("stop", "P-201", None, "floor", "only a leak"),
        ("stop", "P-201", 1.0, "", "has no value"),
        ("valve", "m-supply", 1.5, "", "is not 0 to 1 share"),
        ("aerate", "mangrove", 0.5, "", "is not 1 to 100 times"),
        ("feed", "mangrove", math.nan, "", "is not 0 to 10"),
    ],
)
def test_an_effect_that_makes_no_sense_is_refused_and_says_why(kind, part, value, at, why):
    with pytest.raises(ValueError, match=why):
        effects.Effect(kind, part, value, at)


def test_nothing_happens_before_the_beginning():
    for after in (-1.0, math.inf, math.nan):
        with pytest.raises(ValueError, match="before the beginning"):
            effects.Effect("power", after=after)


def test_feeding_may_be_of_one_place_or_of_all():
    assert str(effects.Effect("feed", "", 2.0)) == "every place is fed 2 times its food"
    assert str(effects.Effect("no-feed", "mangrove", after=7200.0)) == "after 2 h: mangrove is not fed"

import numpy as np
import published
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brinehouse.science import dissociation, nitrogen


def of_water(ph, temperature, salinity, scale):
    """Share as code that counts by kilograms of water tells it."""
    pka = nitrogen.ammonium_clegg_whitfield(temperature, salinity)
    pka = pka + np.log10(1 - 0.001005 * salinity)
    if scale == "free":
        ph = dissociation.ph_between_scales(ph, "free", "total", temperature, salinity)
    return 1 / (1 + 10 ** (pka - ph))


RELATIONS = {
    "share by moles of water, total": lambda **a: of_water(**a, scale="total"),
    "share by moles of water, free": lambda **a: of_water(**a, scale="free"),
    "pKa Yao and Millero": nitrogen.ammonium_yao_millero,
    "pKa Clegg and Whitfield": nitrogen.ammonium_clegg_whitfield,
    "percent Bell": lambda **a: 100 * nitrogen.ammonia_share(**a, scale="nbs", author="bell"),
    "percent Emerson": lambda **a: (
        100 * nitrogen.ammonia_share(**a, salinity=0, scale="nbs", author="emerson")
    ),
    "criterion Hampson": lambda **a: 0.233 / nitrogen.ammonia_share(**a, scale="nbs", author="hampson"),
}


def test_every_printed_value_is_reproduced():
    assert published.misses("ammonia", RELATIONS) == []


def test_a_ph_on_the_wrong_scale_is_seen_in_every_printed_percentage():
    wrong = {
        **RELATIONS,
        "percent Bell": lambda **a: 100 * nitrogen.ammonia_share(**a, scale="total", author="bell"),
        "criterion Hampson": lambda **a: 0.233 / nitrogen.ammonia_share(**a, scale="total", author="hampson"),
    }
    scaled = [
        row.id for row in published.rows("ammonia") if row.relation in ("percent Bell", "criterion Hampson")
    ]
    # where the scales are hardly apart, at salinity 10, only the warm rows tell
    missed = published.misses("ammonia", wrong)
    assert set(missed) <= set(scaled)
    assert {name for name in scaled if name.startswith("NH3-BB")} <= set(missed)


def test_amounts_counted_by_the_kilogram_of_water_are_seen():
    wrong = {
        **RELATIONS,
        "share by moles of water, total": lambda **a: nitrogen.ammonia_share(**a, scale="total"),
        "pKa Clegg and Whitfield": lambda temperature, salinity: (
            nitrogen.ammonium_clegg_whitfield(temperature, salinity) + np.log10(1 - 0.001005 * salinity)
        ),
    }
    assert published.misses("ammonia", wrong) == ["NH3-CW-T3", "NH3-CWLIB-33-12", "NH3-CWLIB-10-25"]


def test_the_misprinted_slope_of_fresh_water_makes_one_and_a_half_percent_more():
    misprinted = 0.09018 + 2727.92 / 298.15
    share = 1 / (1 + 10 ** (misprinted - 8.0))
    right = float(nitrogen.ammonia_share(8.0, 25.0, 0.0, scale="nbs", author="emerson"))
    assert share / right == pytest.approx(1.015, abs=0.001)


@pytest.mark.parametrize(
    ("relation", "pka"),
    [
        (nitrogen.ammonium_clegg_whitfield, 9.2458),
        (nitrogen.ammonium_yao_millero, 9.2562),
        (nitrogen.ammonium_johansson_wedborg, 9.2586),
        (nitrogen.ammonium_bell, 9.3609),
        (nitrogen.ammonium_hampson, 9.3241),
        (nitrogen.ammonium_emerson, 9.2464),
    ],
)
def test_every_author_in_ocean_water(relation, pka):  # independent calculation
    assert float(relation(25.0, 35.0)) == pytest.approx(pka, abs=6e-5)


def test_authors_on_their_own_scales_agree_once_brought_together():
    found = {
        author: float(nitrogen.ammonia_share(8.0, 25.0, 35.0, scale="total", author=author))
        for author in ("clegg-whitfield", "yao-millero", "johansson-wedborg", "bell")
    }
    middle = np.median(list(found.values()))
    assert all(abs(value / middle - 1) < 0.08 for value in found.values())


def test_a_ph_from_dilute_buffers_taken_for_total_tells_a_third_too_much():
    total = float(nitrogen.ammonia_share(8.0, 25.0, 35.0, scale="total"))
    meant = float(nitrogen.ammonia_share(8.0, 25.0, 35.0, scale="nbs"))
    assert total / meant == pytest.approx(1.35, abs=0.03)  # 10**0.137 less what is left ionised


def test_a_share_without_a_scale_is_refused():
    with pytest.raises(TypeError, match="scale"):
        nitrogen.ammonia_share(8.0, 25.0, 35.0)
    with pytest.raises(ValueError, match="needs the scale of the pH, and None is none; write one of total"):
        nitrogen.ammonia_share(8.0, 25.0, 35.0, scale=None)
    with pytest.raises(ValueError, match="'khoo' is not an author"):
        nitrogen.ammonia_share(8.0, 25.0, 35.0, scale="nbs", author="khoo")


@given(ph=st.floats(6, 9.5), temperature=st.floats(0, 35), salinity=st.floats(20, 40))
def test_bounds_hold_every_scale(ph, temperature, salinity):
    low, high = nitrogen.ammonia_share_bounds(ph, temperature, salinity)
    for scale in dissociation.SCALES:
        share = float(nitrogen.ammonia_share(ph, temperature, salinity, scale=scale))
        assert float(low) <= share <= float(high)
    assert 0 < float(low) < float(high) < 1


@given(ph=st.floats(6, 9.5), temperature=st.floats(2, 34), salinity=st.floats(20, 40))
def test_warmer_and_less_acid_water_holds_more_of_it(ph, temperature, salinity):
    here = float(nitrogen.ammonia_share(ph, temperature, salinity, scale="total"))
    assert float(nitrogen.ammonia_share(ph + 0.1, temperature, salinity, scale="total")) > here
    assert float(nitrogen.ammonia_share(ph, temperature + 1, salinity, scale="total")) > here


def test_sensor_noise_below_no_salt_breaks_nothing():
    assert float(nitrogen.ammonium_clegg_whitfield(20.0, -0.02)) == float(
        nitrogen.ammonium_clegg_whitfield(20.0, 0.0)
    )


def test_ammonia_and_its_nitrogen():
    assert float(nitrogen.ammonia_from_nitrogen(1.0)) == pytest.approx(1.2159, abs=5e-5)
    assert float(nitrogen.nitrogen_from_ammonia(nitrogen.ammonia_from_nitrogen(3.0))) == pytest.approx(3.0)


def test_ammonia_from_feed():
    # Timmons and Ebeling, from memory; 0.16 x 0.80 x 0.80 x 0.90 is 0.0922
    assert float(nitrogen.tan_from_feed(10.0, 0.45)) == pytest.approx(0.414, abs=1e-9)
    assert pytest.approx(0.16 * 0.80 * 0.80 * 0.90, abs=3e-4) == nitrogen.FEED_TO_AMMONIA
    closed = nitrogen.tan_from_feed(10.0, 0.45, nitrogen.FEED_TO_AMMONIA_CLOSED)
    assert float(closed) == pytest.approx(0.648)


@pytest.mark.parametrize(
    ("synthesis", "oxygen", "alkalinity"), [(True, 4.1805, 7.0382), (False, 4.5689, 7.1454)]
)
def test_what_nitrification_takes_for_each_gram(synthesis, oxygen, alkalinity):  # stoichiometry, calculated
    made = nitrogen.nitrification_by_mass(1.0, synthesis=synthesis)
    assert float(made.oxygen) == pytest.approx(oxygen, abs=0.002)
    assert float(made.alkalinity) == pytest.approx(alkalinity, abs=0.002)


def test_what_nitrification_makes_for_each_gram():  # stoichiometry, calculated
    made = nitrogen.nitrification_by_mass(1.0)
    assert float(made.carbon_dioxide) == pytest.approx(5.844, abs=0.002)
    assert float(made.nitrate_nitrogen) == pytest.approx(0.976, abs=1e-9)
    assert float(made.bacteria) == pytest.approx(0.197, abs=0.001)


@pytest.mark.parametrize("synthesis", [True, False])
def test_nitrification_loses_neither_nitrogen_nor_carbon(synthesis):
    made = nitrogen.nitrification(2.0, synthesis=synthesis)
    assert float(made.nitrate + made.bacteria) == pytest.approx(2.0, abs=0.001)  # printed to three digits
    assert float(made.alkalinity) == pytest.approx(float(made.carbon + made.carbon_dioxide), abs=1e-12)
    assert float(made.carbon) == pytest.approx(5 * float(made.bacteria), abs=0.025)


def test_what_one_gram_takes_in_other_units_is_seen():
    assert float(nitrogen.nitrification_by_mass(nitrogen.ammonia_from_nitrogen(1.0)).oxygen) > 5.0

"""Where the gas comes from: worst place first, bars to one scale, sums and what-ifs told in words."""

import re

import pytest

from brinehouse import answers
from brinehouse.web import gas_sources_sheet


@pytest.fixture
def page(demo):
    answer = demo.get("/gas/sources")
    assert answer.status_code == 200
    return answer.text


def test_the_title_says_what_was_found(page):
    title = " ".join(re.search(r"<h1>([\s\S]*?)</h1>", page).group(1).split())
    assert "air drawn in at P-203" in title


def test_each_place_tells_its_sources_its_sum_and_its_removals(page):
    for words in ("sum against measured", "without packed column of m: higher by", "What a change would do",
                  "bubbles carried under", "warming in pumps and lamps", "from 0.20 m"):  # fmt: skip
        assert words in page, words
    for place in ("mangrove", "pipefish", "estuary", "sump-m"):
        assert f'id="at-{place}"' in page


def test_it_works_without_a_script_and_leads_on(page):
    assert "<script" not in page
    for address in ("/gas", "/gas/instruments", "/loop"):
        assert f'href="{address}"' in page


def test_the_gas_sheet_leads_to_it(demo):
    assert 'href="/gas/sources"' in demo.get("/gas").text


def test_a_hall_without_readings_is_told_so(small):
    assert small.get("/gas/sources").status_code == 200


def test_every_bar_says_in_words_what_it_draws(page):
    drawn = re.findall(r'<svg[^>]*class="part"[^>]*>', page)
    assert len(drawn) > 20
    assert all("aria-label=" in one for one in drawn)


def test_a_bar_runs_from_nought_and_its_whisker_is_its_interval():
    value = answers.Value(value=10.0, unit="mmHg", low=5.0, high=15.0)
    drawn = gas_sources_sheet.bar(value, 0.0, 20.0, "air", "source")
    assert "air: 10 mmHg" in drawn
    left, width = (float(re.search(rf'{name}="([\d.]+)"', drawn).group(1)) for name in ("x", "width"))
    assert left == pytest.approx(3.0)
    assert width == pytest.approx(87.0)
    less = gas_sources_sheet.bar(answers.Value(value=-5.0, unit="mmHg", u=1.0), -10.0, 10.0, "life")
    left, width = (float(re.search(rf'{name}="([\d.]+)"', less).group(1)) for name in ("x", "width"))
    assert left + width == pytest.approx(90.0), "a negative one ends at nought"


def test_the_place_where_animals_stand_highest_above_the_gas_line_is_first():
    def one(name, delta_p, animals):
        return gas_sources_sheet.Place(
            id=name, name=name, delta_p=answers.Value(value=delta_p, unit="mmHg", u=1.0), rows=(),
            what_ifs=(), animals=animals, level="",
        )  # fmt: skip

    order = sorted((one("deep", 40.0, 1.0), one("sump", 60.0, None), one("shallow", 28.0, 0.2)),
                   key=lambda p: -gas_sources_sheet._excess(p))  # fmt: skip
    assert [p.name for p in order] == ["shallow", "deep", "sump"]

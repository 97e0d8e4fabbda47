"""The sheet of what standbys are worth: figures with and without shared causes, and nothing made up."""

import re

from brinehouse.facility import starting
from brinehouse.workbench import hall as halls
from brinehouse.workbench import standby

RATE = re.compile(r"\n\[\[rate\]\].*?(?=\n# --|\Z)", re.DOTALL)


def test_each_group_shows_how_often_by_what_and_what_would_help(demo):
    page = demo.get("/time/standby").text
    for text in ("Return pumps of m", "fewer than 3 of 4 pumps run", "The power", "by whose word", "rarer"):
        assert text in page
    assert page.count('<svg class="often"') == 5  # four losses and the line of years
    assert "invented for this hall" in page
    assert "Advice, not a command." in page


def test_each_loss_is_joined_with_the_hours_it_leaves_once_they_are_known(demo, demo_folder, monkeypatch):
    with monkeypatch.context() as early:
        early.setattr(standby, "left", lambda place, *, wait=True: None)
        assert "Hours in hand are being worked out" in demo.get("/time/standby").text
    with halls.open_hall(demo_folder) as hall:
        found = standby.left(hall)
    page = demo.get("/time/standby").text
    assert "Hours in hand are being worked out" not in page
    hours = found["return-k", 1].hours
    assert 0.0 < hours < 24.0
    assert f"{hours:.1f} h until" in page
    assert found["return-m", 3].hours is None
    assert "no limit within 72 h" in page


def test_a_figure_without_shared_causes_that_means_nothing_is_only_called_large(demo):
    page = demo.get("/time/standby").text
    assert "&gt; 1000" in page
    assert not re.search(r"\d{6,} ?</span></td>", page)


def test_the_figures_show_how_they_came_about(demo):
    page = demo.get("/time/standby").text
    assert "Markov chain" in page
    assert "beta" in page


def test_a_hall_without_rates_is_told_which_words_are_missing(small, tmp_path):
    file = tmp_path / "hall" / "facility.toml"
    file.write_text(RATE.sub("\n", starting.example()), encoding="utf-8")
    page = small.get("/time/standby")
    assert page.status_code == 200
    assert "fails running" in page.text
    assert "nothing is made up" in page.text
    assert 'class="often"' not in page.text


def test_a_hall_without_duty_groups_has_the_sheet_too(small):
    page = small.get("/time/standby")
    assert page.status_code == 200
    assert "no duty group" in page.text

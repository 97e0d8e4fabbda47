"""A page of the newest rows is the same whichever way it is found."""

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from brinehouse import records
from brinehouse.logbook import paging, queries, store

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    draw = random.Random(11)
    facts = []
    for number in range(400):
        at = NOW - timedelta(minutes=draw.randrange(5000))
        place = draw.choice(["mangrove", "reef", "outer", ""])
        told = {"id": f"{number:032x}", "measured": at, "entered": NOW, "place": place}
        if draw.random() < 0.3:
            facts.append(records.Fact(kind=draw.choice(["event", "note"]), details={"what": "x"}, **told))
        else:
            quantity = draw.choice(
                ["temperature", "oxygen", "flow"] if place == "outer" else ["temperature", "pH"]
            )
            facts.append(records.Reading(quantity=quantity, value=draw.random(), unit="x", text="x", **told))
    with store.open_logbook(tmp_path_factory.mktemp("paging"), create=True) as made:
        made.append(facts)
        for number in range(0, 60, 7):
            made.withdraw(f"{number:032x}", reason="test", entered=NOW + timedelta(seconds=number))
        yield made


@pytest.mark.parametrize("near", [5, 20_000])
@pytest.mark.parametrize("limit", [1, 7, 60, 1000])
@pytest.mark.parametrize("superseded", [False, True])
def test_a_page_is_the_same_whichever_way_it_is_found(book, monkeypatch, near, limit, superseded):
    monkeypatch.setattr(paging, "NEAR", near)
    common = queries.Wanted(limit=limit, newest_first=True, superseded=superseded)
    asked = [
        replace(common, kinds=kinds, places=places, quantities=quantities, since=since)
        for kinds in (("reading",), queries.FACTS)
        for places in (None, ["mangrove"], ["reef", "outer", "reef"], ["nowhere"])
        for quantities in (
            (None, ["flow"], ["pH", "oxygen"], ["salinity"]) if kinds == ("reading",) else (None,)
        )
        for since in (None, NOW - timedelta(minutes=2000))
    ]
    with book._looking() as connection:
        for wanted in asked:
            quick = [row[0] for row in paging.rows(connection, wanted)]
            slow = [row[0] for row in queries.rows(connection, wanted)]
            assert quick == slow, wanted


def test_what_differs_is_stepped_through_in_order(book):
    with book._looking() as connection:
        places = paging.steps(connection, queries._entry.c.place)
    assert places == ["", "mangrove", "outer", "reef"]

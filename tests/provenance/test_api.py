"""The chain over the API: what a script walks."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from library.stock import services as stock


@pytest.fixture
def grow(make_lot, variety):
    """``grow(parent)`` is seed that came back from the parent."""

    def make(*parents):
        shares = [(parent, 1 / len(parents)) for parent in parents]
        return make_lot(variety, origin="return", parents=shares, harvest_year=2025)

    return make


def rows(answer):
    return [
        (row["lot"]["number"], row["nearest"], row["farthest"], row["share"])
        for row in answer.json()["results"]
    ]


def test_ancestors_come_by_generation_with_their_share(api, make_lot, variety, grow):
    first, second = make_lot(variety), make_lot(variety)
    middle = grow(first, second)
    last = grow(middle, first)

    answer = api.get(reverse("api-lot-ancestors", args=[last.number]))

    assert rows(answer) == [
        (first.number, 1, 2, 0.75),
        (middle.number, 1, 1, 0.5),
        (second.number, 2, 2, 0.25),
    ]


def test_descendants_come_with_what_of_them_is_the_lot(api, make_lot, variety, grow):
    first, other = make_lot(variety), make_lot(variety)
    child = grow(first, other)

    answer = api.get(reverse("api-lot-descendants", args=[other.number]))

    assert rows(answer) == [(child.number, 1, 1, 0.5)]


def test_a_bulk_has_the_lots_that_were_poured_together(api, make_lot, variety, desk):
    one, two = make_lot(variety, seeds=100), make_lot(variety, seeds=300)
    bulk = stock.bulk_lots(lots=[(one, 50), (two, 150)], on=one.received_on, by=desk)

    answer = api.get(reverse("api-lot-ancestors", args=[bulk.number]))

    assert rows(answer) == [(two.number, 1, 1, 0.75), (one.number, 1, 1, 0.25)]


@pytest.mark.parametrize("name", ["api-lot-ancestors", "api-lot-descendants"])
def test_a_lot_that_is_not_there_is_not_found(api, db, name):
    answer = api.get(reverse(name, args=["SB-0"]))

    assert answer.status_code == 404


def test_a_page_holds_so_many_and_says_how_many_there_are(api, make_lot, variety, grow):
    first = make_lot(variety)
    grow(grow(grow(first)))

    answer = api.get(reverse("api-lot-descendants", args=[first.number]), {"page_size": 2})

    assert answer.json()["count"] == 3
    assert [nearest for _, nearest, _, _ in rows(answer)] == [1, 2]


@pytest.mark.parametrize("generations", [1, 6])
def test_the_number_of_queries_does_not_depend_on_the_chain(
    api, make_lot, variety, grow, generations
):
    lot = make_lot(variety)
    for _ in range(generations):
        lot = grow(lot)

    address = reverse("api-lot-ancestors", args=[lot.number])
    api.get(address)  # the first request of all writes down the community

    with CaptureQueriesContext(connection) as queries:
        api.get(address)

    assert len(queries) == 4

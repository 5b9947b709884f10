"""The living seed by crop and harvest year: known, unknown, used up, and never there."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from library.germination.models import LotEstimate
from library.germination.pictures.living import (
    Column,
    Heap,
    columns_for,
    living_seed,
    shade_of,
)
from library.stock import services as stock

DAY = dt.date(2026, 11, 20)


@pytest.fixture
def beans(make_variety):
    return make_variety("Tarn Kettle", crop="drying bean")


@pytest.fixture
def kale(make_variety):
    return make_variety("Gate Curl", crop="kale", is_rare=True)


@pytest.fixture
def make_living(make_lot):
    """``make_living(beans, 2024, seeds=500, median=0.8)``; no estimate without a median."""

    def make(variety, year, *, median=None, on=DAY, **facts):
        lot = make_lot(variety, harvest_year=year, **facts)
        if median is not None:
            LotEstimate.objects.filter(lot=lot).delete()
            LotEstimate.objects.create(
                lot=lot,
                on=on,
                low=0,
                median=median,
                high=1,
                chance=0.5,
                standard_percent=70,
            )
        else:
            LotEstimate.objects.filter(lot=lot).delete()
        return lot

    return make


def cells(table):
    return {row.name: [(heap.state, heap.alive) for heap in row.cells] for row in table.rows}


def test_a_cell_is_what_is_left_times_the_share_alive(make_living, beans):
    make_living(beans, 2024, seeds=500, packets=2, median=0.8)
    make_living(beans, 2024, seeds=100, median=0.25)

    table = living_seed()

    assert cells(table) == {"drying bean": [("known", 425)]}
    assert round(table.total.percent_alive, 1) == 70.8


def test_no_lot_and_a_lot_used_up_and_a_lot_not_estimated_are_told_apart(
    make_living, beans, kale, desk
):
    used = make_living(beans, 2023, seeds=60, median=0.9)
    stock.give_away(lot=used, seeds=60, on=DAY, by=desk, reason="swapped")
    make_living(beans, 2024, seeds=500)
    make_living(kale, 2025, seeds=300, median=0.5)

    table = living_seed()

    assert cells(table) == {
        "drying bean": [("used", 0), ("unknown", 0), ("none", 0)],
        "kale": [("none", 0), ("none", 0), ("known", 150)],
    }


def test_a_dead_lot_is_known_to_be_dead(make_living, beans):
    make_living(beans, 2001, seeds=500, median=0.0)

    heap = living_seed().total

    assert (heap.state, heap.alive, heap.shade) == ("known", 0, 0)


def test_what_is_not_estimated_is_said_beside_what_is(make_living, beans):
    make_living(beans, 2024, seeds=500, median=0.8)
    make_living(beans, 2024, seeds=70)

    heap = living_seed().rows[0].cells[0]

    assert (heap.state, heap.alive, heap.unknown, heap.unknown_seeds) == ("known", 400, 1, 70)
    assert heap.percent_alive == 80


def test_rows_and_columns_have_their_totals(make_living, beans, kale):
    make_living(beans, 2024, seeds=100, median=0.5)
    make_living(beans, 2025, seeds=100, median=0.6)
    make_living(kale, 2025, seeds=100, median=0.7)

    table = living_seed()

    assert [row.total.alive for row in table.rows] == [110, 70]
    assert [total.alive for total in table.totals] == [50, 130]
    assert table.total.alive == 180


def test_lots_of_which_nobody_knows_the_year_stand_last(make_living, beans):
    make_living(beans, None, seeds=100, median=0.5)
    make_living(beans, 2020, seeds=100, median=0.5)

    assert [column.year for column in living_seed().columns] == [2020, None]


def test_the_days_of_the_estimates_are_said(make_living, beans):
    make_living(beans, 2020, median=0.5, on=dt.date(2026, 3, 1))
    make_living(beans, 2021, median=0.5, on=DAY)

    total = living_seed().total

    assert (total.since, total.until) == (dt.date(2026, 3, 1), DAY)


def test_tubers_and_cloves_are_counted_apart(make_living, make_variety, beans):
    garlic = make_variety("Stile White", crop="garlic", breeding_status="clone")
    make_living(beans, 2025, seeds=100, median=0.5)
    make_living(garlic, 2025, seeds=40)

    table = living_seed()

    assert [row.name for row in table.rows] == ["drying bean"]
    assert [(unit, heap.seeds) for unit, heap in table.plant_parts] == [("cloves", 40)]


def test_the_table_can_be_of_one_crop_or_of_rare_varieties(make_living, beans, kale):
    make_living(beans, 2025, median=0.5)
    make_living(kale, 2025, median=0.5)

    found = [
        [row.name for row in living_seed(crop=kale.crop.slug).rows],
        [row.name for row in living_seed(rare=True).rows],
        [row.name for row in living_seed(crop=beans.crop.slug, rare=True).rows],
    ]

    assert found == [["kale"], ["kale"], []]


def test_a_german_reader_has_german_rows_in_their_order(client, make_living, make_variety):
    for crop in ("chard", "aubergine", "onion", "beetroot"):
        make_living(make_variety(crop=crop), 2024, seeds=100, median=0.8)

    page = client.get(reverse("living-seed"), headers={"Accept-Language": "de"})

    rows = page.context["table"].rows
    assert [row.name for row in rows] == ["Aubergine", "Mangold", "Rote Bete", "Zwiebel"]
    assert [row.slug for row in rows] == ["aubergine", "chard", "beetroot", "onion"]
    assert '<option value="onion">Zwiebel</option>' in page.content.decode()


def test_two_full_columns_are_added_without_running_over(make_living, beans):
    lot = make_living(beans, 2025, median=0.5)
    type(lot).objects.filter(pk=lot.pk).update(loose=2_000_000_000, packed=2_000_000_000)

    total = living_seed().total

    assert (total.seeds, total.alive) == (4_000_000_000, 2_000_000_000)


@pytest.mark.parametrize(
    ("alive", "shade"),
    [(0, 0), (1, 1), (49, 1), (50, 2), (199, 2), (999, 3), (4999, 4), (5000, 5), (10**9, 5)],
)
def test_shades_widen_with_the_number_of_seeds(alive, shade):
    assert shade_of(alive) == shade


def test_old_years_share_a_column_when_there_are_too_many():
    columns = columns_for([*range(1950, 1960), None], most=3)

    assert columns == [Column(1957, upto=True), Column(1958), Column(1959), Column(None)]


def test_every_lot_of_a_shared_column_is_in_it(make_living, beans):
    for year in range(2000, 2020):
        make_living(beans, year, seeds=10, median=1.0)

    table = living_seed()

    assert [column.year for column in table.columns] == list(range(2006, 2020))
    assert [heap.alive for heap in table.totals] == [70] + [10] * 13


def test_heaps_add_up():
    total = Heap(lots=1, with_seed=1, seeds=10, living=5.5) + Heap(
        lots=2, with_seed=1, seeds=3, unknown=1, unknown_seeds=3
    )

    assert total == Heap(lots=3, with_seed=2, seeds=13, living=5.5, unknown=1, unknown_seeds=3)


def test_a_crop_that_there_is_not_is_said_to_be_none(as_member, reference):
    answer = as_member.get(reverse("living-seed"), {"crop": "moonstone"})

    assert answer.status_code == 400
    assert "There is no such crop; choose one from the list." in answer.content.decode()


@pytest.mark.parametrize("lots", [1, 6])
def test_the_strip_is_one_question_however_many_lots(
    as_member, make_living, beans, kale, lots, django_assert_num_queries
):
    for year in range(2010, 2010 + lots):
        make_living(beans, year, median=0.5)
        make_living(kale, year)
    as_member.get(reverse("living-seed"))

    with django_assert_num_queries(1):
        living_seed()
    with django_assert_num_queries(5):
        as_member.get(reverse("living-seed"))

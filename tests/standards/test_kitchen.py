"""From jars back to rows: worked by hand from the source's own tables.

USDA Complete Guide to Home Canning (AIB 539), Guides 3, 4 and 6, and the extension row yields
of ``preserving.csv``; how far each row is to be trusted stands in its column ``how``. What is
expected was worked out by hand from the printed pounds and feet.
"""

from __future__ import annotations

import pytest

from library.household.kitchen.tables import foods, products_of, yields_of
from library.science.kitchen import (
    Per,
    Spacing,
    Yield,
    field_yield,
    fresh_kg,
    packets_for,
    row_yield,
    stand_for,
    with_margin,
    with_seed,
)
from tests.standards.tables import rows

PRINTED = 0.006  # the tables print two or three decimals


def product(crop: str, words: str, jar: str):
    return next(p for p in products_of(crop) if words in p.name and p.unit == jar)


def test_a_jar_of_thin_tomato_sauce_each_week():
    """AIB 539, Guide 3: 35 lb for 7 quarts of thin sauce; 52 quarts are 260 lb, 117.934 kg.

    At 10 lb on 10 ft of row that is 260 ft, 79.248 m: 159 plants half a metre apart. At 2.5 lb
    a foot it is 104 ft, 31.699 m: 64 plants.
    """
    kg = product("tomato", "sauce, thin", "quart").fresh_kg(52)
    assert kg == pytest.approx(117.934, abs=0.001)

    spacing = Spacing(between_rows_cm=90, in_row_cm=50)
    by_row, by_foot = (one.figure for one in yields_of("tomato"))
    low = stand_for(kg=kg, gives=by_row, spacing=spacing)
    high = stand_for(kg=kg, gives=by_foot, spacing=spacing)

    assert stand_for(kg=kg, gives=by_row, spacing=None).row_m == pytest.approx(
        79.248, abs=0.001
    )
    assert stand_for(kg=kg, gives=by_foot, spacing=None).row_m == pytest.approx(
        31.699, abs=0.001
    )
    assert (low.plants, high.plants) == (159, 64)
    assert low.row_m == pytest.approx(79.5)
    assert low.area_m2 == pytest.approx(71.55)


@pytest.mark.parametrize(
    ("crop", "words", "jar", "wanted", "pounds"),
    [
        ("tomato", "sauce, thick", "quart", 7, 46),  # a canner load of the Guide itself
        ("tomato", "sauce, thin", "pint", 9, 21),
        ("tomato", "crushed", "quart", 14, 44),
        ("dwarf bean", "pieces", "quart", 12, 24),
        ("dwarf bean", "pieces", "pint", 9, 9),
        ("gherkin", "for pickles", "quart", 7, 14),
        ("gherkin", "quick fresh-pack", "pint", 7, 8),  # 7-9 pints: the fewest
        ("cabbage", "sauerkraut", "quart", 9, 25),
        ("winter squash", "cubed", "quart", 7, 16),
        ("carrot", "dried", "lb", 2.5, 30),  # 15 lb fresh give 1.25 lb
    ],
)
def test_a_load_of_the_guide_takes_the_guides_pounds(crop, words, jar, wanted, pounds):
    kg = product(crop, words, jar).fresh_kg(wanted)

    assert kg == pytest.approx(pounds * 0.45359237, rel=1e-9)


def test_twelve_quarts_of_beans_are_twenty_feet_of_bush_beans():
    """24 lb at 12 lb on 10 ft: 20 ft, 6.096 m."""
    (by_row,) = yields_of("dwarf bean")

    stand = stand_for(kg=24 * 0.45359237, gives=by_row.figure, spacing=None)

    assert stand.row_m == pytest.approx(6.096, abs=1e-6)


def test_the_tables_own_metric_columns_agree_with_ours():
    """Beside pounds on ten feet it prints kg on three metres, beside the acre kg on a square
    metre: a check of reading and of arithmetic, since neither column is used.
    """
    checked = 0
    for row in rows("preserving"):
        if row["gives_unit"] == "kg per 3 m":
            ours = 3 * row_yield(pounds=float(row["amount"]), feet=10).kg
        elif row["amount_unit"] == "lb per acre":
            ours = field_yield(pounds_per_acre=float(row["amount"])).kg
        else:
            continue
        assert ours == pytest.approx(float(row["gives"]), abs=PRINTED), row["food"]
        checked += 1
    assert checked == 30 + 14


def test_every_row_that_a_crop_names_is_there_and_has_its_source():
    for crop, food in foods().items():
        for one in [*products_of(crop), *yields_of(crop)]:
            assert one.source, (crop, one)
            assert one.how, (crop, one)
        named = {row["food"] for row in rows("preserving")}
        assert {*food.yield_rows, *food.preserving_rows} <= named, crop


# Arithmetic -------------------------------------------------------------------------------


def test_plants_for_seed_are_shared_only_where_food_and_seed_are_different_fruits():
    fruit = with_seed(food_plants=159, population=20, shared=True)
    assert (fruit.plants, fruit.for_seed_only, fruit.give_seed) == (159, 0, 159)
    few = with_seed(food_plants=3, population=20, shared=True)
    assert (few.plants, few.for_seed_only, few.give_seed) == (20, 17, 20)
    root = with_seed(food_plants=159, population=80, shared=False)
    assert (root.plants, root.for_seed_only, root.give_seed) == (239, 80, 80)


def test_packets_are_taken_from_the_largest():
    assert packets_for(seeds=45, packets=[10, 30, 20]) == (2, 0)
    assert packets_for(seeds=100, packets=[10, 30, 20]) == (3, 40)
    assert packets_for(seeds=0, packets=[10]) == (0, 0)


def test_what_a_yield_does_not_tell_is_left_open():
    by_plant = Yield(kg=2, per=Per.PLANT)
    by_area = Yield(kg=2, per=Per.SQUARE_METRE)

    assert stand_for(kg=9, gives=by_plant, spacing=None).plants == 5
    assert stand_for(kg=9, gives=by_plant, spacing=None).area_m2 is None
    assert stand_for(kg=9, gives=by_area, spacing=None) == type(
        stand_for(kg=9, gives=by_area, spacing=None)
    )(None, None, 4.5)
    assert with_margin(100, 20) == 120


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Yield(kg=0, per=Per.PLANT),
        lambda: Yield(kg=float("nan"), per=Per.PLANT),
        lambda: Spacing(between_rows_cm=0, in_row_cm=5),
        lambda: fresh_kg(wanted=-1, amount_lb=5, gives=1),
        lambda: fresh_kg(wanted=1, amount_lb=5, gives=0),
        lambda: row_yield(pounds=1, feet=0),
        lambda: with_seed(food_plants=-1, population=1, shared=True),
        lambda: with_seed(food_plants=1, population=0, shared=True),
        lambda: packets_for(seeds=-1, packets=[]),
        lambda: with_margin(1, 501),
        lambda: stand_for(kg=float("inf"), gives=Yield(kg=1, per=Per.PLANT), spacing=None),
    ],
)
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match=r"[a-z]"):
        wrong()

"""Seeds to sow, to pack, to keep and to weigh."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.science.sowing import (
    packet_size,
    reserve_seeds,
    seeds_for_stand,
    seeds_from_weight,
    seeds_to_sow,
    weight_of_seeds,
)

PLANTS = st.integers(1, 500)
SHARES = st.floats(0.05, 1)
CONFIDENCES = st.floats(0.5, 0.999)


def test_perfect_seed_needs_no_more_than_the_plants_wanted():
    assert seeds_to_sow(plants=20, germination=1, confidence=0.99) == 20


def test_exactly_the_confidence_is_enough():
    assert seeds_to_sow(plants=1, germination=0.5, confidence=0.5) == 1


@pytest.mark.parametrize("kind", [Decimal, np.float64, str])
def test_shares_of_every_kind_of_number_will_do(kind):
    wanted = {"germination": "0.85", "confidence": "0.95", "survival": "0.5"}

    seeds = seeds_to_sow(plants=20, **{name: kind(value) for name, value in wanted.items()})

    assert seeds == seeds_to_sow(20, 0.85, 0.95, 0.5)


def test_birds_and_slugs_call_for_more_seed():
    undisturbed = seeds_to_sow(plants=20, germination=0.8, confidence=0.95)
    raided = seeds_to_sow(plants=20, germination=0.8, confidence=0.95, survival=0.5)

    assert (undisturbed, raided) == (29, 65)


@given(PLANTS, SHARES)
def test_birds_that_take_seven_seedlings_in_eight_cost_eight_times_the_seed(
    plants, germination
):
    undisturbed = seeds_to_sow(plants=plants, germination=germination, confidence=0.95)

    raided = seeds_for_stand(plants=plants, germination=germination, losses=0.875)

    assert raided == 8 * undisturbed


@pytest.mark.parametrize(
    ("losses", "seeds"), [(0, 80), (0.2, 100), (Decimal("0.2"), 100), (0.99, 8000), (0.3, 115)]
)
def test_what_is_lost_is_sown_in_addition_and_a_part_of_a_seed_is_a_seed(losses, seeds):
    assert seeds_for_stand(plants=80, germination=1, losses=losses) == seeds


def test_thousands_of_plants_are_no_trouble():
    assert seeds_to_sow(plants=5000, germination=0.5, confidence=0.99) == 10235


def test_a_million_plants_of_poor_seed_are_counted_to_the_seed():
    seeds = seeds_to_sow(plants=1_000_000, germination=0.01, confidence=0.999)

    assert 100_000_000 < seeds < 101_000_000


@given(PLANTS, SHARES, CONFIDENCES)
def test_better_seed_never_needs_more(plants, germination, confidence):
    poor = seeds_to_sow(plants=plants, germination=germination, confidence=confidence)
    good = seeds_to_sow(
        plants=plants, germination=min(1, germination * 1.1), confidence=confidence
    )

    assert plants <= good <= poor


@given(PLANTS, SHARES, CONFIDENCES)
def test_one_plant_more_never_needs_less(plants, germination, confidence):
    fewer = seeds_to_sow(plants=plants, germination=germination, confidence=confidence)
    more = seeds_to_sow(plants=plants + 1, germination=germination, confidence=confidence)

    assert fewer < more


def test_a_packet_holds_whole_steps_of_seed():
    assert packet_size(plants=20, germination=0.8) == 35
    assert packet_size(plants=20, germination=0.8, step=1) == 35
    assert packet_size(plants=20, germination=0.8, step=25) == 50
    assert packet_size(plants=20, germination=0.8, confidence=0.95, survival=1) == 30


def test_a_packet_holds_what_the_advice_says_to_sow():
    wanted = {"plants": 40, "germination": 0.62, "confidence": 0.95}

    assert packet_size(**wanted, survival=0.7, step=1) == seeds_for_stand(**wanted, losses=0.3)


def test_a_reserve_is_enough_for_each_of_its_sowings():
    once = seeds_to_sow(plants=100, germination=0.7, confidence=0.95)

    assert reserve_seeds(min_population=100, germination=0.7) == 2 * once
    assert reserve_seeds(min_population=100, germination=0.7, sowings=3) == 3 * once


def test_seed_that_may_not_be_there_is_not_counted():
    assert seeds_from_weight(grams=5, thousand_seed_weight_g=1.97) == 2538
    assert seeds_from_weight(grams=0.3, thousand_seed_weight_g=0.1) == 3000
    assert seeds_from_weight(grams=0, thousand_seed_weight_g=300) == 0


def test_enough_seed_is_weighed_out():
    assert weight_of_seeds(seeds=100, thousand_seed_weight_g=1.97) == 0.2
    assert weight_of_seeds(seeds=100, thousand_seed_weight_g=300) == 30.0
    assert weight_of_seeds(seeds=0, thousand_seed_weight_g=300) == 0.0


@given(st.integers(0, 100_000), st.floats(0.1, 1000))
def test_seeds_weighed_out_are_never_fewer_than_asked_for(seeds, weight):
    grams = weight_of_seeds(seeds=seeds, thousand_seed_weight_g=weight)

    assert seeds_from_weight(grams=grams, thousand_seed_weight_g=weight) >= seeds


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"plants": 0}, "Plants wanted are 1 to 1000000, not 0."),
        ({"plants": 2.5}, "The number of plants wanted is a whole number, not 2.5."),
        ({"germination": "good"}, "Germination is one number, not 'good'."),
        ({"confidence": 1}, "Confidence lies between 0 and 1, such as 0.9, not 1."),
        (
            {"germination": 85},
            "Germination is a fraction from 0 to 1, such as 0.85, not 85.",
        ),
        ({"survival": -0.1}, "Survival is a fraction from 0 to 1, such as 0.85, not -0.1."),
        (
            {"germination": 0},
            "Fewer than 1 seed in 1000 would become a plant: no sensible number of seeds is "
            "enough. Use another lot.",
        ),
    ],
)
def test_wishes_out_of_range_are_refused(changed, sentence):
    wish = {"plants": 20, "germination": 0.8, "confidence": 0.95} | changed

    with pytest.raises(ValueError) as refusal:  # noqa: PT011 - the sentence is compared whole
        seeds_to_sow(**wish)

    assert str(refusal.value) == sentence


def test_weights_packets_and_reserves_out_of_range_are_refused():
    with pytest.raises(ValueError, match="A thousand seeds weigh more than 0"):
        seeds_from_weight(grams=5, thousand_seed_weight_g=0)
    with pytest.raises(ValueError, match="A weight of seed is 0"):
        seeds_from_weight(grams=-1, thousand_seed_weight_g=1)
    with pytest.raises(ValueError, match="A count of seeds is 0"):
        weight_of_seeds(seeds=-1, thousand_seed_weight_g=1)
    with pytest.raises(ValueError, match="steps of 1 to 1000 seeds, not 0"):
        packet_size(plants=20, germination=0.8, step=0)
    with pytest.raises(ValueError, match=r"from 0 to 0\.99, not 1"):
        seeds_for_stand(plants=20, germination=0.8, losses=1)
    with pytest.raises(ValueError, match=r"from 0 to 0\.99, not -0\.1"):
        seeds_for_stand(plants=20, germination=0.8, losses=-0.1)
    with pytest.raises(ValueError, match="covers 1 to 20 sowings, not 0"):
        reserve_seeds(min_population=20, germination=0.8, sowings=0)

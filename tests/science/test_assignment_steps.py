"""How the bound's prices move: the length of steps, and which way each price goes."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from library.science.assignment import possible_pairs
from library.science.assignment.ascent import Ascent
from library.science.assignment.frame import frame_of
from library.science.assignment.market import Market
from library.science.assignment.steps import FALL, LONG, SHORTEST, Direction, Pace
from tests.load.assignment import make_season


def lengths(pace: Pace) -> list[float]:
    taken = []
    while not pace.is_over:
        taken.append(pace.length)
        pace.step()
    return taken


def test_steps_are_long_for_a_while_and_then_ever_shorter():
    pace = Pace()

    taken = lengths(pace)

    assert taken[: LONG + 1] == [1.0] * (LONG + 1)
    falling = taken[LONG:]
    assert all(after < before for before, after in itertools.pairwise(falling))
    assert len(falling) == pytest.approx(FALL, abs=2)
    assert falling[-1] == pytest.approx(SHORTEST, rel=0.02)


def test_when_steps_begin_again_after_the_shortest_they_are_long_for_longer():
    pace = Pace()
    first = len(lengths(pace))

    pace.begin_longer()

    assert pace.length == 1.0
    assert len(lengths(pace)) == first + LONG


def test_steps_that_begin_again_in_between_are_long_as_often_as_before():
    pace = Pace()
    first = len(lengths(pace))

    pace.begin_again()

    assert len(lengths(pace)) == first


@pytest.mark.parametrize("left", [0, 1, 40, FALL, FALL + 100])
def test_the_last_of_the_steps_that_are_left_are_the_shortest(left):
    pace = Pace()

    pace.leave_time(left)

    assert len(lengths(pace)) == pytest.approx(left, abs=2)


@pytest.mark.parametrize("left", [1e6, 1e12, math.inf])
def test_with_time_enough_nothing_is_hurried(left):
    pace = Pace()
    while not pace.is_falling:
        pace.step()
    for _ in range(50):
        pace.step()
    before = pace.length

    pace.leave_time(left)

    assert pace.length == before


@pytest.mark.parametrize("left", [-5.0, -math.inf])
def test_after_the_end_steps_are_the_shortest(left):
    pace = Pace()

    pace.leave_time(left)

    assert pace.length == pytest.approx(SHORTEST)


def test_a_direction_is_what_was_said_of_late_and_swinging_makes_it_shorter():
    """Against the same written with NumPy."""
    chance = np.random.default_rng(1)
    scale = chance.uniform(0.5, 2, 7)
    direction = Direction(scale)
    last, swing = np.zeros(7), np.zeros(7)
    for _ in range(60):
        by = chance.integers(-1, 2, 7).astype(float)

        size = direction.bend(by)

        last = by + 0.98 * last
        swing = 0.99 * swing + 0.01 * by**2
        ease = scale / np.sqrt(swing + 1e-3)
        assert size == pytest.approx(float((ease * last**2).sum()))
        np.testing.assert_allclose(direction.step(0.25), 0.25 * ease * last)


def test_what_swings_goes_less_far_than_what_moves_once():
    direction = Direction(np.ones(2))
    for turn in range(40):
        direction.bend(np.array([1.0 if turn % 2 else -1.0, 0.0]))
    direction.last[:] = 0

    direction.bend(np.array([1.0, 1.0]))

    swinging, calm = direction.step(1.0)
    assert swinging < calm


def test_the_price_of_a_variety_with_little_at_stake_goes_less_far():
    direction = Direction.by_stake(np.array([0.01, 0.04, 0.0]))

    direction.bend(np.ones(3))

    little, more, none = direction.step(1.0)
    assert more == pytest.approx(2 * little)
    assert 0 < none < little


def test_where_nothing_has_a_price_nothing_goes():
    direction = Direction.by_stake(np.zeros(0))

    assert direction.bend(np.zeros(0)) == 0
    assert len(direction.step(1.0)) == 0


@pytest.fixture(scope="module")
def ascent() -> Ascent:
    """In the midst of its way."""
    frame = frame_of(possible_pairs(make_season(60, 60, 3)))
    market = Market(frame, 0, 12)
    market.run(1.0, math.inf, iter([False] * 30 + [True]).__next__)
    ascent = Ascent.after(market)
    ascent.widen(ascent.prove())
    ascent.climb(2.0, math.inf, iter([False] * 80 + [True]).__next__)
    return ascent


def test_pairs_that_stay_keep_their_prices_and_where_these_went(ascent):
    proof = ascent.prove()
    before = dict(zip(ascent.relaxed.numbers.tolist(), ascent.prices.tolist(), strict=True))
    went = dict(
        zip(ascent.relaxed.numbers.tolist(), ascent.of_prices.last.tolist(), strict=True)
    )
    ascent.value = proof.bound  # nothing is lacking

    added = ascent.widen(proof)

    new = 0
    for number, price, last in zip(
        ascent.relaxed.numbers.tolist(),
        ascent.prices.tolist(),
        ascent.of_prices.last.tolist(),
        strict=True,
    ):
        if number in before:
            assert (price, last) == (before[number], went[number])
        else:
            new += 1
            assert (price, last) == (proof.prices[number], 0)
    assert new == added > 0


def test_where_much_was_lacking_it_begins_from_the_best_prices(ascent):
    ascent.climb(2.0, math.inf, iter([False] * 80 + [True]).__next__)
    proof = ascent.prove()
    ascent.value = proof.bound + abs(proof.bound) + 1.0

    ascent.widen(proof)

    np.testing.assert_array_equal(ascent.prices, proof.prices[ascent.relaxed.numbers])
    assert not ascent.of_prices.last.any()
    assert ascent.pace.length == 1.0

"""Whether enough will be alive: against counting it out, and what a test would tell of it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr
from scipy.stats import binom

from library.science.longevity import longevity_of
from library.science.posterior import LotRecord, LotTest, weights_of
from library.science.posterior_grid import the_grid
from library.science.regrowth import StartAgain, chances_enough_alive, outcomes_of_test
from library.science.viability import Stretch

LONGEVITY = longevity_of(constants=None, longevity_years=4, oil_percent=20)
CURVE = LONGEVITY.expected_loss([Stretch(days=1500, temperature_c=18, moisture_percent=8)])
TESTED = (LotTest(day=900, germinated=70, sown=100),)


def asked(*, tests=(), day=2500.0, seeds=100, needed=40) -> StartAgain:
    record = LotRecord(longevity=LONGEVITY, curve=CURVE, tests=tests)
    return StartAgain(record=record, day=day, seeds=seeds, needed=needed)


def chance(question: StartAgain) -> float:
    (only,) = chances_enough_alive([question])
    return only


@pytest.mark.parametrize("tests", [(), TESTED])
@pytest.mark.parametrize(("seeds", "needed"), [(100, 40), (12, 12), (3000, 1), (40, 39)])
def test_it_is_the_binomial_tail_over_every_cell_of_the_posterior(tests, seeds, needed):
    question, grid = asked(tests=tests, seeds=seeds, needed=needed), the_grid()
    weights = weights_of([question.record])[0]
    shares = ndtr(grid.initials - grid.rates * question.record.curve.at(question.day))

    by_hand = math.fsum(
        w * binom.sf(needed - 1, seeds, v) for w, v in zip(weights, shares, strict=True)
    )

    assert chance(question) == pytest.approx(by_hand, abs=1e-9)


def test_too_few_seeds_are_never_enough_and_none_needed_always_are():
    assert chance(asked(seeds=39, needed=40)) == 0
    assert chance(asked(seeds=0, needed=0)) == pytest.approx(1)


def test_many_at_once_are_what_each_is_alone():
    questions = [asked(seeds=n, needed=20, tests=TESTED if n % 2 else ()) for n in range(300)]

    assert chances_enough_alive(questions) == pytest.approx([chance(one) for one in questions])


@given(st.integers(1, 200), st.integers(0, 60), st.floats(0, 4000))
def test_more_seeds_fewer_needed_and_less_time_never_lower_it(seeds, needed, day):
    now = asked(seeds=seeds, needed=needed, day=day)
    better = [
        replace(now, seeds=seeds + 1),
        replace(now, needed=max(0, needed - 1)),
        replace(now, day=day / 2),
    ]

    base, *chances = chances_enough_alive([now, *better])

    assert 0 <= base <= 1
    assert all(chance >= base - 1e-9 for chance in chances)


# What a test would show


@pytest.mark.parametrize("tests", [(), TESTED])
def test_what_a_test_may_show_adds_up_to_what_is_believed_now(tests):
    question = asked(tests=tests, seeds=300, needed=100)

    shown = outcomes_of_test(question, tested_on=1500, seeds=50)

    assert len(shown) == 51
    assert math.fsum(one.chance for one in shown) == pytest.approx(1)
    left = chance(replace(question, seeds=250))
    assert math.fsum(one.chance * one.alive for one in shown) == pytest.approx(left, abs=1e-6)


def test_more_sprouts_are_better_news():
    shown = outcomes_of_test(asked(seeds=300, needed=100), tested_on=1500, seeds=50)

    alive = [one.alive for one in shown]
    assert alive == sorted(alive)
    assert alive[0] < 0.01 < 0.9 < alive[-1]


def test_a_lot_that_was_tested_much_has_less_to_tell():
    def unsettled(tests) -> float:
        question = asked(tests=tests, seeds=300, needed=100)
        shown = outcomes_of_test(question, tested_on=1500, seeds=50)
        return math.fsum(one.chance * abs(one.alive - chance(question)) for one in shown)

    often = tuple(LotTest(day=day, germinated=80, sown=100) for day in range(900, 1500, 50))

    assert unsettled(often) < unsettled(())


@pytest.mark.parametrize(("seeds", "tested_on"), [(0, 10), (101, 10), (10, 2501), (10, -1)])
def test_what_cannot_be_tested_is_refused(seeds, tested_on):
    with pytest.raises(ValueError, match="test"):
        outcomes_of_test(asked(), tested_on=tested_on, seeds=seeds)


@pytest.mark.parametrize("wrong", [{"seeds": -1}, {"needed": -1}, {"day": -1.0}])
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match=r"counted|day"):
        asked(**wrong)

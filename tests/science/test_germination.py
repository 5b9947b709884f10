"""Percentages, agreement of replicates, and the days by which lots are tested."""

import math
from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.science.germination import (
    exact_interval,
    first_test_due,
    label_tolerance,
    percent,
    replicates_agree,
    tolerated_range,
)


@st.composite
def counted(draw):
    sown = draw(st.integers(1, 2000))
    return draw(st.integers(0, sown)), sown


@given(counted())
def test_the_interval_holds_the_share_that_was_counted(test):
    germinated, sown = test

    low, high = exact_interval(germinated, sown)

    assert 0 <= low <= germinated / sown <= high <= 1


@given(counted())
def test_the_interval_of_the_seed_that_failed_is_the_mirror_image(test):
    germinated, sown = test

    low, high = exact_interval(germinated, sown)
    mirrored_low, mirrored_high = exact_interval(sown - germinated, sown)

    assert (low, high) == pytest.approx((1 - mirrored_high, 1 - mirrored_low), abs=1e-9)


@pytest.mark.parametrize("kind", [np.int64, np.float64, Decimal, float])
def test_counts_of_every_kind_of_number_will_do(kind):
    assert exact_interval(kind(81), kind(100), Decimal("0.95")) == exact_interval(81, 100)
    assert tolerated_range(kind(90), kind(4), kind(100)) == 12


def test_a_mean_between_two_whole_percents_counts_as_the_upper():
    assert tolerated_range(98.5, 4, 100) == tolerated_range(99, 4, 100) == 5
    assert tolerated_range(99.5, 4, 100) == tolerated_range(100, 4, 100) == 3


@pytest.mark.parametrize("mean", [-0.1, 100.1, math.nan])
def test_a_mean_that_no_test_can_have_is_refused(mean):
    with pytest.raises(ValueError, match="from 0 to 100 percent"):
        tolerated_range(mean, 4, 100)
    with pytest.raises(ValueError, match="is 0 to 100 percent"):
        label_tolerance(mean)


def test_half_a_seed_is_refused():
    with pytest.raises(ValueError, match=r"that germinated is a whole number, not 8\.5"):
        exact_interval(8.5, 10)
    with pytest.raises(ValueError, match=r"The number of replicates is a whole number"):
        tolerated_range(90, 2.5, 100)


def test_the_interval_takes_keywords_and_widens_with_confidence():
    low95, high95 = exact_interval(germinated=81, sown=100, confidence=0.95)
    low99, high99 = exact_interval(germinated=81, sown=100, confidence=0.99)

    assert low99 < low95 < high95 < high99


@pytest.mark.parametrize(
    ("germinated", "sown", "confidence", "sentence"),
    [
        (0, 0, 0.95, "A test needs at least 1 seed sown, not 0."),
        (11, 10, 0.95, "Of 10 seeds sown, 0 to 10 can germinate, not 11."),
        (-1, 10, 0.95, "Of 10 seeds sown, 0 to 10 can germinate, not -1."),
        (5, 10, 1, "The confidence lies between 0 and 1, such as 0.95, not 1."),
    ],
)
def test_an_impossible_test_is_refused(germinated, sown, confidence, sentence):
    with pytest.raises(ValueError) as refusal:  # noqa: PT011 - the sentence is compared whole
        exact_interval(germinated, sown, confidence)

    assert str(refusal.value) == sentence


@pytest.mark.parametrize(
    ("normal", "sown", "whole"),
    [
        (0, 50, 0),
        (50, 50, 100),
        (1, 3, 33),
        (2, 3, 67),
        (1, 200, 1),
        (173, 200, 87),
        (1, 201, 0),
    ],
)
def test_a_percentage_is_whole_and_an_exact_half_goes_up(normal, sown, whole):
    assert percent(normal, sown) == whole


def test_replicates_that_lie_close_agree():
    check = replicates_agree([90, 92, 88, 91], 100)

    assert check
    assert (check.range_percent, check.tolerated_percent) == (4, 12)


def test_replicates_that_lie_far_apart_do_not_agree_and_say_so():
    check = replicates_agree([90, 92, 79, 95], 100)

    assert not check
    assert check.sentence == (
        "The replicates differ too much: the test should be done again: they lie 16 points "
        "apart, and 12 are tolerated at a mean of 89 %."
    )


def test_replicates_exactly_at_the_tolerance_agree():
    assert replicates_agree([84, 96, 90, 90], 100)
    assert not replicates_agree([84, 97, 90, 89], 100)


def test_replicates_of_different_size_are_compared_by_their_percentages():
    check = replicates_agree([45, 90], [50, 100])

    assert check
    assert (check.range_percent, check.mean_percent) == (0, 90)


@pytest.mark.parametrize(
    ("counts", "seeds_each", "sentence"),
    [
        ([5], 10, "Comparing replicates needs 2 to 16 of them, not 1."),
        ([], 10, "Comparing replicates needs 2 to 16 of them, not 0."),
        ([5, 11], 10, "Of 10 seeds sown, 0 to 10 can germinate, not 11."),
        ([5, 5], 0, "A test needs at least 1 seed sown, not 0."),
        ([5, 5], [10], "There are 2 counts but 1 numbers of seeds sown."),
    ],
)
def test_replicates_that_cannot_be_compared_are_refused(counts, seeds_each, sentence):
    with pytest.raises(ValueError) as refusal:  # noqa: PT011 - the sentence is compared whole
        replicates_agree(counts, seeds_each)

    assert str(refusal.value) == sentence


@pytest.mark.parametrize("mean", [-0.1, 100.1])
def test_a_mean_out_of_range_is_refused(mean):
    with pytest.raises(ValueError, match="from 0 to 100 percent"):
        tolerated_range(mean_percent=mean, replicates=4, seeds_each=100)


def test_a_new_lot_is_tested_within_ninety_days():
    advice = first_test_due(received_on=date(2026, 10, 3))

    assert advice.due_on == date(2027, 1, 1)
    assert advice.rule == "first_test"
    assert advice.inputs == {"received_on": "2026-10-03", "within_days": 90}
    assert advice.source == "FAO Genebank Standards 2014, 4.3.1"


@pytest.mark.parametrize("days", [0, 366])
def test_a_first_test_cannot_wait_longer_than_a_year(days):
    with pytest.raises(ValueError, match="1 to 365 days of receipt"):
        first_test_due(received_on=date(2026, 10, 3), within_days=days)

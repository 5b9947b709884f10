"""One lot's viability read without steps: against its formulas, and a grid done by hand."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy.stats import norm

from library.science.longevity import longevity_of
from library.science.posterior import LotTest, estimate
from library.science.posterior_curve import fine_estimate
from library.science.posterior_grid import BETWEEN_TESTS, INITIAL_PROBIT, INITIAL_SPREAD
from library.science.viability import Stretch

LONGEVITY = longevity_of(constants=None, longevity_years=4, oil_percent=20)
HISTORY = [Stretch(days=1500, temperature_c=18, moisture_percent=8)]
MANY = [
    LotTest(day=day, germinated=germinated, sown=100)
    for day, germinated in ((90, 97), (400, 95), (700, 93), (1000, 86), (1200, 80), (1450, 71))
]
FEW = [LotTest(day=500, germinated=9, sown=10)]
DAYS = [0.0, 200.0, 900.0, 1500.0, 2100.0, 3000.0]


def of_lot(tests, standard=0.7):
    return estimate(tests=tests, history=HISTORY, longevity=LONGEVITY, standard=standard)


def by_hand(tests, loss_at, loss, standard):
    """The same model on 1500 by 1500 cells, summed in the plainest way."""
    initials = np.linspace(-2.0, 3.9, 1500)[:, None]
    log_rates = np.linspace(-3.2, 3.2, 1500)[None, :]
    log_weight = norm.logpdf(initials, INITIAL_PROBIT, INITIAL_SPREAD) + norm.logpdf(
        log_rates, 0, LONGEVITY.spread
    )
    for test in tests:
        share = norm.cdf(initials - np.exp(log_rates) * loss_at(test.day))
        share = np.clip(share, 1e-9, 1 - 1e-9)
        counts = 1 / (1 + (test.sown - 1) * BETWEEN_TESTS)
        dead = test.sown - test.germinated
        log_weight = log_weight + counts * (
            test.germinated * np.log(share) + dead * np.log(1 - share)
        )
    weight = np.exp(log_weight - log_weight.max()).ravel()
    weight /= weight.sum()
    alive = norm.cdf(initials - np.exp(log_rates) * loss).ravel()
    order = np.argsort(alive)
    below = np.cumsum(weight[order])
    quantiles = [alive[order][np.searchsorted(below, q)] for q in (0.05, 0.5, 0.95)]
    return [*quantiles, weight[alive >= standard].sum()]


@pytest.mark.parametrize("tests", [[], FEW, MANY], ids=["none", "few", "many"])
@pytest.mark.parametrize("day", DAYS)
def test_it_reads_what_a_grid_a_hundred_times_finer_says(tests, day):
    lot = of_lot(tests)

    found = fine_estimate(lot).on(day)

    expected = by_hand(tests, lot.curve.at, lot.curve.at(day), 0.7)
    # Within a quarter of a point: finer than a page prints, and that grid has steps as well.
    shown = [found.low, found.median, found.high, found.chance_above]
    assert shown == pytest.approx(expected, abs=0.0025)


def test_without_a_test_it_begins_with_the_prior():
    found = fine_estimate(of_lot([])).on(0)

    # The normal distribution of the initial viability, in probits (its own formula).
    expected = [norm.cdf(INITIAL_PROBIT + z * INITIAL_SPREAD) for z in (-1.6449, 0, 1.6449)]
    assert [found.low, found.median, found.high] == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize("tests", [[], FEW, MANY], ids=["none", "few", "many"])
def test_seed_never_gets_better(tests):
    fine = fine_estimate(of_lot(tests))

    days = [fine.on(day) for day in range(0, 8000, 25)]

    rises = [
        (name, later.day)
        for earlier, later in itertools.pairwise(days)
        for name in ("low", "median", "high", "chance_above")
        if getattr(later, name) > getattr(earlier, name) + 1e-6
    ]
    assert rises == []


@pytest.mark.parametrize("day", DAYS)
def test_it_agrees_with_the_grid_of_all_lots_to_a_few_points(day):
    lot = of_lot(FEW)

    coarse, fine = lot.on(day), fine_estimate(lot).on(day)

    assert abs(coarse.median - fine.median) < 0.03
    assert abs(coarse.chance_above - fine.chance_above) < 0.03


def test_a_day_before_storage_is_refused():
    with pytest.raises(ValueError, match="0 or more"):
        fine_estimate(of_lot(FEW)).on(-1)


def test_the_far_future_is_none_alive():
    found = fine_estimate(of_lot(MANY)).on(400_000)

    assert (round(found.median, 6), round(found.chance_above, 6)) == (0, 0)
    assert math.isfinite(found.low)

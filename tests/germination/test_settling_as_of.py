"""Settling a history that is told in order, years later."""

from __future__ import annotations

import datetime as dt

import pytest

from library.germination import services
from library.germination.dates import as_of, settle
from library.germination.models import LotEstimate

THEN = dt.date(2019, 2, 1)


@pytest.fixture
def lot(make_lot, variety):
    return make_lot(variety, seeds=2000, harvest_year=2018, on=dt.date(2018, 12, 1))


def median(lot) -> float:
    return LotEstimate.objects.get(lot=lot).median


def test_within_a_day_a_lot_is_estimated_for_that_day(lot, desk):
    with as_of(THEN):
        services.record_test(
            lot=lot,
            replicates=[{"seeds": 50, "normal": 47}, {"seeds": 50, "normal": 46}],
            started_on=THEN - dt.timedelta(days=12),
            closed_on=THEN,
            by=desk,
        )

    then = median(lot)
    settle(lot)
    assert then == pytest.approx(0.92, abs=0.04)
    assert median(lot) < then


def test_a_day_that_is_given_goes_before_it(lot):
    with as_of(THEN):
        settle(lot, on=THEN + dt.timedelta(days=900))

    assert LotEstimate.objects.get(lot=lot).on == THEN + dt.timedelta(days=900)


def test_after_it_today_is_today_again(lot, today):
    with pytest.raises(RuntimeError), as_of(THEN):
        raise RuntimeError

    settle(lot)

    assert LotEstimate.objects.get(lot=lot).on == today

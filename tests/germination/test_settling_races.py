"""Two people settle one lot at once, on PostgreSQL with real threads, beside a control."""

from __future__ import annotations

import datetime as dt
import threading

import pytest
from django.db import connection, transaction

from library.germination import services
from library.germination.dates import settle
from library.germination.estimates import counted_tests, estimate_of
from library.germination.models import GerminationTest, LotEstimate, TestDate
from library.stock import services as stock
from library.stock.models import Lot
from tests.germination.test_races import all_at_once

START, END = dt.date(2025, 11, 1), dt.date(2025, 11, 9)

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(connection.vendor != "postgresql", reason="needs it"),
]


def test_a_lot_that_is_tested_moved_and_amended_at_once_is_settled_by_all_of_it(
    make_lot, variety, desk
):
    lot = make_lot(variety, seeds=2000, harvest_year=2025)
    freezer = stock.add_storage_place(
        name="Freezer", kind="freezer", temperature_c=-18, by=desk
    )
    test = services.start_test(lot=lot, replicates=1, seeds_each=50, on=START, by=desk)

    def close():
        services.close_test(test=test, replicates=[{"normal": 45}], on=END, by=desk)

    def move():
        stock.move_lot(lot=Lot.objects.get(pk=lot.pk), storage_place=freezer, on=END, by=desk)

    def amend():
        stock.amend_lot(
            lot=lot, field="moisture_percent", value="7", reason="measured", by=desk
        )

    got = all_at_once(close, move, amend, *[lambda: settle_alone(lot)] * 3)

    row, now = LotEstimate.objects.get(), estimate_of(Lot.objects.get(pk=lot.pk))
    assert got == 6
    assert row.evidence == [[test.pk, 45, 50]]
    assert row.median == pytest.approx(now.on(row.on).median)
    assert TestDate.objects.get().kind == "retest"


def settle_alone(lot):
    with transaction.atomic():
        settle(lot)


def test_control_settling_without_the_lots_row_keeps_what_was_overtaken(make_lot, desk):
    lot = make_lot(seeds=2000)
    tests = [
        services.start_test(lot=lot, replicates=1, seeds_each=50, on=START, by=desk)
        for _ in range(2)
    ]
    everybody_has_read = threading.Barrier(2, timeout=60)
    kept = []

    def close(test):
        with transaction.atomic():
            GerminationTest.objects.filter(pk=test.pk).update(state="closed", closed_on=END)
            known = counted_tests(Lot.objects.get(pk=lot.pk))
            everybody_has_read.wait()
            kept.append(len(known))

    assert all_at_once(*[lambda t=t: close(t) for t in tests]) == 2
    assert kept == [1, 1]

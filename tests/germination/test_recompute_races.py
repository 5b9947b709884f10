"""The recompute beside people at the bench, on PostgreSQL with real threads."""

from __future__ import annotations

import datetime as dt
import threading
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import pytest
from django.db import connections, transaction

from library.germination import services
from library.germination.models import LotEstimate, Recompute
from library.germination.recompute import recompute
from library.stock.models import Lot

START, END = dt.date(2025, 11, 1), dt.date(2025, 11, 9)
TODAY = dt.date(2026, 11, 20)

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif("connections['default'].vendor != 'postgresql'", reason="needs it"),
]


def all_at_once(*jobs):
    """Run every job in its own thread, starting together; what each gave."""
    gate = threading.Barrier(len(jobs))

    def run(job):
        try:
            gate.wait()
            return job()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(jobs)) as pool:
        return list(pool.map(run, jobs))


@pytest.fixture
def lots(make_lot, variety):
    return [make_lot(variety) for _ in range(12)]


def test_no_test_that_is_closed_meanwhile_is_forgotten(lots, desk):
    def close_tests(some):
        for lot in some:
            services.record_test(
                lot=lot,
                replicates=[{"seeds": 50, "normal": 44}],
                started_on=START,
                closed_on=END,
                by=desk,
            )

    all_at_once(
        partial(recompute, on=TODAY, batch=3),
        partial(recompute, on=TODAY, batch=2, from_end=True),
        partial(close_tests, lots[::2]),
        partial(close_tests, lots[::-2]),
    )

    evidence = LotEstimate.objects.values_list("lot_id", "evidence")
    tests = {lot.pk: lot.germination_tests.get().pk for lot in lots}
    assert {lot: [test for test, *_ in rows] for lot, rows in evidence} == {
        lot: [test] for lot, test in tests.items()
    }
    assert Recompute.current().is_over(TODAY)


def test_two_processes_do_each_lot_once(lots):
    all_at_once(
        partial(recompute, on=TODAY, batch=1),
        partial(recompute, on=TODAY, batch=1, from_end=True),
    )

    round_ = Recompute.current()
    assert (round_.lots, round_.total) == (12, 12)
    assert LotEstimate.objects.filter(on=TODAY).count() == 12


def test_a_lot_that_somebody_holds_is_done_when_they_let_go(lots):
    holds, may_go = threading.Event(), threading.Event()

    def hold():
        with transaction.atomic():
            Lot.objects.select_for_update().get(pk=lots[3].pk)
            holds.set()
            may_go.wait(20)

    def work():
        holds.wait(20)
        return recompute(on=TODAY, progress=lambda _: None)

    def let_go():
        holds.wait(20)
        while Recompute.current().lots < 12:  # the others are written, this one is waited for
            may_go.wait(0.05)
        waited_for = not LotEstimate.objects.filter(lot=lots[3]).exists()
        may_go.set()
        return waited_for

    _, done, waited_for = all_at_once(hold, work, let_go)

    assert waited_for
    assert done.lots == 12
    assert LotEstimate.objects.filter(on=TODAY).count() == 12

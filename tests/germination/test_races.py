"""Two people at one bench, on PostgreSQL with real threads, beside a control that must fail."""

from __future__ import annotations

import datetime as dt
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connections, transaction

from library.errors import Refused
from library.germination import services
from library.germination.models import GerminationTest, TestDate
from library.stock.checks import problems

START, END = dt.date(2025, 11, 1), dt.date(2025, 11, 9)

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif("connections['default'].vendor != 'postgresql'", reason="needs it"),
]


def all_at_once(*jobs):
    """Run every job in its own thread, starting together; how many were not refused."""
    gate = threading.Barrier(len(jobs))

    def run(job):
        try:
            gate.wait()
            job()
            return 1
        except Refused:
            return 0
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(jobs)) as pool:
        return sum(pool.map(run, jobs))


@pytest.fixture
def running(make_lot, desk):
    return services.start_test(lot=make_lot(), replicates=1, seeds_each=50, on=START, by=desk)


def test_a_test_is_closed_by_whoever_comes_first(running, desk):
    def close(normal):
        mine = GerminationTest.objects.get(pk=running.pk)
        counts = [{"normal": normal}]
        services.close_test(test=mine, replicates=counts, on=END, by=desk)

    got = all_at_once(*[lambda n=n: close(n) for n in range(40, 48)])

    assert got == 1
    assert TestDate.objects.count() == 1


def test_control_looking_before_closing_closes_a_test_many_times(running):
    everybody_has_looked = threading.Barrier(4, timeout=20)

    def close():
        with transaction.atomic():
            mine = GerminationTest.objects.get(pk=running.pk)
            everybody_has_looked.wait()
            if mine.state != "running":
                raise Refused("closed already")
            mine.state, mine.closed_on = "closed", END
            mine.save(update_fields=["state", "closed_on"])

    assert all_at_once(*[close] * 4) == 4


def test_two_tests_of_one_lot_closed_at_once_leave_one_day(make_lot, desk):
    lot = make_lot()
    tests = [
        services.start_test(lot=lot, replicates=1, seeds_each=50, on=START, by=desk)
        for _ in range(4)
    ]

    def close(test, day):
        counts = [{"normal": 45}]
        services.close_test(test=test, replicates=counts, on=day, by=desk)

    days = [END + dt.timedelta(days=n) for n in range(4)]
    got = all_at_once(*[lambda t=t, d=d: close(t, d) for t, d in zip(tests, days, strict=True)])

    assert got == 4
    assert TestDate.objects.get().inputs["tested_on"] == days[-1].isoformat()


def test_of_many_tests_at_once_none_draws_seed_that_is_not_there(make_lot, desk):
    lot = make_lot(seeds=120, packets=2, seeds_each=20)

    def start():
        services.start_test(lot=lot, replicates=1, seeds_each=50, on=START, by=desk)

    got = all_at_once(*[start] * 8)

    lot.refresh_from_db()
    assert (got, lot.balance) == (2, 20)
    assert list(problems()) == []

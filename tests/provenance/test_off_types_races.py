"""Two at once on PostgreSQL with real threads, each beside a control without the guard, which
must go wrong, or the race would prove nothing.
"""

from __future__ import annotations

import datetime as dt
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection, connections, transaction

from library.errors import Refused
from library.provenance.models import OffTypeClearance, OffTypeReport
from library.provenance.services import clear_of_report, lift_report, report_off_types

ON = dt.date(2026, 8, 20)
THREADS = 8

pytestmark = [
    pytest.mark.usefixtures("november"),
    pytest.mark.postgres,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(connection.vendor != "postgresql", reason="needs PostgreSQL"),
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
def report(start, variety, member):
    return report_off_types(
        lot=start(variety), seen_on=ON, what="two plants with red stems", by=member, on=ON
    )


def test_of_many_who_lift_a_report_one_does(report, coordinator):
    def lift(n):
        mine = OffTypeReport.objects.get(pk=report.pk)
        lift_report(report=mine, reason=f"reason {n}", by=coordinator, on=ON)

    assert all_at_once(*[lambda n=n: lift(n) for n in range(THREADS)]) == 1


def test_control_looking_first_and_saving_later_lets_all_of_them_believe_it(report):
    everybody_has_looked = threading.Barrier(THREADS, timeout=20)

    def lift():
        mine = OffTypeReport.objects.get(pk=report.pk)
        everybody_has_looked.wait()
        if not mine.stands:
            raise Refused("lifted already")

    assert all_at_once(*[lift] * THREADS) == THREADS


def test_a_report_is_not_lifted_and_a_lot_cleared_of_it_in_one_moment(
    report, grow, coordinator
):
    """Whichever is first: after lifting nothing is cleared any more."""
    child = grow(report.lot, year=2024)
    done = []

    def lift():
        lift_report(report=report, reason="mislabelled", by=coordinator, on=ON)
        done.append("lifted")

    def clear():
        clear_of_report(report=report, lot=child, reason="true", by=coordinator, on=ON)
        done.append("cleared")

    all_at_once(lift, *[clear] * THREADS)

    assert done.count("lifted") == 1
    assert done.count("cleared") == OffTypeClearance.objects.count() <= 1


def test_of_many_who_clear_a_lot_one_does_and_the_others_are_told(report, grow, coordinator):
    child = grow(report.lot, year=2024)

    def clear():
        clear_of_report(report=report, lot=child, reason="true", by=coordinator, on=ON)

    assert all_at_once(*[clear] * THREADS) == 1
    assert OffTypeClearance.objects.count() == 1


def test_the_same_report_sent_many_times_at_once_is_one(start, variety, member):
    lot = start(variety)

    def send():
        report_off_types(lot=lot, seen_on=ON, what="red stems", by=member, on=ON)

    assert all_at_once(*[send] * THREADS) == 1
    assert OffTypeReport.objects.count() == 1


def test_control_without_holding_the_lot_it_is_several(start, variety, member):
    lot = start(variety)
    everybody_has_looked = threading.Barrier(THREADS, timeout=20)

    def send():
        with transaction.atomic():
            facts = {"seen_on": ON, "what": "red stems", "reported_by": member}
            there = lot.off_type_reports.standing().filter(**facts).exists()
            everybody_has_looked.wait()
            if there:
                raise Refused("said already")
            OffTypeReport.objects.create(lot=lot, **facts)

    assert all_at_once(*[send] * THREADS) > 1

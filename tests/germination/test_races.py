"""Two people at one bench, on PostgreSQL with real threads, beside a control that must fail."""

from __future__ import annotations

import datetime as dt
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connections, transaction

from library.errors import Refused
from library.germination import services
from library.germination.models import (
    BenchRules,
    DayCount,
    GerminationTest,
    Replicate,
    TestAmendment,
    TestDate,
)
from library.stock import services as stock
from library.stock.checks import problems
from library.stock.models import Movement

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


def test_two_phones_at_one_dish_lose_no_count(running, desk):
    def count(day):
        dish = Replicate.objects.get()
        on = START + dt.timedelta(days=day)
        services.count_dish(dish=dish, on=on, by=desk, normal=5)

    got = all_at_once(*[lambda day=day: count(day) for day in range(8)])

    assert (got, Replicate.objects.get().normal, DayCount.objects.count()) == (8, 40, 8)


def test_control_adding_to_what_was_read_loses_counts(running):
    everybody_has_looked = threading.Barrier(4, timeout=20)

    def count():
        with transaction.atomic():
            dish = Replicate.objects.get()
            everybody_has_looked.wait()
            dish.normal += 5
            dish.save(update_fields=["normal"])

    assert all_at_once(*[count] * 4) == 4
    assert Replicate.objects.get().normal == 5


def test_many_phones_count_no_more_than_was_sown(running, desk):
    def count(day):
        dish = Replicate.objects.get()
        on = START + dt.timedelta(days=day)
        services.count_dish(dish=dish, on=on, by=desk, normal=12)

    got = all_at_once(*[lambda day=day: count(day) for day in range(8)])

    assert (got, Replicate.objects.get().normal, DayCount.objects.count()) == (4, 48, 4)


def test_a_count_comes_before_the_closing_or_not_at_all(running, desk):
    def count(day):
        on = START + dt.timedelta(days=day)
        services.count_dish(dish=Replicate.objects.get(), on=on, by=desk, normal=3)

    def close():
        mine = GerminationTest.objects.get(pk=running.pk)
        services.close_test(test=mine, replicates=[{}], on=END, by=desk)

    counts = [lambda day=day: count(day) for day in range(6)]
    got = all_at_once(*counts, close)

    dish = Replicate.objects.get()
    assert GerminationTest.objects.get().state == "closed"
    assert dish.normal == 3 * DayCount.objects.count() == 3 * (got - 1)
    assert dish.normal + dish.dead == 50


@pytest.fixture
def few_seeds(make_lot, desk):
    lot = make_lot(seeds=400)
    return services.plan_test(lot=lot, kind="sequential", on=START, by=desk)


def drawn(lot):
    return list(
        Movement.objects.filter(lot=lot, kind="drawn_for_test")
        .order_by("pk")
        .values_list("loose_change", flat=True)
    )


def test_a_planned_test_is_begun_by_whoever_comes_first(few_seeds, desk):
    def begin():
        mine = GerminationTest.objects.get(pk=few_seeds.pk)
        services.begin_test(test=mine, on=START, by=desk)

    assert all_at_once(*[begin] * 8) == 1
    assert drawn(few_seeds.lot) == [-10]


def test_control_looking_before_beginning_draws_the_seed_many_times(few_seeds, desk):
    everybody_has_looked = threading.Barrier(4, timeout=20)

    def begin():
        with transaction.atomic():
            mine = GerminationTest.objects.get(pk=few_seeds.pk)
            everybody_has_looked.wait()
            if mine.state != "planned":
                raise Refused("begun already")
            stock.draw_for_test(lot=mine.lot, seeds=10, on=START, by=desk)
            GerminationTest.objects.filter(pk=mine.pk).update(state="running")

    assert all_at_once(*[begin] * 4) == 4
    assert drawn(few_seeds.lot) == [-10] * 4


def test_a_group_is_finished_once_and_followed_by_one(few_seeds, desk):
    services.begin_test(test=few_seeds, on=START, by=desk)
    services.count_dish(dish=few_seeds.replicates.get(), on=START, by=desk, normal=7)

    def do(service):
        mine = GerminationTest.objects.get(pk=few_seeds.pk)
        service(test=mine, on=START, by=desk)

    finished = all_at_once(*[lambda: do(services.finish_group)] * 8)
    sown = all_at_once(*[lambda: do(services.sow_more)] * 8)

    assert (finished, sown) == (1, 1)
    assert list(Replicate.objects.values_list("number", "seeds")) == [(1, 10), (2, 10)]
    assert drawn(few_seeds.lot) == [-10, -10]


def test_a_test_keeps_to_its_share_of_a_lot_that_is_leaving(few_seeds, desk):
    lot, share = few_seeds.lot, BenchRules.current().test_share_percent

    def begin():
        mine = GerminationTest.objects.get(pk=few_seeds.pk)
        services.begin_test(test=mine, on=START, by=desk)

    def leave():
        stock.discard(lot=lot, seeds=30, on=START, by=desk, reason="mice")

    assert all_at_once(begin, *[leave] * 7) == 8

    draw = Movement.objects.get(lot=lot, kind="drawn_for_test")
    before = Movement.objects.filter(lot=lot, pk__lt=draw.pk).values_list(
        "loose_change", flat=True
    )
    assert GerminationTest.objects.get().most_seeds == sum(before) * share // 100


def test_each_of_many_amendments_knows_the_one_before(running, desk):
    services.close_test(test=running, replicates=[{"normal": 40}], on=END, by=desk)

    def amend(normal):
        mine = GerminationTest.objects.get(pk=running.pk)
        services.amend_test(test=mine, reason="slip", dishes={1: {"normal": normal}}, by=desk)

    got = all_at_once(*[lambda n=n: amend(n) for n in range(30, 36)])

    chain = list(TestAmendment.objects.order_by("pk"))
    said = [40, *(amendment.new_value["normal"] for amendment in chain)]
    assert (got, len(chain)) == (6, 6)
    assert [amendment.old_value["normal"] for amendment in chain] == said[:-1]
    assert Replicate.objects.get().normal == said[-1]


def test_control_amending_what_was_read_forgets_an_amendment(running, desk):
    services.close_test(test=running, replicates=[{"normal": 40}], on=END, by=desk)
    everybody_has_looked = threading.Barrier(4, timeout=20)

    def amend(normal):
        with transaction.atomic():
            dish = Replicate.objects.get()
            everybody_has_looked.wait()
            TestAmendment.objects.create(
                test=running,
                field="dish 1",
                old_value={"normal": dish.normal},
                new_value={"normal": normal},
                reason="slip",
            )

    all_at_once(*[lambda n=n: amend(n) for n in range(30, 34)])

    old = {amendment.old_value["normal"] for amendment in TestAmendment.objects.all()}
    assert old == {40}

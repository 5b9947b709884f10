"""Dishes are counted day by day, each count saved at once, and closed with all of it."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from library.errors import Conflict, Refused
from library.germination import services
from library.germination.models import BenchRules, DayCount, Replicate, TestDate

ON = dt.date(2025, 11, 1)
DAY_5, DAY_7, DAY_9 = (ON + dt.timedelta(days=days) for days in (5, 7, 9))


@pytest.fixture
def running(make_lot, variety, desk):
    """Two dishes of 50 seeds."""
    lot = make_lot(variety, seeds=2000)
    return services.start_test(lot=lot, replicates=2, seeds_each=50, on=ON, by=desk)


@pytest.fixture
def dish(running):
    return running.replicates.get(number=1)


@pytest.fixture
def count(desk):
    def do(dish, on=DAY_5, **counted):
        return services.count_dish(dish=dish, on=on, by=desk, **counted)

    return do


@pytest.fixture
def close(running, desk):
    def do(*dishes, on=DAY_9):
        return services.close_test(test=running, replicates=dishes, on=on, by=desk)

    return do


def sums_of(dish):
    return Replicate.objects.values_list("normal", "abnormal", "hard", "fresh", "dead").get(
        pk=dish.pk
    )


def test_each_days_count_is_kept_and_the_dish_holds_their_sum(dish, count, desk):
    count(dish, normal=20, abnormal=1)
    counted = count(dish, on=DAY_7, normal=15, dead=2)

    assert (counted.normal, counted.abnormal, counted.dead) == (35, 1, 2)
    assert sums_of(dish) == (35, 1, 0, 0, 2)
    assert list(dish.day_counts.values_list("on", "normal", "abnormal", "dead")) == [
        (DAY_5, 20, 1, 0),
        (DAY_7, 15, 0, 2),
    ]
    assert {day.recorded_by for day in dish.day_counts.all()} == {desk}


def test_a_count_sent_twice_counts_once(dish, count):
    count(dish, normal=20)
    count(dish, normal=20)

    assert sums_of(dish) == (20, 0, 0, 0, 0)


def test_a_days_count_is_corrected_by_saying_it_again(dish, count):
    count(dish, normal=20)
    count(dish, on=DAY_7, normal=10)

    count(dish, normal=12, abnormal=3)

    assert sums_of(dish) == (22, 3, 0, 0, 0)
    assert DayCount.objects.count() == 2


def test_no_more_is_counted_than_was_sown(dish, count):
    count(dish, normal=40)

    with pytest.raises(Refused) as refusal:
        count(dish, on=DAY_7, normal=8, dead=3)

    assert str(refusal.value) == "Dish 1 was sown with 50, but 51 were counted."
    assert (sums_of(dish), DayCount.objects.count()) == ((40, 0, 0, 0, 0), 1)
    assert dish.normal == 40


@pytest.mark.parametrize(
    ("counted", "field", "sentence"),
    [
        (
            {"normal": -1},
            "normal",
            "-1 is out of range: give a whole number from 0 to 1000.",
        ),
        (
            {"dead": 2.5},
            "dead",
            "“2.5” is not a whole number; seed is counted in whole numbers.",
        ),
        (
            {"on": dt.date(2025, 10, 31)},
            "on",
            "31 October 2025 is too early: the day the dish was sown was 1 November 2025.",
        ),
        (
            {"on": dt.date(2999, 1, 1)},
            "on",
            "1 January 2999 is still to come; give a day up to today.",
        ),
    ],
)
def test_a_count_that_cannot_be_is_refused(dish, count, counted, field, sentence):
    with pytest.raises(Refused) as refusal:
        count(dish, **counted)

    assert (refusal.value.field, str(refusal.value)) == (field, sentence)
    assert DayCount.objects.count() == 0


def test_a_planned_test_has_nothing_to_count(make_lot, desk, count):
    test = services.plan_test(lot=make_lot(), on=ON, by=desk)

    with pytest.raises(Conflict) as refusal:
        count(test.replicates.first(), normal=1)

    assert str(refusal.value) == f"Test {test.pk} is planned, not running."


def test_a_test_that_is_over_is_not_counted_on(running, dish, count, close, desk):
    close({"normal": 40}, {"normal": 41})

    with pytest.raises(Conflict) as closed:
        count(dish, normal=1)
    services.void_test(test=running, reason="mixed up", by=desk)
    with pytest.raises(Conflict) as void:
        count(dish, normal=1)

    assert str(closed.value) == f"Test {running.pk} is closed, not running."
    assert str(void.value) == f"Test {running.pk} is void, not running."
    assert sums_of(dish) == (40, 0, 0, 0, 10)


def test_closing_takes_totals_and_what_is_left_is_dead(dish, count, close):
    count(dish, normal=30, abnormal=2, dead=1)

    test = close({"normal": 42, "hard": 3}, {"normal": 44})

    assert (test.state, test.closed_on) == ("closed", DAY_9)
    assert [sums_of(each) for each in test.replicates.all()] == [
        (42, 2, 3, 0, 3),
        (44, 0, 0, 0, 6),
    ]
    assert {each.counted_on for each in test.replicates.all()} == {DAY_9}


def test_closing_with_nothing_more_to_say_keeps_what_was_counted_by_day(dish, count, close):
    count(dish, normal=30)
    count(dish, on=DAY_7, normal=12)

    close({}, {})

    assert sums_of(dish) == (42, 0, 0, 0, 8)


@pytest.mark.parametrize(
    ("last", "sentence"),
    [
        (
            {"normal": 25},
            "Dish 1: 30 normal were counted day by day, so there cannot be 25 in all. Correct "
            "the day that is wrong.",
        ),
        (
            {"normal": 48},
            "Dish 1: 4 dead were counted day by day, so there cannot be 2 in all. Correct the "
            "day that is wrong.",
        ),
        (
            {"normal": 40, "dead": 9},
            "Dish 1 was sown with 50, and its counts add up to 49; leave the dead out to have "
            "the rest counted as dead.",
        ),
        ({"normal": 40, "dead": 11}, "Dish 1 was sown with 50, but 51 were counted."),
        ({"normal": 51}, "Dish 1 was sown with 50, but 51 were counted."),
    ],
)
def test_last_counts_that_cannot_be_are_refused_and_the_test_runs_on(
    running, dish, count, close, last, sentence
):
    count(dish, normal=30, dead=4)

    with pytest.raises(Refused) as refusal:
        close(last, {"normal": 44})

    running.refresh_from_db()
    assert str(refusal.value) == sentence
    assert (running.state, sums_of(dish)) == ("running", (30, 0, 0, 0, 4))
    assert TestDate.objects.count() == 0


def test_a_test_is_not_closed_before_the_last_day_counted(dish, count, close):
    count(dish, on=DAY_9, normal=30)

    with pytest.raises(Refused) as refusal:
        close({}, {}, on=DAY_7)

    assert str(refusal.value) == (
        "8 November 2025 is too early: the last day a dish was counted was 10 November 2025."
    )


def test_a_planned_test_is_begun_before_it_is_closed(make_lot, desk):
    test = services.plan_test(lot=make_lot(), replicates=1, seeds_each=10, on=ON, by=desk)

    with pytest.raises(Conflict) as refusal:
        services.close_test(test=test, replicates=[{"normal": 9}], on=DAY_9, by=desk)

    assert str(refusal.value) == f"Test {test.pk} is planned, not running."


@pytest.mark.parametrize("days", [1, 6])
def test_counting_takes_as_many_questions_on_every_day(
    dish, count, days, django_assert_num_queries
):
    for day in range(days):
        count(dish, on=ON + dt.timedelta(days=day), normal=1)

    with django_assert_num_queries(13):
        count(dish, on=DAY_9, normal=1)


def test_closing_takes_as_many_questions_for_many_dishes(make_lot, desk):
    BenchRules.current()

    def questions(dishes):
        lot = make_lot()
        test = services.start_test(lot=lot, replicates=dishes, seeds_each=10, on=ON, by=desk)
        with CaptureQueriesContext(connection) as asked:
            counts = [{"normal": 9}] * dishes
            services.close_test(test=test, replicates=counts, on=DAY_9, by=desk)
        return len(asked)

    assert questions(2) == questions(6)

"""The bench's calendar: months, what their tests will cost, and the lots of one of them."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from library.errors import Refused
from library.germination import services
from library.germination.method import suggested_size
from library.germination.models import TestDate
from library.germination.pictures.calendar import (
    OVERDUE,
    _waiting,
    bar_of,
    calendar,
    due_in,
    month_after,
)
from library.stock import services as stock

TODAY = dt.date(2026, 11, 25)


@pytest.fixture
def today():
    with time_machine.travel(dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC), tick=False):
        yield TODAY


@pytest.fixture
def make_due(make_lot, variety):
    """``make_due(day, seeds=500)`` is a lot that is to be tested by that day."""

    def make(due_on, *, kind=TestDate.Kind.RETEST, **lot):
        lot = make_lot(variety, **lot)
        return TestDate.objects.create(
            lot=lot,
            kind=kind,
            due_on=due_on,
            rule="first_test",
            inputs={"received_on": "2025-10-01", "within_days": 90},
        )

    return make


def lines(months):
    return {month.key: (month.lots, month.seeds) for month in months if month.lots}


def test_the_calendar_has_what_is_overdue_this_month_and_twelve_more(db):
    keys = [month.key for month in calendar(TODAY).months]

    assert keys == [OVERDUE, "2026-11", "2026-12", *(f"2027-{n:02}" for n in range(1, 12))]


def test_each_lot_is_counted_in_its_month_with_the_seed_its_test_will_cost(make_due):
    make_due(dt.date(2026, 11, 24), seeds=2000)
    make_due(TODAY, seeds=600)
    make_due(dt.date(2026, 11, 30), seeds=200)
    make_due(dt.date(2027, 11, 30), seeds=8)
    make_due(dt.date(2027, 12, 1))

    found = calendar(TODAY)

    assert lines(found.months) == {OVERDUE: (1, 200), "2026-11": (2, 70), "2027-11": (1, 8)}
    assert (found.lots, found.seeds) == (4, 278)


@pytest.mark.parametrize("seeds", [1, 9, 10, 199, 200, 499, 500, 999, 1000, 1999, 2000, 90_000])
def test_the_database_reckons_the_cost_as_the_bench_does(make_due, seeds):
    date = make_due(TODAY, seeds=seeds)

    cost = _waiting().get(pk=date.pk).cost

    assert cost == suggested_size(date.lot).seeds


def test_a_lot_that_is_gone_or_planned_or_in_the_dishes_is_not_counted(make_due, desk):
    gone, growing = make_due(TODAY, seeds=30), make_due(TODAY, seeds=600)
    stock.give_away(lot=gone.lot, seeds=30, on=TODAY, by=desk, reason="swapped")
    services.start_test(lot=growing.lot, replicates=2, seeds_each=20, on=TODAY, by=desk)

    services.plan_test(lot=make_due(TODAY).lot, on=TODAY, by=desk)

    assert lines(calendar(TODAY).months) == {}


def test_first_tests_are_counted_by_themselves(make_due):
    make_due(TODAY, kind=TestDate.Kind.FIRST)
    make_due(TODAY)

    month = calendar(TODAY).months[1]

    assert (month.lots, month.first_tests, month.retests) == (2, 1, 1)


def test_the_longest_bar_is_the_dearest_month_and_the_least_can_be_seen():
    assert [bar_of(0, 900), bar_of(1, 900), bar_of(450, 900), bar_of(900, 900)] == [
        0,
        1,
        50,
        100,
    ]


def test_months_are_counted_across_the_years():
    assert month_after(dt.date(2026, 11, 25), 14) == dt.date(2028, 1, 1)


def test_a_line_of_the_calendar_lists_the_lots_that_it_counts(make_due):
    late = make_due(dt.date(2026, 11, 1))
    now = make_due(dt.date(2026, 11, 25))
    last = make_due(dt.date(2026, 11, 30))
    later = make_due(dt.date(2026, 12, 1))

    listed = [
        [date.pk for date in due_in(key, today=TODAY)]
        for key in (OVERDUE, "2026-11", "2026-12")
    ]

    assert listed == [[late.pk], [now.pk, last.pk], [later.pk]]


@pytest.mark.parametrize("key", ["2026-10", "2027-12", "9999-12", "2026-13", "soon", "x" * 99])
def test_a_month_that_is_not_in_the_calendar_is_refused(db, key):
    with pytest.raises(Refused):
        list(due_in(key, today=TODAY))


def test_the_page_says_which_month_it_could_not_show(as_coordinator, today):
    answer = as_coordinator.get(reverse("bench-calendar"), {"month": "2026-1"})

    assert answer.status_code == 400
    assert "“2026-1” is not a month; write it like 2027-03." in answer.content.decode()


def test_the_page_lists_a_months_lots_on_request(as_coordinator, make_due, today):
    date = make_due(dt.date(2026, 12, 5))

    closed = as_coordinator.get(reverse("bench-calendar"))
    opened = as_coordinator.get(reverse("bench-calendar"), {"month": "2026-12"})

    assert "rows" not in closed.context
    assert [row["lot"] for row in opened.context["rows"]] == [date.lot]


@pytest.mark.parametrize("lots", [1, 6])
def test_the_calendar_asks_as_many_questions_for_many_lots_as_for_one(
    as_coordinator, make_due, today, lots, django_assert_num_queries
):
    for _ in range(lots):
        make_due(dt.date(2026, 12, 5))
    as_coordinator.get(reverse("bench-calendar"))

    with django_assert_num_queries(6):
        as_coordinator.get(reverse("bench-calendar"), {"month": "2026-12"})


def test_the_bench_begins_with_the_months_ahead(as_coordinator, make_due, today):
    make_due(dt.date(2026, 12, 5), seeds=600)

    answer = as_coordinator.get(reverse("bench"))

    assert lines(answer.context["calendar"].soon) == {"2026-12": (1, 50)}
    assert f'href="{reverse("bench-calendar")}"' in answer.content.decode()

"""The bench: what is due and what it costs, what runs, what waits for a coordinator."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from library.germination import services
from library.germination.due import due_items
from library.germination.method import suggested_size
from library.germination.models import LotEstimate, TestDate
from library.stock import services as stock

RECEIVED = dt.date(2025, 10, 1)
START = dt.date(2025, 11, 1)
END = dt.date(2025, 11, 9)


@pytest.fixture
def bench(as_coordinator):
    """What the bench shows."""
    return lambda: as_coordinator.get(reverse("bench")).context


def lots_of(rows):
    return [row["lot"] for row in rows]


def record(lot, desk, *normal):
    return services.record_test(
        lot=lot,
        replicates=[{"seeds": 50, "normal": n} for n in normal],
        started_on=START,
        closed_on=END,
        by=desk,
    )


def test_the_bench_is_the_coordinators(client, coordinator, desk, member):
    answers = []
    for person in (member, desk, coordinator):
        client.force_login(person)
        answers.append(client.get(reverse("bench")).status_code)

    assert answers == [404, 404, 200]


def test_what_is_overdue_stands_before_what_is_due_soon_with_what_it_costs(
    bench, make_lot, today
):
    late, later, sooner = make_lot(seeds=90), make_lot(seeds=2000), make_lot(seeds=600)
    services.expect_first_test(lot=late, on=dt.date(2025, 8, 1))
    services.expect_first_test(lot=later, on=dt.date(2025, 10, 20))
    services.expect_first_test(lot=sooner, on=RECEIVED)
    far = make_lot()
    TestDate.objects.create(
        lot=far, kind="first", due_on=dt.date(2026, 9, 1), rule="first_test"
    )

    page = bench()

    assert lots_of(page["overdue"]) == [late]
    assert lots_of(page["soon"]) == [sooner, later]
    assert (page["lots"], page["cost"]) == (3, 10 + 50 + 200)


def test_a_bench_that_is_too_full_to_show_says_how_many_are_left(
    as_coordinator, make_lot, today, monkeypatch
):
    monkeypatch.setattr("library.germination.views.bench.MOST_SHOWN", 2)
    for _lot in range(2):
        services.expect_first_test(lot=make_lot(), on=dt.date(2025, 8, 1))
    full = as_coordinator.get(reverse("bench"))
    services.expect_first_test(lot=make_lot(), on=dt.date(2025, 9, 1))

    fuller = as_coordinator.get(reverse("bench"))

    assert "more lot" not in full.content.decode()
    assert len(fuller.context["overdue"]) == 2
    assert "One more lot is due" in fuller.content.decode()


def test_a_lot_that_is_tested_planned_or_empty_is_not_due(bench, make_lot, desk, today):
    running, planned, empty = (make_lot(seeds=600) for _ in range(3))
    for lot in (running, planned, empty):
        services.expect_first_test(lot=lot, on=RECEIVED)
    test = services.start_test(lot=running, replicates=2, seeds_each=25, on=START, by=desk)
    ahead = services.plan_test(lot=planned, on=today, by=desk)
    stock.discard_rest(lot=empty, on=START, by=desk, reason="mould")

    page = bench()

    assert [*page["overdue"], *page["soon"]] == []
    assert [row["test"] for row in page["running"]] == [test]
    assert list(page["planned"]) == [ahead]


def test_lots_whose_dishes_disagreed_stand_apart(bench, bean_lot, desk, today):
    record(bean_lot, desk, 48, 20)

    page = bench()

    assert lots_of(page["again"]) == [bean_lot]
    assert [*page["overdue"], *page["soon"]] == []
    assert page["cost"] == 100


def test_lots_to_regrow_wait_for_a_word_the_poorest_first(
    bench, make_lot, as_coordinator, today, text_of
):
    def estimate(lot, median, decided=""):
        return LotEstimate.objects.update_or_create(
            lot=lot,
            defaults={
                "on": today,
                "low": median - 0.1,
                "median": median,
                "high": median + 0.1,
                "chance": 0.2,
                "standard_percent": 70,
                "regrow_rule": "regrow_below_standard",
                "decided": decided,
                "inputs": {
                    "median_percent": 100 * median,
                    "low_percent": 100 * median - 10,
                    "high_percent": 100 * median + 10,
                    "chance_percent": 20.0,
                    "standard_percent": 70.0,
                    "initial_percent": 95.0,
                },
            },
        )[0]

    settled = estimate(make_lot(), 0.3, decided="keep")
    poor, poorer = estimate(make_lot(), 0.6), estimate(make_lot(), 0.5)

    page = as_coordinator.get(reverse("bench"))

    assert [row[0] for row in page.context["regrow"]] == [poorer, poor, settled]
    assert "50 % (40 to 60)" in text_of(page)
    assert "goes on being lent" in text_of(page)


def test_the_coordinator_is_reminded_two_weeks_before(bean_lot):
    services.expect_first_test(lot=bean_lot, on=RECEIVED)
    (due_on,) = TestDate.objects.values_list("due_on", flat=True)
    two_weeks = dt.timedelta(days=14)

    early = list(due_items(until=due_on - two_weeks - dt.timedelta(days=1)))
    (item,) = due_items(until=due_on - two_weeks)

    assert early == []
    assert (item.kind, item.subject, item.role) == (
        "first_test",
        f"stock.Lot:{bean_lot.pk}",
        "coordinator",
    )
    assert (item.due_on, item.remind_on) == (due_on, due_on - two_weeks)
    assert item.title == f"First test of {bean_lot.number}, Tarn Kettle"


@pytest.mark.parametrize(
    ("seeds", "size"),
    [
        (5000, (4, 50)),
        (1999, (4, 25)),
        (999, (2, 25)),
        (499, (2, 10)),
        (150, (1, 10)),
        (4, (1, 4)),
    ],
)
def test_a_test_spends_at_most_a_tenth_of_what_is_left(make_lot, seeds, size):
    suggestion = suggested_size(make_lot(seeds=seeds))

    assert (suggestion.replicates, suggestion.seeds_each) == size


def test_the_bench_costs_the_same_with_one_row_of_each_kind_and_with_six(
    as_coordinator, make_lot, variety, desk, today
):
    def fill():
        services.expect_first_test(lot=make_lot(variety), on=RECEIVED)
        services.expect_first_test(lot=make_lot(variety), on=dt.date(2025, 8, 1))
        services.start_test(
            lot=make_lot(variety), replicates=2, seeds_each=10, on=START, by=desk
        )
        services.plan_test(lot=make_lot(variety), on=today, by=desk)
        record(make_lot(variety), desk, 48, 20)
        record(make_lot(variety), desk, 8, 9)

    def queries():
        as_coordinator.get(reverse("bench"))
        with CaptureQueriesContext(connection) as seen:
            page = as_coordinator.get(reverse("bench"))
        counts = [len(page.context[name]) for name in ("again", "overdue", "soon", "running")]
        return len(seen), counts

    fill()
    one, rows = queries()
    for _ in range(5):
        fill()
    six, more = queries()

    assert six == one
    assert more == [6 * n for n in rows]

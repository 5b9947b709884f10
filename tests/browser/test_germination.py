"""A germination test in a real browser: from the bench, or written down when it is over."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone
from django.utils.formats import date_format

from library.germination.models import GerminationTest
from library.germination.services import expect_first_test

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def lot(make_lot, variety, valley, long_ago):
    """Five hundred drying beans that wait for their first test."""
    lot = make_lot(variety, on=long_ago, harvest_year=long_ago.year)
    expect_first_test(lot=lot, on=long_ago)
    return lot


def count(walker, *normal: int, sown: int | None = None) -> None:
    """Write down what came up in each dish."""
    for number, seeds in enumerate(normal, start=1):
        dish = walker.page.get_by_role("group", name=f"Dish {number}")
        if sown:
            walker.write("Sown", str(sown), inside=dish)
        walker.write("Normal", str(seeds), inside=dish)


def record(walker, lot, *normal: int) -> None:
    """From the lot's page, write down a test of two dishes of fifty that is over."""
    today = timezone.localdate()
    walker.open(lot.get_absolute_url(), f"Lot {lot.number}, Tarn Kettle")
    walker.follow("Record a test")
    walker.arrive("Record a germination test")
    walker.follow("2 dishes")
    walker.page.wait_for_url("**?dishes=2")
    walker.arrive("Record a germination test")
    walker.write("Started on", (today - dt.timedelta(days=8)).isoformat())
    walker.write("Counted on", today.isoformat())
    count(walker, *normal, sown=50)
    walker.push("Record it")
    walker.reads("Recorded.")
    test = GerminationTest.objects.get()
    walker.arrive(f"Germination test {test.pk}, Tarn Kettle")


def test_a_test_is_started_on_the_bench_and_counted(walk, lot, coordinator):
    owl = walk(coordinator)
    owl.open("/bench/", "The bench")
    owl.follow(f"Start {lot.number}")
    owl.arrive("Start a germination test")
    owl.write("Dishes", "2")
    owl.write("Seeds in each", "25")
    owl.push("Draw the seed and start")
    owl.reads("Started. Write the test's number on the dishes.")
    test = GerminationTest.objects.get()
    lot.refresh_from_db()
    assert (lot.balance, test.state) == (450, GerminationTest.State.RUNNING)

    owl.open("/bench/", "The bench")
    owl.follow(f"Count {lot.number}")
    owl.arrive("Count the dishes and close the test")
    count(owl, 23, 22)
    owl.push("Close the test")
    owl.arrive(f"Germination test {test.pk}, Tarn Kettle")

    # Clopper and Pearson's interval of 45 in 50, as scipy.stats.binomtest gives it.
    owl.reads("90 % germinated", "surely between 78 % and 97 %", "The dishes agree")
    owl.follow(lot.number)
    owl.arrive(f"Lot {lot.number}, Tarn Kettle")
    owl.press(owl.page.locator("summary", has_text="Why this day?").first)
    retest = lot.test_date
    owl.reads(f"To be tested again by {date_format(retest.due_on, 'j F Y')}.")
    owl.reads("Tested at 90 % on")
    lot.refresh_from_db()
    assert retest.kind == "retest"
    assert not lot.awaits_first_test


def test_a_test_that_is_over_is_written_down_at_once(walk, lot, desk):
    heron = walk(desk)

    record(heron, lot, 44, 41)

    # Clopper and Pearson's interval of 85 in 100, as scipy.stats.binomtest gives it.
    heron.reads("85 % germinated", "surely between 76 % and 91 %", "The dishes agree")
    lot.refresh_from_db()
    assert lot.balance == 400
    assert lot.test_date.kind == "retest"


def test_dishes_that_disagree_ask_for_a_new_test(walk, lot, coordinator):
    owl = walk(coordinator)

    record(owl, lot, 50, 35)

    owl.reads("Dishes disagree: test again", "The dishes differ too much: 30 points apart")
    owl.open("/bench/", "The bench")
    owl.reads("Test again: the dishes disagreed", lot.number)
    lot.refresh_from_db()
    assert lot.test_date.rule == "replicates_disagree"
    assert lot.test_date.due_on == timezone.localdate()
    assert lot.awaits_first_test

"""Tests are counted, say how sure they are, and set the day of the next one."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import IntegrityError, transaction
from scipy.stats import binomtest

from library.errors import Conflict, NotEnough, Refused
from library.germination import services
from library.germination.estimates import estimate_of
from library.germination.models import (
    BenchRules,
    GerminationTest,
    LotEstimate,
    Replicate,
    TestDate,
)
from library.germination.services import result_of
from library.stock import services as stock

START = dt.date(2025, 11, 1)
END = dt.date(2025, 11, 9)
GOOD = [{"seeds": 50, "normal": 46}, {"seeds": 50, "normal": 44}]
FAR_APART = [{"seeds": 50, "normal": 48}, {"seeds": 50, "normal": 20}]


@pytest.fixture
def bean_lot(make_lot, variety):
    """A lot of the drying bean: federal minimum 70 %, keeps three years."""
    return make_lot(variety, seeds=2000)


@pytest.fixture
def record(desk):
    def do(lot, dishes, *, started_on=START, closed_on=END):
        return services.record_test(
            lot=lot, replicates=dishes, started_on=started_on, closed_on=closed_on, by=desk
        )

    return do


def date_of(lot):
    return TestDate.objects.get(lot=lot)


def test_a_new_lot_gets_its_first_test_day_and_is_held(bean_lot):
    date = services.expect_first_test(lot=bean_lot, on=dt.date(2025, 10, 1))

    bean_lot.refresh_from_db()
    assert (date.kind, date.due_on, date.rule) == ("first", dt.date(2025, 12, 30), "first_test")
    assert bean_lot.awaits_first_test is True
    assert date.source == "FAO Genebank Standards 2014, 4.3.1"
    assert date.why == "Received on 1 October 2025; a new lot is tested within 90 days."


def test_the_bench_rules_say_whether_a_new_lot_is_held(bean_lot, coordinator):
    services.save_bench_rules(
        standard_percent=75, first_test_within_days=30, hold_until_tested=False, by=coordinator
    )

    date = services.expect_first_test(lot=bean_lot, on=dt.date(2025, 10, 1))

    bean_lot.refresh_from_db()
    assert date.due_on == dt.date(2025, 10, 31)
    assert bean_lot.awaits_first_test is False


def test_starting_a_test_draws_its_seed(bean_lot, desk):
    test = services.start_test(lot=bean_lot, replicates=4, seeds_each=50, on=START, by=desk)

    bean_lot.refresh_from_db()
    assert bean_lot.loose == 1800
    assert list(test.replicates.values_list("number", "seeds")) == [
        (n, 50) for n in (1, 2, 3, 4)
    ]
    assert test.state == "running"
    assert result_of(test) is None


def test_recording_a_test_gives_the_percentage_with_its_exact_interval(bean_lot, record):
    test = record(bean_lot, GOOD)

    result = result_of(test)
    # Clopper & Pearson 1934, as scipy computes it.
    exact = binomtest(90, 100).proportion_ci(confidence_level=0.95, method="exact")
    assert (result.percent, result.sown) == (90, 100)
    assert result.low == pytest.approx(100 * exact.low)
    assert result.high == pytest.approx(100 * exact.high)


def test_a_test_is_held_against_the_federal_minimum(bean_lot, record):
    # 7 CFR 201.31: garden bean 70 %.
    passes = result_of(record(bean_lot, [{"seeds": 100, "normal": 70}]))
    fails = result_of(record(bean_lot, [{"seeds": 100, "normal": 69}]))

    assert (passes.federal_min, passes.meets_federal) == (70, True)
    assert (fails.federal_min, fails.meets_federal) == (70, False)


def test_hard_seed_counts_for_the_federal_minimum_and_not_for_the_library(bean_lot, record):
    result = result_of(record(bean_lot, [{"seeds": 100, "normal": 60, "hard": 12}]))

    assert (result.percent, result.percent_with_hard) == (60, 72)
    assert (result.meets_federal, result.meets_standard) == (True, False)


def test_tubers_have_no_federal_minimum(make_variety, make_lot, record):
    potato = make_variety("Tarn Blue", crop="potato", breeding_status="clone")
    lot = make_lot(potato, seeds=60)

    result = result_of(record(lot, [{"seeds": 10, "normal": 9}]))

    assert lot.counted_as == "tuber"
    assert (result.percent, result.federal_min, result.meets_federal) == (90, None, None)


def test_closing_a_test_frees_the_lot_and_sets_the_retest_day(bean_lot, record):
    services.expect_first_test(lot=bean_lot, on=dt.date(2025, 10, 1))

    record(bean_lot, GOOD)

    date = date_of(bean_lot)
    bean_lot.refresh_from_db()
    assert bean_lot.awaits_first_test is False
    # FAO Genebank Standards 2014, 4.3.3 (from memory): a third of the time that it is
    # predicted to need to 85 % of its first viability.
    predicted = estimate_of(bean_lot).estimate.days_to_share_of_initial()
    assert (date.kind, date.rule) == ("retest", "retest_third_of_prediction")
    assert (date.due_on - END).days == pytest.approx(predicted / 3, abs=2)
    assert ("Tested on", "9 November 2025") in date.why_inputs


def test_a_poor_result_is_tested_again_sooner(bean_lot, make_lot, record):
    record(bean_lot, GOOD)
    poor = make_lot(bean_lot.variety, seeds=2000)

    record(poor, [{"seeds": 100, "normal": 75}])

    assert date_of(poor).due_on < date_of(bean_lot).due_on
    assert date_of(poor).rule == "retest_not_sooner"
    assert date_of(poor).due_on == END + dt.timedelta(days=90)


def test_frozen_seed_waits_longer(bean_lot, record, desk):
    freezer = stock.add_storage_place(
        name="Freezer", kind="freezer", temperature_c=-18, by=desk
    )
    box = stock.add_storage_place(name="Box", kind="box", inside=freezer, by=desk)
    stock.move_lot(lot=bean_lot, storage_place=box, by=desk, on=START)

    record(bean_lot, GOOD)

    assert date_of(bean_lot).due_on > dt.date(2029, 11, 9)


def test_a_lot_that_is_probably_below_the_standard_should_be_regrown(bean_lot, record):
    record(bean_lot, [{"seeds": 100, "normal": 98}])

    record(
        bean_lot,
        [{"seeds": 100, "normal": 10}],
        started_on=dt.date(2026, 1, 1),
        closed_on=dt.date(2026, 1, 9),
    )

    date = date_of(bean_lot)
    assert date.rule == "retest_below_standard"
    assert date.inputs["regenerate"] is True
    assert LotEstimate.objects.get(lot=bean_lot).regrow_rule == "regrow_below_standard"


def test_dishes_that_disagree_ask_for_a_new_test_and_free_nothing(bean_lot, record):
    services.expect_first_test(lot=bean_lot, on=dt.date(2025, 10, 1))

    result = result_of(record(bean_lot, FAR_APART))

    date = date_of(bean_lot)
    bean_lot.refresh_from_db()
    assert result.replicates_agree is False
    assert (date.kind, date.rule, date.due_on) == ("first", "replicates_disagree", END)
    assert bean_lot.awaits_first_test is True
    assert date.why == (
        "The dishes counted on 9 November 2025 lie 56 points apart; "
        f"{result.tolerated_range:g} are tolerated. "
        "The test says nothing sure and is done again."
    )


def test_the_tolerated_range_is_the_published_one(bean_lot, record):
    # 7 CFR 201.55, four replicates of 100 at a mean of 90 %: 12 points.
    dishes = [{"seeds": 100, "normal": n} for n in (96, 84, 90, 90)]

    result = result_of(record(bean_lot, dishes))

    assert (result.tolerated_range, result.range_percent) == (12.0, 12.0)
    assert result.replicates_agree is True


def test_dishes_of_different_size_are_not_compared(bean_lot, record):
    result = result_of(
        record(bean_lot, [{"seeds": 50, "normal": 45}, {"seeds": 25, "normal": 5}])
    )

    assert result.replicates_agree is None


def test_a_void_test_gives_the_lot_its_first_day_back(bean_lot, record, desk):
    services.expect_first_test(lot=bean_lot, on=dt.date(2025, 10, 1))
    test = record(bean_lot, GOOD)

    services.void_test(test=test, reason="the labels were mixed up", by=desk)

    bean_lot.refresh_from_db()
    assert (date_of(bean_lot).kind, bean_lot.awaits_first_test) == ("first", True)
    assert bean_lot.loose == 1900


def test_a_void_test_leaves_the_earlier_one_standing(bean_lot, record, desk):
    record(bean_lot, GOOD)
    before = date_of(bean_lot).due_on
    later = record(
        bean_lot,
        [{"seeds": 100, "normal": 10}],
        started_on=dt.date(2026, 1, 1),
        closed_on=dt.date(2026, 1, 9),
    )

    services.void_test(test=later, reason="dried out", by=desk)

    assert date_of(bean_lot).due_on == before


def test_a_test_is_closed_once(bean_lot, record, desk):
    test = record(bean_lot, GOOD)

    with pytest.raises(Conflict) as refusal:
        services.close_test(test=test, replicates=GOOD, on=END, by=desk)

    assert str(refusal.value) == f"Test {test.pk} is closed, not running."


@pytest.mark.parametrize(
    ("dishes", "sentence"),
    [
        ([{"normal": 51}, {}], "Dish 1 was sown with 50, but 51 were counted."),
        ([{}, {"normal": 30, "dead": 21}], "Dish 2 was sown with 50, but 51 were counted."),
        ([{}], "The test has 2 dishes, and 1 were counted."),
        ([{"seeds": 40}, {}], "Dish 1 was sown with 50, not 40."),
        ([{"normal": -1}, {}], "-1 is out of range: give a whole number from 0 to 1000."),
        (
            [{"normal": 2.5}, {}],
            "“2.5” is not a whole number; seed is counted in whole numbers.",
        ),
        ([{"sprouted": 3}, {}], "A dish has no count called sprouted."),
    ],
)
def test_counts_that_cannot_be_are_refused_and_nothing_is_written(
    bean_lot, desk, dishes, sentence
):
    test = services.start_test(lot=bean_lot, replicates=2, seeds_each=50, on=START, by=desk)

    with pytest.raises(Refused) as refusal:
        services.close_test(test=test, replicates=dishes, on=END, by=desk)

    test.refresh_from_db()
    assert str(refusal.value) == sentence
    assert test.state == "running"
    assert set(test.replicates.values_list("normal", flat=True)) == {0}


@pytest.mark.parametrize("count", [0, 9, -1, 2**31, 1.5])
def test_a_test_has_one_to_eight_dishes(bean_lot, desk, count):
    with pytest.raises(Refused) as refusal:
        services.start_test(lot=bean_lot, replicates=count, seeds_each=10, on=START, by=desk)

    assert refusal.value.field == "replicates"


def test_a_test_of_more_seed_than_there_is_writes_nothing(make_lot, record):
    lot = make_lot(seeds=40)

    with pytest.raises(NotEnough):
        record(lot, GOOD)

    assert GerminationTest.objects.count() == 0


@pytest.mark.parametrize(
    ("started_on", "closed_on"),
    [
        (START, dt.date(2025, 10, 31)),
        (dt.date(2025, 9, 1), END),
        (START, dt.date(2999, 1, 1)),
    ],
)
def test_impossible_days_are_refused(bean_lot, record, started_on, closed_on):
    with pytest.raises(Refused):
        record(bean_lot, GOOD, started_on=started_on, closed_on=closed_on)

    bean_lot.refresh_from_db()
    assert bean_lot.loose == 2000


def test_the_database_refuses_more_counted_than_sown(bean_lot, record):
    test = record(bean_lot, GOOD)

    with pytest.raises(IntegrityError), transaction.atomic():
        Replicate.objects.filter(test=test).update(normal=51)


def test_the_rules_are_one_row(db):
    BenchRules.current()

    with pytest.raises(IntegrityError), transaction.atomic():
        BenchRules.objects.create(pk=2)

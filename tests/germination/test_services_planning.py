"""A test is planned with its published conditions, and draws its seed when it is begun."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from library.errors import Conflict, NotEnough, Refused
from library.germination import services
from library.germination.method import cost_of, method_of
from library.germination.models import BenchRules, GerminationTest
from library.stock import services as stock

ON = dt.date(2025, 11, 1)
LATER = dt.date(2025, 11, 4)
SEQUENTIAL = "sequential"


@pytest.fixture
def bean_lot(make_lot, variety):
    return make_lot(variety, seeds=2000)


@pytest.fixture
def plan(desk):
    def do(lot, **asked):
        return services.plan_test(lot=lot, by=desk, **{"on": ON, **asked})

    return do


def seeds_of(lot):
    lot.refresh_from_db()
    return lot.balance


def test_a_planned_test_draws_no_seed(bean_lot, plan):
    test = plan(bean_lot, replicates=4, seeds_each=50)

    assert (test.state, test.started_on) == ("planned", ON)
    assert list(test.replicates.values_list("number", "seeds", "sown_on")) == [
        (number, 50, None) for number in (1, 2, 3, 4)
    ]
    assert seeds_of(bean_lot) == 2000


def test_a_test_may_be_planned_for_a_day_to_come(bean_lot, plan):
    next_month = timezone.localdate() + dt.timedelta(days=30)

    assert plan(bean_lot, on=next_month).started_on == next_month


def test_a_plan_is_filled_with_the_published_conditions(bean_lot, plan):
    # 7 CFR 201.58 Table 2, "Bean, garden": B, T, S, TC; 20-30 alternating or 25; no first
    # count; final count after 8 days.
    test = plan(bean_lot)

    assert test.substrate == (
        "between blotters; paper towel; in sand or soil; on creped cellulose"
    )
    assert test.temperature_c == "20-30 alternating; 25"
    assert test.directions.startswith("final count only")
    assert (test.first_count_on, test.final_count_on) == (None, ON + dt.timedelta(days=8))


def test_conditions_from_memory_stay_marked_as_such(make_variety, make_lot, plan):
    # ISTA Rules Table 5A, from memory: first count of zinnia after 3 to 5 days.
    lot = make_lot(make_variety(crop="zinnia"))

    test = plan(lot)

    assert {figure.how for figure in method_of(lot)} == {"memory"}
    assert test.substrate == ""
    assert test.first_count_on == ON + dt.timedelta(days=3)
    assert test.final_count_on == ON + dt.timedelta(days=10)


def test_a_temperature_that_is_a_plain_number_is_written_as_one(make_variety, make_lot, plan):
    # 7 CFR 201.58 Table 2, "Lettuce": 20.
    lot = make_lot(make_variety(crop="lettuce"))

    assert plan(lot).temperature_c == "20"


def test_what_is_asked_for_goes_before_what_is_published(bean_lot, plan):
    test = plan(bean_lot, substrate="damp towel", temperature_c="18", directions="in the dark")

    assert (test.substrate, test.temperature_c) == ("damp towel", "18")
    assert test.directions == "in the dark"


def test_a_plan_without_a_size_has_the_usual_one(bean_lot, plan):
    test = plan(bean_lot)

    assert list(test.replicates.values_list("seeds", flat=True)) == [50, 50, 50, 50]


def test_beginning_a_planned_test_draws_its_seed_and_moves_its_counting_days(
    bean_lot, plan, desk
):
    test = plan(bean_lot, replicates=2, seeds_each=50)

    services.begin_test(test=test, on=LATER, by=desk)

    test.refresh_from_db()
    assert (test.state, test.started_on) == ("running", LATER)
    assert test.final_count_on == LATER + dt.timedelta(days=8)
    assert set(test.replicates.values_list("sown_on", flat=True)) == {LATER}
    assert seeds_of(bean_lot) == 1900


def test_a_test_is_begun_once(bean_lot, plan, desk):
    test = plan(bean_lot, replicates=2, seeds_each=50)
    services.begin_test(test=test, on=ON, by=desk)

    with pytest.raises(Conflict) as refusal:
        services.begin_test(test=test, on=ON, by=desk)

    assert str(refusal.value) == f"Test {test.pk} is running, not planned."
    assert seeds_of(bean_lot) == 1900


def test_a_plan_that_is_set_aside_uses_no_seed_and_cannot_be_begun(bean_lot, plan, desk):
    test = plan(bean_lot)

    services.void_test(test=test, reason="no dishes left", by=desk)

    with pytest.raises(Conflict):
        services.begin_test(test=test, on=ON, by=desk)
    assert seeds_of(bean_lot) == 2000


def test_a_test_that_is_begun_when_the_seed_is_gone_stays_planned(bean_lot, plan, desk):
    test = plan(bean_lot, replicates=2, seeds_each=50)
    stock.discard(lot=bean_lot, seeds=1950, on=ON, by=desk, reason="mice")

    with pytest.raises(NotEnough):
        services.begin_test(test=test, on=LATER, by=desk)

    test.refresh_from_db()
    assert (test.state, seeds_of(bean_lot)) == ("planned", 50)


def test_a_test_of_more_than_is_left_is_not_planned(make_lot, plan):
    lot = make_lot(seeds=40)

    with pytest.raises(NotEnough) as refusal:
        plan(lot, replicates=2, seeds_each=50)

    assert str(refusal.value) == f"Lot {lot.number} has 40 left; the test would need 100."
    assert GerminationTest.objects.count() == 0


def test_a_test_with_few_seeds_has_its_plan_from_the_rules_of_the_bench(bean_lot, plan):
    test = plan(bean_lot, kind=SEQUENTIAL)

    test.refresh_from_db()
    assert (float(test.good_percent), float(test.poor_percent)) == (77.5, 62.5)
    assert (test.risk_good_percent, test.risk_poor_percent) == (10, 10)
    assert (test.group_seeds, test.most_seeds) == (10, 200)
    assert list(test.replicates.all()) == []
    assert seeds_of(bean_lot) == 2000


def test_beginning_a_test_with_few_seeds_draws_its_first_group(bean_lot, desk):
    test = services.start_test(lot=bean_lot, kind=SEQUENTIAL, on=ON, by=desk)

    group = test.replicates.get()
    assert (group.number, group.seeds, group.sown_on) == (1, 10, ON)
    assert seeds_of(bean_lot) == 1990


@pytest.mark.parametrize("kind", ["fixed", SEQUENTIAL])
def test_a_test_is_not_started_on_a_day_to_come(bean_lot, desk, kind):
    tomorrow_week = timezone.localdate() + dt.timedelta(days=7)

    with pytest.raises(Refused):
        services.start_test(lot=bean_lot, kind=kind, on=tomorrow_week, by=desk)

    assert GerminationTest.objects.count() == 0


def test_one_group_may_not_cost_more_than_the_share_of_a_lot(make_lot, plan):
    assert plan(make_lot(seeds=100), kind=SEQUENTIAL).most_seeds == 10
    lot = make_lot(seeds=99)

    with pytest.raises(Refused) as refusal:
        plan(lot, kind=SEQUENTIAL)

    assert str(refusal.value) == (
        f"One group of 10 is more than 10 % of the 99 that lot {lot.number} has left, the most "
        "that such a test may cost. Sow smaller groups or allow a larger share in the rules of "
        "the bench."
    )


def test_a_test_with_few_seeds_costs_no_more_than_the_share_of_what_is_left_when_begun(
    bean_lot, plan, desk
):
    test = plan(bean_lot, kind=SEQUENTIAL)
    stock.discard(lot=bean_lot, seeds=1500, on=ON, by=desk, reason="mice")

    services.begin_test(test=test, on=LATER, by=desk)

    test.refresh_from_db()
    assert test.most_seeds == 50


def test_a_group_that_has_become_too_dear_is_not_sown(bean_lot, plan, desk):
    test = plan(bean_lot, kind=SEQUENTIAL)
    stock.discard(lot=bean_lot, seeds=1901, on=ON, by=desk, reason="mice")

    with pytest.raises(Refused):
        services.begin_test(test=test, on=LATER, by=desk)

    test.refresh_from_db()
    assert (test.state, test.replicates.count(), seeds_of(bean_lot)) == ("planned", 0, 99)


def test_a_plan_keeps_its_groups_when_the_rules_change(bean_lot, plan, desk, coordinator):
    test = plan(bean_lot, kind=SEQUENTIAL)
    services.save_bench_rules(group_seeds=50, standard_percent=90, by=coordinator)

    services.begin_test(test=test, on=ON, by=desk)

    test.refresh_from_db()
    assert test.replicates.get().seeds == 10
    assert float(test.good_percent) == 77.5


@pytest.mark.parametrize(
    ("asked", "field", "sentence"),
    [
        (
            {"kind": "guess"},
            "kind",
            "“guess” is no kind of test; say one of: fixed, sequential.",
        ),
        (
            {"kind": SEQUENTIAL, "seeds_each": 20},
            "seeds_each",
            "A test with few seeds is sown in groups of the size that the rules of the bench "
            "say; leave the dishes out.",
        ),
        (
            {"replicates": 9},
            "replicates",
            "9 is out of range: give a whole number from 1 to 8.",
        ),
        (
            {"seeds_each": 1001},
            "seeds_each",
            "1001 is out of range: give a whole number from 1 to 1000.",
        ),
        ({"on": "2025-11-01"}, "on", "“2025-11-01” is not a day."),
        (
            {"on": dt.date(2025, 9, 30)},
            "on",
            "30 September 2025 is too early: the day the lot was received was 1 October 2025.",
        ),
        (
            {"substrate": "x" * 81},
            "substrate",
            "The text has 81 characters; at most 80 fit.",
        ),
        ({"note": "a\x00"}, "note", "The text has a character that cannot be kept."),
    ],
)
def test_what_cannot_be_planned_is_refused_with_a_sentence(
    bean_lot, plan, asked, field, sentence
):
    with pytest.raises(Refused) as refusal:
        plan(bean_lot, **asked)

    assert (refusal.value.field, str(refusal.value)) == (field, sentence)
    assert GerminationTest.objects.count() == 0


def test_a_test_is_not_planned_for_a_far_year(bean_lot, plan):
    with pytest.raises(Refused) as refusal:
        plan(bean_lot, on=dt.date(2999, 1, 1))

    assert str(refusal.value).startswith("1 January 2999 is too far away; plan for a day up to")


def test_the_share_of_a_lot_that_a_test_costs_is_told(make_lot):
    lot = make_lot(seeds=400)

    assert [cost_of(lot, seeds) for seeds in (0, 100, 500)] == [0, 0.25, 1.25]


def test_a_lot_with_nothing_left_cannot_pay_for_a_test(make_lot, desk):
    lot = make_lot(seeds=40)
    stock.discard(lot=lot, seeds=40, on=ON, by=desk, reason="mice")
    lot.refresh_from_db()

    assert [cost_of(lot, seeds) for seeds in (0, 10)] == [0, 1]


@pytest.mark.parametrize("dishes", [1, 6])
def test_starting_a_test_takes_as_many_questions_for_many_dishes(
    bean_lot, desk, dishes, django_assert_num_queries
):
    BenchRules.current()

    with django_assert_num_queries(20):
        services.start_test(lot=bean_lot, replicates=dishes, seeds_each=10, on=ON, by=desk)


@pytest.mark.parametrize("standard", [1, 2, 50, 98, 99])
@pytest.mark.parametrize("width", [5, 40])
def test_every_pair_of_rules_gives_a_plan(make_lot, plan, coordinator, standard, width):
    services.save_bench_rules(standard_percent=standard, width_points=width, by=coordinator)

    test = plan(make_lot(seeds=1000), kind=SEQUENTIAL)

    test.refresh_from_db()
    assert 0 < test.poor_percent < test.good_percent < 100

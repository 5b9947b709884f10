"""A test that is over is corrected only by an amendment, which keeps what it said before."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction

from library.errors import Conflict, Refused
from library.germination import services
from library.germination.guards import GUARDS
from library.germination.models import (
    DayCount,
    GerminationTest,
    LotEstimate,
    Replicate,
    TestAmendment,
    TestDate,
)
from library.germination.services import result_of
from library.stock import guards

ON = dt.date(2025, 11, 1)
END = dt.date(2025, 11, 9)
GOOD = [{"seeds": 50, "normal": 46}, {"seeds": 50, "normal": 44, "hard": 2}]


@pytest.fixture
def lot(make_lot, variety):
    return make_lot(variety, seeds=2000)


@pytest.fixture
def closed(lot, desk):
    return services.record_test(lot=lot, replicates=GOOD, started_on=ON, closed_on=END, by=desk)


@pytest.fixture
def amend(closed, desk):
    def do(test=closed, **asked):
        return services.amend_test(
            test=test, by=desk, **{"reason": "the dishes were mixed up", **asked}
        )

    return do


def counts_of(test, number):
    dish = test.replicates.get(number=number)
    return {name: getattr(dish, name) for name in services.COUNTS}


def test_an_amendment_changes_the_counts_and_keeps_what_they_were(closed, amend, desk):
    amendments = amend(dishes={2: {"normal": 40, "abnormal": 4}})

    old = {"normal": 44, "abnormal": 0, "hard": 2, "fresh": 0, "dead": 4}
    new = {"normal": 40, "abnormal": 4, "hard": 2, "fresh": 0, "dead": 4}
    (kept,) = closed.amendments.all()
    assert (kept.field, kept.old_value, kept.new_value) == ("dish 2", old, new)
    assert (kept.reason, kept.amended_by) == ("the dishes were mixed up", desk)
    assert counts_of(closed, 2) == new
    assert amendments == [kept]
    assert result_of(closed).percent == 86


def test_an_amendment_sets_the_lots_day_anew(closed, amend, lot):
    before = TestDate.objects.get(lot=lot)

    amend(dishes={1: {"normal": 37}, 2: {"normal": 38}})

    after = TestDate.objects.get(lot=lot)
    assert result_of(closed).percent == 75
    assert after.due_on < before.due_on
    assert LotEstimate.objects.get(lot=lot).evidence == [[closed.pk, 75, 100]]


def test_an_amendment_that_makes_dishes_agree_frees_the_lot(lot, desk):
    services.expect_first_test(lot=lot, on=ON)
    far_apart = [{"seeds": 50, "normal": 48}, {"seeds": 50, "normal": 4}]
    test = services.record_test(
        lot=lot, replicates=far_apart, started_on=ON, closed_on=END, by=desk
    )
    assert TestDate.objects.get(lot=lot).rule == "replicates_disagree"

    services.amend_test(test=test, reason="4 for 44", dishes={2: {"normal": 44}}, by=desk)

    lot.refresh_from_db()
    assert TestDate.objects.get(lot=lot).rule != "replicates_disagree"
    assert lot.awaits_first_test is False


def test_an_amendment_uses_and_gives_back_no_seed(amend, lot):
    amend(dishes={1: {"normal": 0}})

    lot.refresh_from_db()
    assert lot.balance == 1900


def test_dead_that_is_given_is_kept_as_given(closed, amend):
    amend(dishes={1: {"normal": 45, "fresh": 2, "dead": 3}})

    assert counts_of(closed, 1) == {
        "normal": 45,
        "abnormal": 0,
        "hard": 0,
        "fresh": 2,
        "dead": 3,
    }


def test_days_are_amended_and_those_of_the_dishes_with_them(closed, amend, lot):
    later, start = END + dt.timedelta(days=2), ON - dt.timedelta(days=1)

    amend(started_on=start, closed_on=later)

    closed.refresh_from_db()
    assert (closed.started_on, closed.closed_on) == (start, later)
    assert set(closed.replicates.values_list("sown_on", "counted_on")) == {(start, later)}
    assert list(closed.amendments.values_list("field", "old_value", "new_value")) == [
        ("started_on", "2025-11-01", "2025-10-31"),
        ("closed_on", "2025-11-09", "2025-11-11"),
    ]
    assert TestDate.objects.get(lot=lot).inputs["tested_on"] == "2025-11-11"


def test_each_change_has_its_own_amendment(closed, amend):
    amend(dishes={1: {"normal": 45}, 2: {"normal": 45}}, closed_on=END - dt.timedelta(days=1))

    fields = closed.amendments.values_list("field", flat=True)
    assert list(fields) == ["dish 1", "dish 2", "closed_on"]


def test_a_dish_may_be_amended_again(closed, amend):
    amend(dishes={1: {"normal": 45}})
    amend(dishes={1: {"normal": 44}})

    assert counts_of(closed, 1)["normal"] == 44
    assert [a.new_value["normal"] for a in closed.amendments.all()] == [45, 44]


def test_an_amendment_of_groups_decides_anew(make_lot, desk):
    lot = make_lot(seeds=2000)
    test = services.start_test(lot=lot, kind="sequential", on=ON, by=desk)
    services.finish_group(test=test, on=ON, by=desk)
    test.refresh_from_db()
    assert (test.state, test.verdict) == ("closed", "below")

    services.amend_test(test=test, reason="0 for 7", dishes={1: {"normal": 7}}, by=desk)

    test.refresh_from_db()
    assert (test.state, test.verdict) == ("closed", "")


@pytest.mark.parametrize("state", ["planned", "running", "void"])
def test_only_a_closed_test_is_amended(lot, desk, amend, state):
    test = services.plan_test(lot=lot, on=ON, by=desk)
    if state == "running":
        services.begin_test(test=test, on=ON, by=desk)
    if state == "void":
        services.void_test(test=test, reason="dried out", by=desk)

    with pytest.raises(Conflict) as refusal:
        amend(test, dishes={1: {"normal": 4}})

    assert str(refusal.value) == f"Test {test.pk} is {state}, not closed."
    assert TestAmendment.objects.count() == 0


@pytest.mark.parametrize(
    ("asked", "field", "sentence"),
    [
        (
            {"reason": " "},
            "reason",
            "Say why, in a few words; it is kept with the record.",
        ),
        ({}, None, "That is what is recorded already."),
        ({"dishes": {1: {"normal": 46}}}, None, "That is what is recorded already."),
        ({"started_on": ON, "closed_on": END}, None, "That is what is recorded already."),
        (
            {"dishes": {1: {"normal": 51}}},
            "replicates",
            "Dish 1 was sown with 50, but 51 were counted.",
        ),
        (
            {"dishes": {1: {"normal": 45, "dead": 4}}},
            "replicates",
            "Dish 1 was sown with 50, and its counts add up to 49; leave the dead out to have "
            "the rest counted as dead.",
        ),
        (
            {"dishes": {1: {"seeds": 40}}},
            "replicates",
            "Dish 1 was sown with 50, not 40.",
        ),
        (
            {"closed_on": dt.date(2025, 10, 30)},
            "closed_on",
            "30 October 2025 is too early: the day the test was started was 1 November 2025.",
        ),
        (
            {"started_on": dt.date(2025, 9, 1)},
            "started_on",
            "1 September 2025 is too early: the day the lot was received was 1 October 2025.",
        ),
        (
            {"closed_on": dt.date(2999, 1, 1)},
            "closed_on",
            "1 January 2999 is still to come; give a day up to today.",
        ),
    ],
)
def test_what_cannot_be_amended_is_refused_and_nothing_changes(
    closed, amend, asked, field, sentence
):
    before = list(closed.replicates.values())

    with pytest.raises(Refused) as refusal:
        amend(**asked)

    assert (closed.started_on, closed.closed_on) == (ON, END)
    assert (refusal.value.field, str(refusal.value)) == (field, sentence)
    assert list(closed.replicates.values()) == before
    assert TestAmendment.objects.count() == 0


def test_a_dish_that_the_test_does_not_have_is_refused(closed, amend):
    with pytest.raises(Refused) as refusal:
        amend(dishes={1: {"normal": 1}, 3: {"normal": 1}})

    assert str(refusal.value) == (f"Test {closed.pk} has no dish 3; its dishes are 1 to 2.")
    assert counts_of(closed, 1)["normal"] == 46


def test_a_test_did_not_start_after_a_dish_was_counted(lot, desk):
    test = services.start_test(lot=lot, replicates=1, seeds_each=50, on=ON, by=desk)
    third = ON + dt.timedelta(days=2)
    services.count_dish(dish=test.replicates.get(), on=third, by=desk, normal=5)
    services.close_test(test=test, replicates=[{}], on=END, by=desk)

    with pytest.raises(Refused) as refusal:
        services.amend_test(
            test=test, reason="slip", started_on=third + dt.timedelta(days=1), by=desk
        )

    assert str(refusal.value) == (
        "A dish was sown or counted on 3 November 2025, not between 4 November 2025 and "
        "9 November 2025."
    )


def test_what_was_counted_by_day_stays_as_it_was_counted(lot, desk):
    test = services.start_test(lot=lot, replicates=1, seeds_each=50, on=ON, by=desk)
    services.count_dish(dish=test.replicates.get(), on=ON, by=desk, normal=45)
    services.close_test(test=test, replicates=[{}], on=END, by=desk)

    services.amend_test(test=test, reason="slip", dishes={1: {"normal": 40}}, by=desk)

    assert DayCount.objects.get().normal == 45


# What the database itself refuses


@pytest.mark.parametrize("name", services.COUNTS)
def test_the_database_refuses_a_closed_dish_other_counts(closed, name):
    with pytest.raises(IntegrityError) as refusal, transaction.atomic():
        Replicate.objects.filter(test=closed).update(**{name: 3})

    assert "change only together with an amendment" in str(refusal.value)


def test_the_database_refuses_a_second_change_on_the_strength_of_one_amendment(closed, amend):
    amend(dishes={1: {"normal": 45}})

    with pytest.raises(IntegrityError), transaction.atomic():
        closed.replicates.filter(number=1).update(normal=1)

    assert counts_of(closed, 1)["normal"] == 45


def test_the_database_refuses_to_lend_a_dish_an_older_amendment(closed, amend):
    (older,) = amend(dishes={1: {"normal": 45}})
    amend(dishes={1: {"normal": 44}})

    with pytest.raises(IntegrityError), transaction.atomic():
        closed.replicates.filter(number=1).update(normal=1, amendment=older)


@pytest.mark.parametrize("state", ["planned", "running"])
def test_the_database_runs_no_test_again(closed, desk, state):
    with pytest.raises(IntegrityError), transaction.atomic():
        GerminationTest.objects.filter(pk=closed.pk).update(state=state)
    services.void_test(test=closed, reason="mixed up", by=desk)
    with pytest.raises(IntegrityError), transaction.atomic():
        GerminationTest.objects.filter(pk=closed.pk).update(state=state)

    closed.refresh_from_db()
    assert closed.state == "void"


def test_the_database_keeps_a_test_with_its_lot(closed, make_lot):
    with pytest.raises(IntegrityError), transaction.atomic():
        GerminationTest.objects.filter(pk=closed.pk).update(lot=make_lot())


@pytest.mark.parametrize("changes", [{"seeds": 60}, {"number": 9}])
def test_the_database_keeps_a_dish_as_it_was_sown(closed, changes):
    with pytest.raises(IntegrityError), transaction.atomic():
        closed.replicates.filter(number=1).update(**changes)


def test_the_database_loses_no_dish(closed):
    with pytest.raises(IntegrityError), transaction.atomic():
        closed.replicates.all().delete()

    assert closed.replicates.count() == 2


@pytest.mark.parametrize(
    "changes",
    [
        {"reason": "another"},
        {"new_value": {}},
        {"old_value": {}},
        {"field": "dish 2"},
    ],
)
def test_the_database_keeps_every_amendment_as_it_is(closed, amend, changes):
    amend(dishes={1: {"normal": 45}})

    with pytest.raises(IntegrityError), transaction.atomic():
        TestAmendment.objects.update(**changes)
    with pytest.raises(IntegrityError), transaction.atomic():
        TestAmendment.objects.all()._raw_delete("default")

    assert closed.amendments.get().reason == "the dishes were mixed up"


def test_an_amendment_outlives_who_made_it(amend, desk):
    amend(dishes={1: {"normal": 45}})

    TestAmendment.objects.update(amended_by=None)

    assert TestAmendment.objects.get().amended_by is None


@pytest.mark.django_db(transaction=True)
def test_the_benchs_guards_stand_again_after_the_database_was_emptied(amend):
    amend(dishes={1: {"normal": 45}})

    call_command("flush", interactive=False, verbosity=0)

    assert GerminationTest.objects.count() == 0
    assert guards.missing(connection) == []


def test_verifying_notices_a_guard_of_the_bench_that_is_down(db, capsys):
    guards.lift(connection, GUARDS[:1])

    with pytest.raises(CommandError):
        call_command("verify_stock")

    assert capsys.readouterr().err == (
        "The database's guard test_stays_of_its_lot is not up.\n"
    )

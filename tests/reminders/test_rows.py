"""Reminders written by one statement for all that is due of a kind."""

from __future__ import annotations

import datetime as dt
import threading

import pytest
import time_machine
from django.db import connection, connections

from library.germination.models import TestDate
from library.outbox.models import Message
from library.reminders import rows
from library.reminders.choosing import save_wishes, stop_kind
from library.reminders.models import Reminder
from library.reminders.services import plan_reminders

pytestmark = pytest.mark.django_db

TODAY = dt.date(2026, 3, 10)
NOON = dt.datetime(2026, 3, 10, 12, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def today():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def due_tests(make_lot, variety):
    """``due_tests(3)`` lots are to be tested today; keys of the lots."""

    def make(count: int) -> list[int]:
        lots = [make_lot(variety) for _number in range(count)]
        keys = [lot.pk for lot in lots]
        for key in keys:
            TestDate.objects.create(
                lot_id=key, kind=TestDate.Kind.RETEST, due_on=TODAY, rule="clonal_season"
            )
        return keys

    return make


def test_each_who_answers_for_it_is_told_of_each(due_tests, coordinator, administrator, member):
    keys = due_tests(3)

    assert plan_reminders(on=TODAY) == 6

    told = set(Reminder.objects.values_list("recipient", "subject"))
    people = (coordinator.pk, administrator.pk)
    assert told == {(person, f"stock.Lot:{key}") for person in people for key in keys}
    assert plan_reminders(on=TODAY) == 0


def test_who_turned_the_kind_off_is_left_out(due_tests, coordinator, administrator):
    due_tests(2)
    stop_kind(member=administrator, kind="retest")

    plan_reminders(on=TODAY)

    assert set(Reminder.objects.values_list("recipient", flat=True)) == {coordinator.pk}


def test_each_is_told_in_their_own_language(due_tests, coordinator, administrator, variety):
    due_tests(1)
    type(administrator).objects.filter(pk=administrator.pk).update(language="de")

    plan_reminders(on=TODAY)

    mine, theirs = (person.reminders.get().title for person in (coordinator, administrator))
    assert mine.startswith("Retest of ")
    assert mine != theirs
    assert variety.name in mine
    assert variety.name in theirs


def test_a_name_that_looks_like_a_place_stays_a_name(due_tests, coordinator, variety):
    variety.name = "100 % %(lot)s {0} '"
    variety.save()
    due_tests(1)

    plan_reminders(on=TODAY)

    assert "100 % %(lot)s {0} '" in coordinator.reminders.get().title


def test_quiet_hours_hold_each_mail_until_their_end(due_tests, coordinator, administrator):
    save_wishes(member=coordinator, rhythm="single", quiet_from=9, quiet_until=18)
    due_tests(2)

    assert plan_reminders(on=TODAY, at=NOON) == 4

    begin = {m.to: m.not_before for m in Message.objects.filter(source__startswith="reminder:")}
    assert begin[administrator.email] == NOON
    assert begin[coordinator.email] == NOON.replace(hour=18)


@pytest.mark.parametrize("how_many", [1, 7])
def test_the_queries_stay_the_same(how_many, due_tests, coordinator, django_assert_num_queries):
    due_tests(how_many)
    plan_reminders(on=TODAY - dt.timedelta(days=900))

    with django_assert_num_queries(22):
        assert plan_reminders(on=TODAY) == how_many


# At the same moment -----------------------------------------------------------------------
def plan_at_once(threads: int) -> None:
    start = threading.Barrier(threads)
    failures = []

    def plan():
        start.wait()
        try:
            plan_reminders(on=TODAY)
        except Exception as error:
            failures.append(error)
        finally:
            connections.close_all()

    workers = [threading.Thread(target=plan) for _number in range(threads)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert failures == []


@pytest.fixture
def withdrawn(transactional_db, due_tests, coordinator) -> None:
    """Twenty reminders that were withdrawn, of things that are due after all."""
    due_tests(20)
    plan_reminders(on=TODAY)
    Reminder.objects.update(withdrawn_at=NOON)


def times_sent_again() -> set[int]:
    return set(Reminder.objects.values_list("times_sent_again", flat=True))


@pytest.mark.postgres
@pytest.mark.skipif(connection.vendor != "postgresql", reason="needs real concurrency")
def test_four_planners_revive_each_once(withdrawn):
    plan_at_once(4)

    assert times_sent_again() == {1}
    assert Message.objects.filter(source__startswith="reminder:").count() == 40


@pytest.mark.postgres
@pytest.mark.skipif(connection.vendor != "postgresql", reason="needs real concurrency")
def test_control_without_the_guards_each_is_revived_by_every_planner(withdrawn, monkeypatch):
    unguarded = rows.WRITE.replace(" AND known.withdrawn_at IS NULL)", " AND 1 = 0)")
    unguarded = unguarded.replace(" WHERE reminders_reminder.withdrawn_at IS NOT NULL", "")
    assert unguarded.count("withdrawn_at") == rows.WRITE.count("withdrawn_at") - 2
    monkeypatch.setattr(rows, "WRITE", unguarded)

    plan_at_once(4)

    assert max(times_sent_again()) > 1

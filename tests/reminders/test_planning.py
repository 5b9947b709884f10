"""What is due becomes one reminder for each person, and one mail."""

from __future__ import annotations

import datetime as dt
import threading

import pytest
import time_machine
from django.db import connection, connections

from accounts.models import Member, Membership
from library.outbox.models import Message
from library.outbox.services import deliver_next, queue_mail
from library.reminders import queueing, services
from library.reminders.models import Reminder
from library.reminders.services import plan_reminders

pytestmark = pytest.mark.django_db

TODAY = dt.date(2026, 3, 10)
DAY = dt.timedelta(days=1)


@pytest.fixture(autouse=True)
def today():
    with time_machine.travel("2026-03-10 12:00Z", tick=False):
        yield


def test_what_is_due_becomes_one_reminder_and_one_mail(member, make_item, due_items):
    due_items.append(make_item(member))

    planned = plan_reminders(on=TODAY)

    reminder, message = Reminder.objects.get(), Message.objects.get()
    assert planned == 1
    assert reminder.recipient == member
    assert (message.to, message.source) == (member.email, f"reminder:{reminder.pk}")


def test_planning_twice_writes_once(member, make_item, due_items):
    due_items.append(make_item(member))

    counts = [
        plan_reminders(on=TODAY),
        plan_reminders(on=TODAY),
        plan_reminders(on=TODAY + DAY),
    ]

    assert counts == [1, 0, 0]
    assert Message.objects.count() == 1


def test_nothing_is_planned_before_its_day(member, make_item, due_items):
    due_items.append(make_item(member, remind_on=TODAY + DAY))

    assert plan_reminders(on=TODAY) == 0


def test_missed_nights_are_made_good(member, make_item, due_items, mailbox):
    due_items.append(make_item(member, remind_on=TODAY - 9 * DAY, due_on=TODAY - 2 * DAY))

    assert plan_reminders(on=TODAY) == 1
    deliver_next(worker="w")
    assert b"Subject: Overdue: Bring back seed of Tarn Kettle" in mailbox.received[0].content


def test_another_due_date_is_another_reminder(member, make_item, due_items):
    due_items[:] = [make_item(member)]
    plan_reminders(on=TODAY)

    due_items[:] = [make_item(member, due_on=TODAY + 30 * DAY)]
    plan_reminders(on=TODAY)

    assert Reminder.objects.count() == 2


def test_what_a_role_answers_for_goes_to_everyone_who_holds_it(
    member, desk, coordinator, administrator, make_item, due_items
):
    due_items.append(make_item(role="desk", subject="lending.Deposit:1"))
    due_items.append(make_item(role="coordinator", subject="stock.Lot:1"))

    plan_reminders(on=TODAY)

    told = {
        person.display_name: sorted(person.reminders.values_list("subject", flat=True))
        for person in (member, desk, coordinator, administrator)
    }
    both = ["lending.Deposit:1", "stock.Lot:1"]
    assert told == {"wren": [], "heron": ["lending.Deposit:1"], "owl": both, "swan": both}


def test_who_left_or_wants_none_gets_no_reminder(make_member, make_item, due_items):
    left = make_member("left", membership=Membership.LEFT)
    quiet = make_member("quiet")
    Member.objects.filter(pk=quiet.pk).update(wants_reminders=False)
    due_items += [make_item(left, subject="a:1"), make_item(quiet, subject="a:2")]

    assert plan_reminders(on=TODAY) == 0
    assert Reminder.objects.count() == 0


def test_a_planner_that_died_between_row_and_mail_is_made_good(member, make_item, due_items):
    due_items.append(make_item(member))
    services._plan(due_items, [member])  # and then the process dies
    assert Message.objects.count() == 0

    assert plan_reminders(on=TODAY + DAY) == 1
    assert Message.objects.count() == 1


@pytest.mark.parametrize("count", [1, 6])
def test_planning_costs_the_same_queries_when_all_is_planned(
    count, member, make_item, due_items, django_assert_num_queries
):
    due_items += [make_item(member, subject=f"a:{n}") for n in range(count)]
    plan_reminders(on=TODAY)

    with django_assert_num_queries(8):
        plan_reminders(on=TODAY)


def test_a_thing_done_before_delivery_drops_the_mail(mailbox, member, make_item, due_items):
    due_items.append(make_item(member))
    plan_reminders(on=TODAY)
    due_items.clear()

    deliver_next(worker="w")

    assert mailbox.received == []
    assert Message.objects.get().dropped_at is not None
    assert Reminder.objects.get().withdrawn_at is not None


@pytest.mark.parametrize(
    "change",
    [
        {"membership": Membership.LEFT, "is_active": False},
        {"wants_reminders": False},
        {"is_active": False},
    ],
    ids=["left", "wants none", "closed"],
)
def test_who_left_or_changed_their_mind_before_delivery_gets_nothing(
    change, mailbox, member, make_item, due_items
):
    due_items.append(make_item(member))
    plan_reminders(on=TODAY)
    Member.objects.filter(pk=member.pk).update(**change)

    deliver_next(worker="w")

    assert mailbox.received == []
    assert Reminder.objects.get().withdrawn_at is not None


def test_who_lost_the_role_before_delivery_gets_nothing(mailbox, desk, make_item, due_items):
    due_items.append(make_item(role="desk"))
    plan_reminders(on=TODAY)
    Member.objects.filter(pk=desk.pk).update(role="member")

    deliver_next(worker="w")

    assert mailbox.received == []


def test_the_mail_goes_to_the_address_of_today(mailbox, member, make_item, due_items):
    due_items.append(make_item(member))
    plan_reminders(on=TODAY)
    Member.objects.filter(pk=member.pk).update(email="moved@example.org")

    deliver_next(worker="w")

    assert mailbox.received[0].to == ["moved@example.org"]


def test_a_deleted_member_gets_nothing_and_nothing_fails(mailbox, member, make_item, due_items):
    due_items.append(make_item(member))
    plan_reminders(on=TODAY)
    member.delete()

    assert deliver_next(worker="w") is True
    assert mailbox.received == []


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

    workers = [threading.Thread(target=plan) for _ in range(threads)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert failures == []


@pytest.fixture
def thirty_due(transactional_db, member, make_item, due_items):
    due_items += [make_item(member, subject=f"a:{n}") for n in range(30)]


def test_four_planners_at_once_write_each_mail_once(thirty_due):
    plan_at_once(4)

    assert Reminder.objects.count() == 30
    assert Message.objects.count() == 30


@pytest.mark.skipif(connection.vendor != "postgresql", reason="needs real concurrency")
@pytest.mark.postgres
def test_control_without_the_guard_a_reminder_is_mailed_more_than_once(thirty_due, monkeypatch):
    """The race is real: with neither the guarded UPDATE nor the key, mails are doubled."""
    together = threading.Barrier(4, timeout=10)
    keys = iter(range(10_000))

    def unguarded(rows, not_before):
        waiting = list(rows.select_related("recipient"))
        together.wait()
        for row in waiting:
            queue_mail(to=row.recipient.email, message_key=str(next(keys)), subject="", text="")
        return len(waiting)

    monkeypatch.setattr(queueing, "_queue", unguarded)

    plan_at_once(4)

    assert Message.objects.count() > 30

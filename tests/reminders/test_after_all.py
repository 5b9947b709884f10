"""What comes back, moves or goes between planning and delivery."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from accounts.models import Community, Member
from accounts.services import leave
from library.lending.models import Deposit
from library.lending.services import propose_deposit
from library.outbox.models import Message
from library.outbox.services import deliver_next, sweep
from library.reminders import services
from library.reminders.choosing import save_wishes
from library.reminders.models import Reminder
from library.reminders.services import plan_reminders

pytestmark = pytest.mark.django_db

TODAY = dt.date(2026, 3, 10)


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel("2026-03-10 12:00Z", tick=False) as clock:
        yield clock


@pytest.mark.parametrize("rhythm", ["single", "daily"])
def test_a_thing_that_was_undone_is_told_after_all_and_once(
    rhythm, member, make_item, due_items, mailbox, clock
):
    save_wishes(member=member, rhythm=rhythm)
    item = make_item(member)
    due_items.append(item)
    plan_reminders()
    due_items.clear()
    sweep(worker="w")
    assert mailbox.received == []
    assert Reminder.objects.get().state == "withdrawn"

    due_items.append(item)
    clock.move_to("2026-03-11 12:00Z")
    for _hour in range(3):
        plan_reminders()
        sweep(worker="w")

    assert len(mailbox.received) == 1
    assert Reminder.objects.get().state == "sent"


def test_what_an_address_refused_goes_to_the_next_address_and_once(
    member, make_item, due_items, mailbox
):
    mailbox.answers[member.email] = "550 no such mailbox"
    due_items.append(make_item(member))
    for _hour in range(2):
        plan_reminders()
        sweep(worker="w")
    assert Message.objects.count() == 1  # not again to the same

    Member.objects.filter(pk=member.pk).update(email="moved@example.org")
    for _hour in range(3):
        plan_reminders()
        sweep(worker="w")

    assert [mail.to for mail in mailbox.received] == [["moved@example.org"]]


def test_an_attempt_that_comes_back_in_the_night_waits_for_the_morning(
    member, make_item, due_items, mailbox, clock
):
    save_wishes(member=member, rhythm="single", quiet_from=21, quiet_until=7)
    clock.move_to("2026-03-10 20:59Z")
    due_items.append(make_item(member))
    plan_reminders()
    mailbox.answers[member.email] = "450 try later"
    deliver_next(worker="w")
    del mailbox.answers[member.email]

    clock.move_to("2026-03-10 21:30Z")
    sweep(worker="w")
    message = Message.objects.get()
    assert mailbox.received == []
    assert message.not_before == dt.datetime(2026, 3, 11, 7, tzinfo=dt.UTC)
    assert (message.attempts, message.claimed_at) == (1, None)

    clock.move_to("2026-03-11 07:00Z")
    sweep(worker="w")
    assert len(mailbox.received) == 1


def test_a_day_is_the_librarys_wherever_the_reader_is(member, desk, variety, mailbox):
    """Offered at half past eleven at night: another day for the volunteer than in UTC."""
    Community.objects.update_or_create(pk=1, defaults={"time_zone": "Europe/Berlin"})
    Member.objects.filter(pk=desk.pk).update(time_zone="Pacific/Auckland")
    deposit = propose_deposit(depositor=member, on=TODAY, variety=variety)
    offered_at = dt.datetime(2026, 3, 8, 23, 30, tzinfo=dt.UTC)
    Deposit.objects.filter(pk=deposit.pk).update(proposed_at=offered_at)

    plan_reminders()
    sweep(worker="w")

    reminder = desk.reminders.get()
    assert reminder.state == "sent"
    assert reminder.due_on == dt.date(2026, 3, 23)  # a fortnight after 9 March in Berlin
    assert [desk.email] in [mail.to for mail in mailbox.received]


@pytest.mark.parametrize("rhythm", ["single", "daily"])
def test_who_leaves_is_forgotten_at_the_address_they_had_before_too(
    rhythm, member, make_item, due_items
):
    save_wishes(member=member, rhythm=rhythm)
    due_items.append(make_item(member))
    plan_reminders()
    Member.objects.filter(pk=member.pk).update(email="moved@example.org")
    member.refresh_from_db()

    leave(member=member, by=member)

    prefix = "digest:" if rhythm == "daily" else "reminder:"
    kept = Message.objects.get(source__startswith=prefix)
    assert (kept.to, kept.subject, kept.text, kept.headers) == ("", "", "", {})
    assert kept.dropped_at is not None


def test_what_is_undone_while_its_mail_is_dropped_is_told_by_the_next_planning(
    member, make_item, due_items, mailbox, monkeypatch
):
    """The sender saw it done; before it wrote so, it was undone and the planner came by."""
    item = make_item(member)
    due_items.append(item)
    plan_reminders(on=TODAY)
    due_items.clear()
    ask = services.item_now

    def undone_meanwhile(**asked):
        answer = ask(**asked)
        due_items.append(item)
        assert plan_reminders(on=TODAY) == 0
        monkeypatch.setattr(services, "item_now", ask)
        return answer

    monkeypatch.setattr(services, "item_now", undone_meanwhile)
    sweep(worker="w")
    assert mailbox.received == []

    assert plan_reminders(on=TODAY) == 1
    sweep(worker="w")
    assert len(mailbox.received) == 1

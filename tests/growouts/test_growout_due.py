"""Who is reminded of what of a grow-out, and when."""

from __future__ import annotations

import datetime as dt

import pytest

from library.growouts.due import due_items
from library.growouts.models import Milestone
from library.growouts.services import commitments as services
from library.growouts.services.milestones import report_milestone
from library.outbox import services as outbox
from library.outbox.models import Message
from library.outbox.services import sweep
from library.reminders.services import plan_reminders
from tests.growouts.conftest import TODAY
from tests.mailbox import free_port, mailbox

__all__ = ["free_port", "mailbox"]

pytestmark = pytest.mark.django_db

DAY = dt.timedelta(days=1)


def items(kind: str, *, on: dt.date) -> list:
    """What a reminder is wanted for on a day."""
    return [i for i in due_items(until=on + 60 * DAY) if i.kind == kind and i.remind_on <= on]


def titles(kind: str, *, on: dt.date) -> list[str]:
    return [item.title for item in items(kind, on=on)]


# Offers -----------------------------------------------------------------------------------
def test_an_offer_is_called_to_mind_five_days_before_it_lapses(offered, member):
    last = offered.answer_by

    assert items("growout-offer", on=last - 6 * DAY) == []
    (item,) = items("growout-offer", on=last - 5 * DAY)
    assert (item.recipient_id, item.due_on) == (member.pk, last)
    assert item.title == "Will you grow Tarn Kettle?"


def test_a_short_offer_is_not_called_to_mind_on_the_day_it_is_made(offered):
    offered.answer_by = TODAY + 3 * DAY
    offered.save()

    assert items("growout-offer", on=TODAY) == []
    assert items("growout-offer", on=TODAY + 2 * DAY) != []


def test_who_answered_is_not_asked_again(promised):
    assert items("growout-offer", on=promised.answer_by) == []


def test_the_coordinator_hears_of_an_offer_that_lapsed(offered, coordinator, member):
    services.lapse_unanswered(on=offered.answer_by + DAY)

    letter = Message.objects.get(to=coordinator.email)
    assert letter.subject == f"{member.display_name} did not answer: Tarn Kettle"


# Steps ------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("kind", "lead", "title"),
    [
        ("sown", 21, "Sow Tarn Kettle"),
        ("stand", 3, "Count what stands of Tarn Kettle"),
        ("rogued", 7, "Rogue Tarn Kettle"),
        ("isolated", 14, "Isolate the flowers of Tarn Kettle"),
        ("harvested", 10, "Harvest seed of Tarn Kettle"),
        ("cleaned", 7, "Clean the seed of Tarn Kettle"),
    ],
)
def test_each_step_has_its_own_time_before_it(promised, member, kind, lead, title):
    due_on = promised.milestones.get(kind=kind).due_on

    assert title not in titles("growout-step", on=due_on - (lead + 1) * DAY)
    assert title in titles("growout-step", on=due_on - lead * DAY)
    assert {i.recipient_id for i in items("growout-step", on=due_on)} == {member.pk}


def test_bringing_it_in_is_told_by_the_loan_alone(promised):
    back = promised.milestones.get(kind="returned").due_on

    assert "Bring in seed of Tarn Kettle" not in titles("growout-step", on=back)


def test_what_was_done_and_what_a_later_step_passed_over_is_not_asked_for(promised, member):
    late = promised.milestones.get(kind="harvested").due_on
    assert "Sow Tarn Kettle" in titles("growout-step", on=late)

    report_milestone(
        milestone=promised.milestones.get(kind="rogued"), on=TODAY, today=TODAY, by=member
    )

    told = titles("growout-step", on=late)
    assert "Sow Tarn Kettle" not in told
    assert "Count what stands of Tarn Kettle" not in told
    assert "Harvest seed of Tarn Kettle" in told


def test_a_coordinator_hears_of_a_step_more_than_three_weeks_late(promised, member):
    due_on = promised.milestones.get(kind="sown").due_on

    assert items("growout-late", on=due_on + 21 * DAY) == []
    (item,) = items("growout-late", on=due_on + 22 * DAY)
    assert (item.role, item.recipient_id) == ("coordinator", None)
    assert member.display_name in item.title


def test_what_ended_is_not_asked_for(promised, member):
    services.fail(commitment=promised, cause="hail", on=TODAY, by=member)
    far = TODAY + 400 * DAY

    assert list(due_items(until=far)) == []


def test_one_letter_for_each_step_however_often_it_is_planned(promised, member, february):
    due_on = promised.milestones.get(kind="sown").due_on
    february.move_to(dt.datetime.combine(due_on - 21 * DAY, dt.time(9), dt.UTC))

    for _night in range(2):
        plan_reminders(on=due_on - 21 * DAY)

    letters = Message.objects.filter(to=member.email, subject__contains="Sow Tarn Kettle")
    assert letters.count() == 1


def test_a_promise_called_off_between_claim_and_sending_is_not_mailed(
    promised, coordinator, february, mailbox, monkeypatch
):
    due_on = promised.milestones.get(kind="sown").due_on
    february.move_to(dt.datetime.combine(due_on - 21 * DAY, dt.time(9), dt.UTC))
    sweep(worker="w")  # the letters of the promise itself
    plan_reminders(on=due_on - 21 * DAY)
    mailbox.received.clear()
    claim = outbox._claim

    def called_off_meanwhile(pk, worker):
        claimed = claim(pk, worker)
        monkeypatch.setattr(outbox, "_claim", claim)
        services.withdraw(commitment=promised, on=TODAY, by=coordinator, reason="No seed left.")
        return claimed

    monkeypatch.setattr(outbox, "_claim", called_off_meanwhile)
    sweep(worker="w")

    told = b"".join(mail.content for mail in mailbox.received)
    assert b"Sow Tarn Kettle" not in told
    assert b"No seed left." in told
    reminders = Message.objects.filter(source__startswith="reminder:")
    assert reminders.filter(dropped_at__isnull=False).exists()
    assert not reminders.filter(sent_at__isnull=False).exists()


def test_control_a_promise_that_stands_is_mailed(promised, february, mailbox):
    due_on = promised.milestones.get(kind="sown").due_on
    february.move_to(dt.datetime.combine(due_on - 21 * DAY, dt.time(9), dt.UTC))
    plan_reminders(on=due_on - 21 * DAY)

    sweep(worker="w")

    assert b"Sow Tarn Kettle" in b"".join(mail.content for mail in mailbox.received)


@pytest.mark.parametrize("how_many", [1, 6])
def test_the_queries_stay_the_same(
    how_many, member, make_variety, make_commitment, django_assert_num_queries
):
    for _number in range(how_many):
        make_commitment(make_variety(), member)
        steps = (("sown", TODAY), ("stand", TODAY))
        make_commitment(make_variety(), member, state="accepted", steps=steps)

    with django_assert_num_queries(3):
        found = list(due_items(until=TODAY + 60 * DAY))

    assert len(found) == 5 * how_many
    assert Milestone.objects.late(TODAY + DAY).count() == 2 * how_many

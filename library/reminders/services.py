"""What is due becomes one reminder for each person it concerns, and each is mailed once.

Planning may run twice, at the same moment and from several machines: a unique key keeps one
row, a guarded UPDATE lets one planner queue its mail, and both are one transaction with the
mail. A night that was missed is made good by the next.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone, translation

from accounts.models import Community, Member
from library.hooks import DueItem
from library.outbox.services import queue_mail
from library.reminders.due import HORIZON, all_items, concerns, items_to_remind
from library.reminders.letter import write_letter
from library.reminders.models import Reminder


def plan_reminders(*, on: dt.date) -> int:
    """Queue the mail of every reminder wanted on or before ``on``; how many were new."""
    for language, members in _readers_by_language().items():
        with translation.override(language):
            _plan(items_to_remind(on=on), members)
    return sum(_queue(reminder) for reminder in _waiting())


def items_for(member: Member, until: dt.date) -> list[DueItem]:
    """What is due for this member by ``until``, the earliest first."""
    items = all_items(until=until + HORIZON)
    mine = [i for i in items if i.due_on <= until and concerns(i, member)]
    return sorted(mine, key=lambda item: (item.due_on, item.kind, item.subject))


def address_for(source: str) -> str | None:
    """The outbox asks right before delivery: where to, or None when it is not wanted now."""
    reminder = (
        Reminder.objects.select_related("recipient").filter(pk=source.partition(":")[2]).first()
    )
    if reminder is None or reminder.withdrawn_at is not None:
        return None
    if not _wanted(reminder):
        Reminder.objects.filter(pk=reminder.pk).update(withdrawn_at=timezone.now())
        return None
    return reminder.recipient.email


def _wanted(reminder: Reminder) -> bool:
    member = reminder.recipient
    if not (member.is_approved and member.wants_reminders):
        return False
    return any(
        (item.kind, item.subject, item.due_on)
        == (reminder.kind, reminder.subject, reminder.due_on)
        and concerns(item, member)
        for item in all_items(until=reminder.due_on + HORIZON)
    )


def _readers_by_language() -> dict[str, list[Member]]:
    """Members who want reminders, by the language their mail is written in."""
    readers: dict[str, list[Member]] = {}
    for member in Member.objects.active().filter(wants_reminders=True).order_by("pk"):
        readers.setdefault(_language_of(member), []).append(member)
    return readers


def _language_of(member: Member) -> str:
    return member.language or Community.current().language


def _plan(items: Iterable[DueItem], members: list[Member]) -> None:
    rows = [
        Reminder(
            recipient=member,
            kind=item.kind,
            subject=item.subject,
            due_on=item.due_on,
            title=str(item.title)[:250],
            detail=str(item.detail),
            url=item.url,
        )
        for item in items
        for member in members
        if concerns(item, member)
    ]
    # One order for everyone: two planners that insert the same rows never wait for each other
    # in a circle.
    rows.sort(key=lambda row: (row.recipient_id, row.kind, row.subject, row.due_on))
    Reminder.objects.bulk_create(rows, batch_size=500, ignore_conflicts=True)


def _waiting() -> Iterable[Reminder]:
    return Reminder.objects.waiting().select_related("recipient").order_by("pk")


def _queue(reminder: Reminder) -> bool:
    """Write this reminder's mail; False when another planner did."""
    letter = write_letter(reminder, language=_language_of(reminder.recipient))
    with transaction.atomic():
        mine = Reminder.objects.waiting().filter(pk=reminder.pk)
        if not mine.update(queued_at=timezone.now()):
            return False
        source = f"reminder:{reminder.pk}"
        queue_mail(to=reminder.recipient.email, message_key=source, source=source, **letter)
    return True

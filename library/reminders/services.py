"""What is due becomes one reminder for each person it concerns, and each is mailed once.

Planning may run twice, at the same moment and from several machines: a unique key keeps one
row, a guarded UPDATE lets one planner queue its mail, and both are one transaction with the
mail. A night that was missed is made good by the next. What the mail says is asked again right
before it goes.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

from django.db import transaction
from django.db.models import F
from django.utils import timezone, translation

from accounts.middleware import zone_of
from accounts.models import Community, Member
from library.hooks import DueItem
from library.outbox.models import Message
from library.outbox.services import queue_mail
from library.outbox.sources import Letter, NotNow
from library.reminders.due import (
    HORIZON,
    PERMISSION_OF_ROLE,
    all_items,
    concerns,
    item_now,
    items_to_remind,
)
from library.reminders.letter import write_digest, write_letter
from library.reminders.models import Reminder, Wishes
from library.reminders.wishes import first_moment, gathers_at, today_of, wants, wishes_of

BATCH = 1000


def plan_reminders(*, on: dt.date | None = None, at: dt.datetime | None = None) -> int:
    """Queue the mail of every reminder wanted by today; how many mails were new.

    Today is each member's own date, or ``on`` for everybody.
    """
    at = at or timezone.now()
    for (language, day), members in _readers(at, on).items():
        with translation.override(language), _days_of_the_library():
            _plan(items_to_remind(on=day), members)
    _let_new_addresses_hear()
    return _queue_singles(at) + _queue_digests(at)


def items_for(member: Member, until: dt.date) -> list[DueItem]:
    """What is due for this member by ``until``, the earliest first."""
    items = all_items(until=until + HORIZON)
    mine = [i for i in items if i.due_on <= until and concerns(i, member)]
    return sorted(mine, key=lambda item: (item.due_on, item.kind, item.subject))


def _days_of_the_library():
    """A thing has one day, whoever is told of it and whoever asks again later."""
    return timezone.override(zone_of(None))


# Planning ---------------------------------------------------------------------------------
def _readers(at: dt.datetime, on: dt.date | None) -> dict[tuple[str, dt.date], list[Member]]:
    """Members who want reminders, by the language of their mail and the day it is for them."""
    readers: dict[tuple[str, dt.date], list[Member]] = defaultdict(list)
    rows = Member.objects.active().filter(wants_reminders=True)
    for member in rows.select_related("reminder_wishes").order_by("pk"):
        readers[language_of(member), on or today_of(member, at)].append(member)
    return readers


def language_of(member: Member) -> str:
    return member.language or Community.current().language


def _plan(items: Iterable[DueItem], members: list[Member]) -> None:
    """Write down what is not written yet, a batch at a time: memory stays flat."""
    rows = _rows(items, members)
    while batch := list(islice(rows, BATCH)):
        # One order for everyone: two planners that insert the same rows never wait for each
        # other in a circle.
        batch.sort(key=lambda row: (row.recipient_id, row.kind, row.subject, row.due_on))
        Reminder.objects.bulk_create(batch, batch_size=500, ignore_conflicts=True)
        _revive(batch)


def _revive(batch: list[Reminder]) -> None:
    """What was withdrawn and is due again after all, a loan closed by mistake, waits again."""
    wanted = {_key(row) for row in batch}
    withdrawn = Reminder.objects.withdrawn().filter(subject__in={row.subject for row in batch})
    again = [row.pk for row in withdrawn.iterator(chunk_size=BATCH) if _key(row) in wanted]
    Reminder.objects.withdrawn().filter(pk__in=again).let_wait_again()


def _key(row: Reminder) -> tuple:
    return row.recipient_id, row.kind, row.subject, row.due_on


def _let_new_addresses_hear() -> None:
    """What an address refused goes to the one that its member has confirmed since."""
    refused = Reminder.objects.in_state("failed").filter(
        message__last_error__contains="RecipientsRefused"
    )
    moved = refused.exclude(message__to="").exclude(message__to=F("recipient__email"))
    Reminder.objects.filter(pk__in=list(moved.values_list("pk", flat=True))).let_wait_again()


def _rows(items: Iterable[DueItem], members: list[Member]) -> Iterator[Reminder]:
    by_key = {member.pk: member for member in members}
    by_role = {
        role: [member for member in members if member.has_perm(permission)]
        for role, permission in PERMISSION_OF_ROLE.items()
    }
    for item in items:
        for member in _concerned(item, by_key, by_role):
            if wants(member, item.kind):
                yield _reminder(item, member)


def _concerned(
    item: DueItem, by_key: dict[int, Member], by_role: dict[str, list[Member]]
) -> list[Member]:
    if item.recipient_id is None:
        return by_role.get(item.role or "", [])
    named = by_key.get(item.recipient_id)
    return [named] if named else []


def _reminder(item: DueItem, member: Member) -> Reminder:
    return Reminder(
        recipient=member,
        kind=item.kind,
        subject=item.subject,
        due_on=item.due_on,
        title=str(item.title)[:250],
        detail=str(item.detail),
        url=item.url,
    )


# Queueing ---------------------------------------------------------------------------------
def _waiting() -> Iterable[Reminder]:
    rows = Reminder.objects.waiting().select_related("recipient__reminder_wishes")
    return rows.order_by("pk").iterator(chunk_size=BATCH)


def _queue_singles(at: dt.datetime) -> int:
    single = Wishes.Rhythm.SINGLE
    rows = (row for row in _waiting() if wishes_of(row.recipient).rhythm == single)
    return sum(_queue(reminder, at) for reminder in rows)


def _queue(reminder: Reminder, at: dt.datetime) -> bool:
    """Write this reminder's mail; False when another planner did."""
    member = reminder.recipient
    letter = write_letter(reminder, language=language_of(member))
    with transaction.atomic():
        mine = Reminder.objects.waiting().filter(pk=reminder.pk)
        if not mine.update(queued_at=timezone.now()):
            return False
        source = f"reminder:{reminder.pk}"
        again = reminder.times_sent_again
        message = queue_mail(
            to=member.email,
            message_key=f"{source}:again:{again}" if again else source,
            source=source,
            not_before=first_moment(wishes_of(member), at),
            **letter,
        )
        Reminder.objects.filter(pk=reminder.pk).update(message=message)
    return True


def _queue_digests(at: dt.datetime) -> int:
    by_member: dict[int, list[Reminder]] = defaultdict(list)
    for row in _waiting():
        if wishes_of(row.recipient).rhythm != Wishes.Rhythm.SINGLE:
            by_member[row.recipient_id].append(row)
    return sum(_gather(rows, at) for rows in by_member.values())


def _gather(rows: Sequence[Reminder], at: dt.datetime) -> bool:
    """One mail of all that waits for a member, on its morning; False when it is not yet due, or
    another planner did it.
    """
    member = rows[0].recipient
    wishes = wishes_of(member)
    if not gathers_at(wishes, at):
        if wishes.gathered_on is None and wishes.pk:
            # A week begins to be counted with the first thing that waits.
            Wishes.objects.filter(pk=wishes.pk, gathered_on=None).update(
                gathered_on=today_of(member, at) - dt.timedelta(days=1)
            )
        return False
    day = today_of(member, at)
    letter = write_digest(member, rows, language=language_of(member))
    with transaction.atomic():
        taken = Wishes.objects.filter(pk=wishes.pk).exclude(gathered_on=day)
        if not taken.update(gathered_on=day):
            return False
        mine = Reminder.objects.waiting().filter(pk__in=[row.pk for row in rows])
        if not mine.update(queued_at=timezone.now()):
            return False
        source = f"digest:{member.pk}:{day.isoformat()}"
        message = queue_mail(
            to=member.email,
            message_key=source,
            source=source,
            not_before=first_moment(wishes, at),
            **letter,
        )
        Reminder.objects.filter(pk__in=[row.pk for row in rows], message=None).update(
            message=message
        )
    return True


# Right before it goes ---------------------------------------------------------------------
def letter_of(source: str) -> Letter | None:
    """The outbox asks: the mail as it is to be today, or None when nothing of it is wanted."""
    prefix, _, rest = source.partition(":")
    if prefix == "digest":
        return _digest_now(source)
    rows = Reminder.objects.filter(pk=rest).select_related("recipient__reminder_wishes")
    reminder = rows.first()
    if reminder is None or not _still(reminder):
        return None
    member = reminder.recipient
    _not_in_quiet_hours(member)
    return Letter(member.email, **write_letter(reminder, language=language_of(member)))


def _digest_now(source: str) -> Letter | None:
    message = Message.objects.filter(message_key=source).first()
    rows = Reminder.objects.filter(message=message, withdrawn_at=None).select_related(
        "recipient__reminder_wishes"
    )
    kept = [row for row in rows.order_by("due_on", "pk") if message and _still(row)]
    if not kept:
        return None
    member = kept[0].recipient
    _not_in_quiet_hours(member)
    return Letter(member.email, **write_digest(member, kept, language=language_of(member)))


def _not_in_quiet_hours(member: Member) -> None:
    """An attempt that failed may come back in the night."""
    now = timezone.now()
    until = first_moment(wishes_of(member), now)
    if until > now:
        raise NotNow(until)


def _still(reminder: Reminder) -> bool:
    """Whether it is still wanted and still so; in its words of today. Else it is withdrawn."""
    if reminder.withdrawn_at is not None:
        return False
    member = reminder.recipient
    item = None
    if wants(member, reminder.kind):
        today = today_of(member, timezone.now())
        with translation.override(language_of(member)), _days_of_the_library():
            item = item_now(
                kind=reminder.kind,
                subject=reminder.subject,
                due_on=reminder.due_on,
                member=member,
                on=today,
            )
    if item is None:
        Reminder.objects.filter(pk=reminder.pk).update(withdrawn_at=timezone.now())
        return False
    reminder.title, reminder.detail = str(item.title)[:250], str(item.detail)
    reminder.url = item.url
    return True

"""Reminders that wait become mail: each alone by one statement for all, or in a digest.

A single reminder's mail is queued without its words: the outbox asks for the letter right
before it goes (``services.letter_of``), and only that is read by anybody.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Sequence

from django.db import connection, transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from library.outbox.services import announce_many, queue_mail
from library.reminders.letter import write_digest
from library.reminders.models import Reminder, Wishes
from library.reminders.wishes import (
    first_moment,
    gathers_at,
    language_of,
    today_of,
    wishes_of,
)

BATCH = 1000
AT_ONCE = 5000  # mails in one transaction: a planner that dies loses no more than these
SINGLE = Wishes.Rhythm.SINGLE

SOURCE = "'reminder:' || waits.id"
KEY = (
    f"CASE WHEN waits.times_sent_again = 0 THEN {SOURCE}"
    f" ELSE {SOURCE} || ':again:' || waits.times_sent_again END"
)
WRITE = (
    'INSERT INTO outbox_message (message_key, source, "to", sender, subject, text, html,'  # noqa: S608
    " headers, created_at, not_before, claimed_by, attempts, last_error)"
    f" SELECT {KEY}, {SOURCE}, reader.email, '', waits.title, '', '', %s, %s, %s, '', 0, ''"
    " FROM reminders_reminder AS waits"
    " JOIN accounts_member AS reader ON reader.id = waits.recipient_id"
    " WHERE waits.id IN ({waiting}) ORDER BY waits.id ON CONFLICT DO NOTHING"
)
# Only what has its mail: a row that another planner wrote in between waits for the next time.
TAKE = (
    "UPDATE reminders_reminder AS waits SET queued_at = %s, message_id ="  # noqa: S608
    f" (SELECT mail.id FROM outbox_message AS mail WHERE mail.message_key = {KEY})"
    " WHERE waits.queued_at IS NULL AND waits.id IN ({waiting})"
    f" AND EXISTS (SELECT 1 FROM outbox_message AS mail WHERE mail.message_key = {KEY})"
)


def queue_singles(at: dt.datetime) -> int:
    """A mail of its own for each reminder of those who want that; how many were new."""
    queued = sum(
        _queue(chunk, not_before)
        for not_before, rows in _by_moment(at)
        for chunk in _chunks(rows)
    )
    if queued:
        announce_many()
    return queued


def _by_moment(at: dt.datetime) -> Iterator[tuple[dt.datetime, QuerySet]]:
    """What waits to go alone, by the moment before which its reader is not to be disturbed."""
    alone = Q(recipient__reminder_wishes=None) | Q(recipient__reminder_wishes__rhythm=SINGLE)
    rows = Reminder.objects.waiting().filter(alone)
    asleep: dict[dt.datetime, list[int]] = defaultdict(list)
    quiet = Wishes.objects.filter(rhythm=SINGLE).exclude(quiet_from=None)
    for wishes in quiet.select_related("member"):
        moment = first_moment(wishes, at)
        if moment > at:
            asleep[moment].append(wishes.member_id)
    yield at, rows.exclude(recipient__in=[pk for keys in asleep.values() for pk in keys])
    for moment, keys in asleep.items():
        yield moment, rows.filter(recipient__in=keys)


def _chunks(rows: QuerySet) -> Iterator[QuerySet]:
    """The rows in parts, the oldest first; what is taken meanwhile is not looked at again."""
    after = 0
    while keys := list(
        rows.filter(pk__gt=after).order_by("pk").values_list("pk", flat=True)[:AT_ONCE]
    ):
        yield rows.filter(pk__gt=after, pk__lte=keys[-1])
        after = keys[-1]


def _queue(rows: QuerySet, not_before: dt.datetime) -> int:
    """Write the mails of these reminders and mark them, or do neither."""
    waiting, values = rows.order_by().values("pk").query.sql_with_params()
    now, then = map(connection.ops.adapt_datetimefield_value, (timezone.now(), not_before))
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(WRITE.format(waiting=waiting), ["{}", now, then, *values])
        cursor.execute(TAKE.format(waiting=waiting), [now, *values])
        return cursor.rowcount


def queue_digests(at: dt.datetime) -> int:
    """One mail for each member who wants all of a time together; how many were new."""
    by_member: dict[int, list[Reminder]] = defaultdict(list)
    gathered = Reminder.objects.waiting().exclude(recipient__reminder_wishes=None)
    gathered = gathered.exclude(recipient__reminder_wishes__rhythm=SINGLE)
    rows = gathered.select_related("recipient__reminder_wishes").order_by("pk")
    for row in rows.iterator(chunk_size=BATCH):
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

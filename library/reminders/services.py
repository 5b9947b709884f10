"""What is due becomes one reminder for each person it concerns, and each is mailed once.

Planning may run twice, at the same moment and from several machines: a unique key keeps one
row, a guarded UPDATE lets one planner queue its mail, and both are one transaction with the
mail. A night that was missed is made good by the next. What the mail says is asked again right
before it goes.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import islice

from django.db.models import F, QuerySet
from django.utils import timezone, translation

from accounts.current import one_reading
from accounts.middleware import zone_of
from accounts.models import Member
from library.due_rows import DueRows
from library.hooks import DueItem
from library.outbox.models import Message
from library.outbox.sources import Letter, NotNow
from library.reminders.due import (
    HORIZON,
    PERMISSION_OF_ROLE,
    all_items,
    concerns,
    item_now,
    items_to_remind,
    rows_to_remind,
)
from library.reminders.letter import write_digest, write_letter
from library.reminders.models import Reminder
from library.reminders.queueing import queue_digests, queue_singles
from library.reminders.rows import plan_rows
from library.reminders.wishes import first_moment, language_of, today_of, wants, wishes_of

BATCH = 1000


def plan_reminders(*, on: dt.date | None = None, at: dt.datetime | None = None) -> int:
    """Queue the mail of every reminder wanted by today; how many mails were new.

    Today is each member's own date, or ``on`` for everybody.
    """
    at = at or timezone.now()
    with one_reading():
        write_down(at=at, on=on)
        _let_new_addresses_hear()
        return queue_singles(at) + queue_digests(at)


def write_down(*, at: dt.datetime, on: dt.date | None = None) -> None:
    """A reminder of everything of which one is wanted by today; what is there stays."""
    for (language, day), readers in _readers(at, on).items():
        with translation.override(language), _days_of_the_library():
            for due in rows_to_remind(on=day):
                plan_rows(due, readers=readers.of(due), at=at)
            _plan(items_to_remind(on=day, without_rows=True), readers.members)


def items_for(member: Member, until: dt.date) -> list[DueItem]:
    """What is due for this member by ``until``, the earliest first."""
    items = all_items(until=until + HORIZON, member=member)
    mine = [i for i in items if i.due_on <= until and concerns(i, member)]
    return sorted(mine, key=lambda item: (item.due_on, item.kind, item.subject))


def _days_of_the_library():
    """A thing has one day, whoever is told of it and whoever asks again later."""
    return timezone.override(zone_of(None))


# Planning ---------------------------------------------------------------------------------
@dataclass
class _Readers:
    """Members of one language for whom it is the same day."""

    members: list[Member] = field(default_factory=list)
    languages: set[str] = field(default_factory=set)  # as they stand in their rows
    zones: set[str] = field(default_factory=set)

    def add(self, member: Member) -> None:
        self.members.append(member)
        self.languages.add(member.language)
        self.zones.add(member.time_zone)

    def of(self, due: DueRows) -> QuerySet:
        """Those who may be told of it and want to be."""
        if due.role:
            held = PERMISSION_OF_ROLE[due.role]
            able = [m for m in self.members if m.has_perm(held) and wants(m, due.kind)]
            return Member.objects.filter(pk__in=[member.pk for member in able])
        unwilling = [member.pk for member in self.members if not wants(member, due.kind)]
        mine = Member.objects.active().filter(wants_reminders=True)
        mine = mine.filter(language__in=self.languages, time_zone__in=self.zones)
        return mine.exclude(pk__in=unwilling)


def _readers(at: dt.datetime, on: dt.date | None) -> dict[tuple[str, dt.date], _Readers]:
    """Members who want reminders, by the language of their mail and the day it is for them."""
    readers: dict[tuple[str, dt.date], _Readers] = defaultdict(_Readers)
    rows = Member.objects.active().filter(wants_reminders=True)
    for member in rows.select_related("reminder_wishes").order_by("pk"):
        readers[language_of(member), on or today_of(member, at)].add(member)
    return readers


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

"""What a member's calendar should tell: what the apps say is due, so many days ahead."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from accounts.models import Member
from library.hooks import DueItem
from library.reminders.due import all_items, concerns

AHEAD = dt.timedelta(days=3 * 366)  # seed of a biennial is due in its second year, or later
AHEAD_OF_ROLE = dt.timedelta(days=60)
TOGETHER_FROM = 6  # so many of a kind on one day are one entry
MOST_LINES = 40


@dataclass(frozen=True)
class Wanted:
    """One entry as it should read."""

    kind: str
    subject: str
    due_on: dt.date
    title: str
    detail: str
    url: str

    @property
    def key(self) -> tuple[str, str]:
        return self.kind, self.subject


def wanted_for(member: Member, *, on: dt.date, with_role: bool) -> list[Wanted]:
    """The entries of this member's calendar on ``on``, in the active language and zone.

    What a role answers for is told two months ahead, and much of a kind on one day as one
    entry: three hundred retests would leave no room for anything else.
    """
    mine, of_role = [], []
    for item in all_items(until=on + AHEAD, member=member):
        if not concerns(item, member):
            continue
        if item.recipient_id is not None:
            mine.append(item)
        elif with_role and _is_told_of_role(item, on):
            of_role.append(item)
    entries: dict[tuple[str, str], Wanted] = {}
    for entry in sorted([*map(_entry, mine), *_together(of_role)], key=lambda e: e.due_on):
        if entry.due_on <= on + AHEAD:
            entries.setdefault(entry.key, entry)
    return list(entries.values())


def _is_told_of_role(item: DueItem, on: dt.date) -> bool:
    """Not what becomes due only if nothing happens until then, such as asking after a step."""
    only_if_late = item.remind_on >= item.due_on
    return item.due_on <= on + AHEAD_OF_ROLE and not (only_if_late and item.remind_on > on)


def _together(items: Iterable[DueItem]) -> Iterator[Wanted]:
    by_day: dict[tuple[str, dt.date], list[DueItem]] = defaultdict(list)
    for item in items:
        by_day[item.kind, item.due_on].append(item)
    for (kind, day), found in by_day.items():
        if len(found) < TOGETHER_FROM:
            yield from map(_entry, found)
        else:
            yield _one_for_many(kind, day, sorted(found, key=lambda item: item.subject))


def _entry(item: DueItem) -> Wanted:
    title = plain(str(item.title))[:250]
    return Wanted(
        item.kind, item.subject, item.due_on, title, plain(str(item.detail)), item.url
    )


def _one_for_many(kind: str, day: dt.date, items: list[DueItem]) -> Wanted:
    first, others = plain(str(items[0].title)), len(items) - 1
    title = _("%(first)s, and %(others)d more") % {"first": first[:220], "others": others}
    lines = [plain(str(item.title)) for item in items[:MOST_LINES]]
    if len(items) > MOST_LINES:
        lines.append(_("… and %(more)d more") % {"more": len(items) - MOST_LINES})
    return Wanted(kind, f"day:{day}", day, title, "\n".join(lines), reverse("due"))


def plain(text: str) -> str:
    """Without the control characters that a calendar may not hold (RFC 5545, 3.1: CONTROL)."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(c for c in lines if c in "\n\t" or (c >= " " and c != "\x7f"))

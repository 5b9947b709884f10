"""When a member may be written to, and of what."""

from __future__ import annotations

import datetime as dt
import zoneinfo

from accounts.middleware import zone_of
from accounts.models import Community, Member
from library.reminders.due import kind_of
from library.reminders.models import Wishes

MORNING = 7  # o'clock, of a digest
MONDAY = 0


def wishes_of(member: Member) -> Wishes:
    """What the member chose, or what holds until they choose."""
    try:
        return member.reminder_wishes
    except Wishes.DoesNotExist:
        return Wishes(member=member)


def wants(member: Member, kind: str) -> bool:
    """Whether they want mail of this kind. What they promised cannot be turned off alone."""
    if not (member.is_approved and member.wants_reminders):
        return False
    asked = kind_of(kind)
    return asked.promised or asked.name not in wishes_of(member).muted


def language_of(member: Member) -> str:
    """The language of their mail."""
    return member.language or Community.current().language


def today_of(member: Member, at: dt.datetime) -> dt.date:
    """The date where the member is."""
    return at.astimezone(zone_of(member)).date()


def first_moment(wishes: Wishes, at: dt.datetime) -> dt.datetime:
    """``at``, or the end of the member's quiet hours if it falls into them.

    The end is reckoned on the clock on the wall: a night in which the clock is moved is quiet
    as long as the clock says so.
    """
    since, until = wishes.quiet_from, wishes.quiet_until
    if since is None or until is None or since == until:
        return at
    zone = zone_of(wishes.member)
    local = at.astimezone(zone)
    hour = local.hour
    quiet = since <= hour < until if since < until else hour >= since or hour < until
    if not quiet:
        return at
    days = 1 if since > until and hour >= since else 0
    return _at_clock(local.date() + dt.timedelta(days=days), until, zone)


def gathers_at(wishes: Wishes, at: dt.datetime) -> bool:
    """Whether the digest is to be put together now: on its day, from the morning on, once."""
    local = at.astimezone(zone_of(wishes.member))
    if wishes.gathered_on is not None and wishes.gathered_on >= local.date():
        return False
    if local.hour < MORNING:
        return False
    if wishes.rhythm != Wishes.Rhythm.WEEKLY or local.weekday() == MONDAY:
        return True
    # A Monday on which nothing ran is made good; without one before, the next is waited for.
    monday = local.date() - dt.timedelta(days=local.weekday())
    return wishes.gathered_on is not None and wishes.gathered_on < monday


def _at_clock(day: dt.date, hour: int, zone: zoneinfo.ZoneInfo) -> dt.datetime:
    """That hour of that day; where the clock leaps over it, the first moment after."""
    local = dt.datetime.combine(day, dt.time(hour), tzinfo=zone)
    return local.astimezone(dt.UTC)

"""What is due on the home page, and on a member's page whether mail reaches them."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Member
from accounts.roles import COORDINATE
from library.outbox.models import Message
from library.reminders.models import Reminder
from library.reminders.services import items_for
from library.reminders.wishes import wishes_of

LOOKS_AHEAD = dt.timedelta(days=30)
SHOWN = 8


def due_panel(request, subject) -> dict[str, Any] | None:
    """The nearest few things for this member; None for people who are not members."""
    if not getattr(request.user, "is_approved", False):
        return None
    today = timezone.localdate()
    items = items_for(request.user, today + LOOKS_AHEAD)
    return {"items": items[:SHOWN], "more": max(len(items) - SHOWN, 0), "today": today}


def wishes_panel(request: HttpRequest, member: Member) -> dict[str, Any] | None:
    """On one's account: how one is reminded."""
    return {"wishes": wishes_of(member), "member": member} if member.is_approved else None


def refused_panel(request: HttpRequest, person: Member) -> dict[str, Any] | None:
    """On a member's page, to coordinators: their address was refused for good, and nothing came
    through since. Once they have another address it is gone.
    """
    if not request.user.has_perm(COORDINATE):
        return None
    refused = Message.objects.refused(person.email)
    return {"refused": refused, "person": person} if refused else None


def refused_at_home(request: HttpRequest, subject: Any = None) -> dict[str, Any] | None:
    """At home, to coordinators: whose mail does not arrive."""
    if not request.user.has_perm(COORDINATE):
        return None
    addresses = Message.objects.refused_addresses()
    people = Member.objects.active().filter(email__in=addresses).order_by("display_name_key")
    found = list(people[:SHOWN])
    return {"people": found} if found else None


def known_of(*, member: Member) -> dict[str, Any]:
    wishes = wishes_of(member)
    rows = Reminder.objects.of(member).order_by("pk")
    return {
        "rhythm": wishes.rhythm,
        "quiet_from": wishes.quiet_from,
        "quiet_until": wishes.quiet_until,
        "muted": wishes.muted,
        "reminded_of": list(rows.values("kind", "title", "due_on", "planned_at")),
    }


def forget(*, member: Member, **_told: Any) -> None:
    """Who leaves is reminded of nothing: what was said goes, what waits is not sent."""
    mine = Reminder.objects.of(member)
    mails = Message.objects.filter(pk__in=list(mine.values_list("message", flat=True)))
    # Also what went to an address that they had before.
    mails.waiting().update(dropped_at=timezone.now())
    mails.update(to="", subject="", text="", html="", headers={})
    mine.delete()
    type(wishes_of(member)).objects.filter(member=member).delete()
    _forget_name(member)


def _forget_name(member: Member) -> None:
    """What was told to coordinators keeps no name of who left. A name that is part of another
    takes those words along: they were said, and stand on nothing else.
    """
    naming = Reminder.objects.telling_names().filter(title__contains=member.display_name)
    keys = list(naming.values_list("pk", flat=True))
    # The mail of what waits is put into words anew before it goes.
    Message.objects.filter(reminders__in=keys).update(subject=_("About somebody who has left"))
    Reminder.objects.filter(pk__in=keys).update(title=_("About somebody who has left"))

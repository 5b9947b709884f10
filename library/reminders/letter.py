"""The words of a reminder's mail: subject, text and HTML, in the recipient's language."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone, translation

from accounts.middleware import zone_of
from accounts.models import Community, Member
from library.reminders.due import kind_of
from library.reminders.models import Reminder
from library.reminders.stopping import EVERY_KIND, stop_link


def write_letter(reminder: Reminder, *, language: str) -> dict[str, Any]:
    """What the outbox needs of it: ``subject``, ``text``, ``html``, ``headers``."""
    with translation.override(language):
        kind = kind_of(reminder.kind)
        stop = "" if kind.promised else stop_link(reminder.recipient, kind.name)
        context = {"reminder": reminder, "kind": kind, "stop": stop}
        return _letter(reminder.recipient, [reminder], context, "", stop)


def write_digest(
    member: Member, reminders: Sequence[Reminder], *, language: str
) -> dict[str, Any]:
    """Several in one mail, the earliest first. One click stops every kind that was not
    promised, where there is such a one among them.
    """
    with translation.override(language):
        all_promised = all(kind_of(row.kind).promised for row in reminders)
        stop = "" if all_promised else stop_link(member, EVERY_KIND)
        return _letter(member, reminders, {"stop": stop}, "digest_", stop)


def _letter(
    member: Member, reminders: Sequence[Reminder], context: dict, prefix: str, stop: str
) -> dict[str, Any]:
    preferences = settings.SITE_URL + reverse("reminder-wishes")
    with timezone.override(zone_of(member)):
        today = timezone.localdate()
        context = context | {
            "items": [
                (row, settings.SITE_URL + row.url, row.due_on < today) for row in reminders
            ],
            "recipient": member,
            "community": Community.current(),
            "overdue": any(row.due_on < today for row in reminders),
            "link": settings.SITE_URL + reminders[0].url if reminders else settings.SITE_URL,
            "preferences": preferences,
        }
        return {
            "subject": " ".join(_render(f"{prefix}subject.txt", context).split())[:250],
            "text": _render(f"{prefix}text.txt", context).strip() + "\n",
            "html": _render(f"{prefix}text.html", context),
            "headers": _headers(preferences, stop),
        }


def _headers(preferences: str, stop: str) -> dict[str, str]:
    """RFC 2369, shown by mail programs as the way to stop; with RFC 8058 by one click, where
    something can be stopped.
    """
    if not stop:
        return {"List-Unsubscribe": f"<{preferences}>"}
    return {
        "List-Unsubscribe": f"<{stop}>",
        "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
    }


def _render(name: str, context: dict[str, Any]) -> str:
    return render_to_string(f"reminders/mail/{name}", context)

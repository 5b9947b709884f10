"""The words of a reminder's mail: subject, text and HTML, in the recipient's language."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.utils import timezone, translation

from accounts.models import Community
from library.reminders.models import Reminder


def write_letter(reminder: Reminder, *, language: str) -> dict[str, Any]:
    """What the outbox needs of it: ``subject``, ``text``, ``html``, ``headers``."""
    preferences = f"{settings.SITE_URL}/account/me/"
    context = {
        "reminder": reminder,
        "recipient": reminder.recipient,
        "community": Community.current(),
        "overdue": reminder.due_on < timezone.localdate(),
        "link": settings.SITE_URL + reminder.url,
        "preferences": preferences,
    }
    with translation.override(language):
        return {
            "subject": _render("subject.txt", context).strip(),
            "text": _render("text.txt", context).strip() + "\n",
            "html": _render("text.html", context),
            # RFC 2369: mail programs show it as the way to stop these mails.
            "headers": {"List-Unsubscribe": f"<{preferences}>"},
        }


def _render(name: str, context: dict[str, Any]) -> str:
    return render_to_string(f"reminders/mail/{name}", context)

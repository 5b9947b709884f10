"""What is due, on the home page."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils import timezone

from library.reminders.services import items_for

LOOKS_AHEAD = dt.timedelta(days=30)
SHOWN = 8


def due_panel(request, subject) -> dict[str, Any] | None:
    """The nearest few things for this member; None for people who are not members."""
    if not getattr(request.user, "is_approved", False):
        return None
    today = timezone.localdate()
    items = items_for(request.user, today + LOOKS_AHEAD)
    return {"items": items[:SHOWN], "more": max(len(items) - SHOWN, 0), "today": today}

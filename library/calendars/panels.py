"""The calendar on the account's page, and in the copy of what is kept of a member."""

from __future__ import annotations

from typing import Any

from accounts.models import Member
from library.calendars.models import Feed


def calendar_panel(request, subject) -> dict[str, Any] | None:
    if not getattr(request.user, "is_approved", False):
        return None
    return {"feed": Feed.objects.filter(member=request.user).first()}


def known_of(member: Member) -> dict[str, Any] | None:
    """The choices and times; not the address, of which only a digest is kept."""
    kept = Feed.objects.filter(member=member)
    told = kept.values("made_at", "read_at", "style", "with_role").first()
    return {**told} if told else None

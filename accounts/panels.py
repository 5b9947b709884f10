"""What accounts adds to other pages."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from accounts.models import Member
from accounts.roles import COORDINATE


def waiting_for_approval(request: HttpRequest, subject: Any = None) -> dict | None:
    """At home: to an applicant, that the answer is still to come."""
    user = request.user
    return {"user": user} if user.is_authenticated and not user.is_approved else None


def members_to_approve(request: HttpRequest, subject: Any = None) -> dict | None:
    """On the bench: to a coordinator, who waits for an answer."""
    if not request.user.has_perm(COORDINATE):
        return None
    waiting = list(Member.objects.waiting().order_by("applied_at"))
    return {"waiting": waiting} if waiting else None

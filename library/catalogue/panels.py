"""What the card file shows on pages that gather from every app."""

from __future__ import annotations

from accounts.access import may_browse
from library.catalogue.models import Variety

NEWEST = 5


def newest(request, subject) -> dict | None:
    """The last cards written, for whoever may browse."""
    if not may_browse(request.user):
        return None
    newest_first = Variety.objects.select_related("crop").order_by("-added_at", "-pk")
    varieties = list(newest_first[:NEWEST])
    return {"varieties": varieties} if varieties else None

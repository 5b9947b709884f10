"""What the card box adds to the pages of the apps below it."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from accounts.roles import COORDINATE
from library.cardbox.models import CardImport
from library.hooks import Panel, register_panel


def register() -> None:
    register_panel("desk", Panel("cardbox/desk_panel.html", card_box_at_the_desk, order=85))


def card_box_at_the_desk(request: HttpRequest, person=None) -> dict[str, Any] | None:
    """The way to bring cards in, for coordinators; not while somebody is served."""
    if person is not None or not request.user.has_perm(COORDINATE):
        return None
    waiting = CardImport.objects.visible_to(request.user).filter(state__in=["columns", "ready"])
    return {"waiting": waiting.count()}

"""At home: that gardens are sought, to members who have not offered one."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from accounts.roles import BORROW
from library.growouts.views.seasons.home import open_seasons
from library.hooks import Panel, register_panel


def register() -> None:
    register_panel("home", Panel("growouts/seasons/panel_home.html", home_panel, order=40))


def home_panel(request: HttpRequest, _subject: Any = None) -> dict[str, Any] | None:
    user = request.user
    if not user.is_authenticated or not user.has_perm(BORROW):
        return None
    seasons = open_seasons(user, timezone.localdate())
    sought = [one for one in seasons if one.takes_offers and one.offer is None]
    return {"seasons": sought} if sought else None

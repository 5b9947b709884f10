"""What the pictures add to the page of a season."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from accounts.roles import BORROW, COORDINATE
from library.growouts.models import Commitment, Season
from library.growouts.pictures.calendar.reading import with_late_step
from library.hooks import Panel, register_panel


def register() -> None:
    register_panel(
        "season", Panel("growouts/pictures/panel.html", pictures_of_season, order=60)
    )


def pictures_of_season(request: HttpRequest, season: Season) -> dict[str, Any] | None:
    """The way to the three pictures, and how many promises wait for a late step."""
    user = request.user
    if not user.has_perm(BORROW):
        return None
    mine = Commitment.objects.visible_to(user).filter(season=season)
    return {
        "season": season,
        "coordinates": user.has_perm(COORDINATE),
        "late": with_late_step(mine, timezone.localdate()).count(),
    }

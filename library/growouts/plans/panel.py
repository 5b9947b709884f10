"""The plan on the page of its season, for coordinators."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from accounts.roles import COORDINATE
from library.growouts.models import Season
from library.growouts.plans.words import quality_in_words
from library.hooks import Panel, register_panel


def register() -> None:
    register_panel("season", Panel("growouts/plans/panel_season.html", season_panel, order=20))


def season_panel(request: HttpRequest, season: Season) -> dict[str, Any] | None:
    """The newest plan that has something to show, and whether one is being worked on."""
    user = request.user
    if not user.is_authenticated or not user.has_perm(COORDINATE):
        return None
    plans = season.plans.defer("given", "best")
    newest = plans.ended_well().exclude(covered=None).first()  # stopped before it found any
    return {
        "season": season,
        "newest": newest,
        "wanted": newest.covered + newest.left_out.count() if newest else 0,
        "at_work": plans.at_work().first(),
        "quality": quality_in_words(newest) if newest else [],
    }

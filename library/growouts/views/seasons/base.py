"""What the pages of a season share."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.functional import cached_property

from accounts.access import CoordinatorPage
from accounts.models import Member
from accounts.roles import COORDINATE
from library.growouts.models import Season
from library.lending.views.base import VerbPage


class Asked:
    """Who asks, and on which day."""

    request: Any

    @property
    def asker(self) -> Member:
        return self.request.user

    @property
    def today(self) -> dt.date:
        return timezone.localdate()


class OneSeason:
    """A page about the season of the year in its address."""

    kwargs: dict[str, Any]

    @cached_property
    def season(self) -> Season:
        return get_object_or_404(Season, year=self.kwargs["year"])

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(season=self.season, **kwargs)  # type: ignore[misc]


class SeasonVerb(CoordinatorPage, OneSeason, VerbPage):
    """A form of coordinators about one season."""


def coordinates(user: Member) -> bool:
    return user.has_perm(COORDINATE)

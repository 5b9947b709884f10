"""Addresses of pictures of a season."""

from __future__ import annotations

from django.urls import path

from library.growouts.api import pictures as api
from library.growouts.views import pictures as views

_season = "grow-outs/seasons/<int:year>/"
_api_season = "api/seasons/<int:year>/"

pages: list = [
    path(f"{_season}calendar/", views.SeasonCalendarPage.as_view(), name="season-calendar"),
    path(f"{_season}gardens/", views.SeasonMapPage.as_view(), name="season-map"),
    path(f"{_season}story/", views.SeasonStoryPage.as_view(), name="season-story"),
]
resources: list = []
endpoints: list = [
    path(
        f"{_api_season}calendar/", api.SeasonCalendarView.as_view(), name="api-season-calendar"
    ),
    path(f"{_api_season}gardens/", api.SeasonMapView.as_view(), name="api-season-map"),
    path(f"{_api_season}story/", api.SeasonStoryView.as_view(), name="api-season-story"),
]

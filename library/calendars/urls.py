"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.calendars import views

pages: list = [
    path("account/me/calendar/", views.CalendarPage.as_view(), name="account-calendar"),
    path(
        "account/me/calendar/choices/",
        views.ChoicesPage.as_view(),
        name="account-calendar-choices",
    ),
    path(
        "account/me/calendar/revoke/",
        views.RevokePage.as_view(),
        name="account-calendar-revoke",
    ),
    path("calendar/<slug:secret>/due.ics", views.CalendarFile.as_view(), name="calendar-file"),
]
resources: list = []
endpoints: list = []

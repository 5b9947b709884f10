"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.firstday import views

pages: list = [
    path("first-day/", views.FirstDayPage.as_view(), name="first-day"),
    path("first-day/community/", views.CommunityStep.as_view(), name="first-day-community"),
    path("first-day/rules/", views.RulesStep.as_view(), name="first-day-rules"),
    path("first-day/places/", views.PlacesStep.as_view(), name="first-day-places"),
    path(
        "first-day/coordinator/", views.CoordinatorStep.as_view(), name="first-day-coordinator"
    ),
    path("first-day/mail/", views.MailStep.as_view(), name="first-day-mail"),
    path("first-day/rest/", views.LeaveTheRest.as_view(), name="first-day-rest"),
    path("first-day/<slug:step>/later/", views.PassOver.as_view(), name="first-day-later"),
    path("welcome/away/", views.WelcomeAway.as_view(), name="welcome-away"),
]
resources: list = []
endpoints: list = []

"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.reminders import views
from library.reminders.api import DueViewSet, ReminderViewSet

pages: list = [
    path("due/", views.DuePage.as_view(), name="due"),
    path("account/reminders/", views.WishesPage.as_view(), name="reminder-wishes"),
    path("reminders/", views.RemindersPage.as_view(), name="reminder-list"),
    path("reminders/<int:pk>/again/", views.SendAgain.as_view(), name="reminder-again"),
    path("reminders/stop/<str:token>/", views.StopPage.as_view(), name="reminder-stop"),
]
resources: list = [("due", DueViewSet, "due"), ("reminders", ReminderViewSet, "api-reminder")]
endpoints: list = []

"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.reminders.api import DueViewSet
from library.reminders.views import DuePage

pages: list = [path("due/", DuePage.as_view(), name="due")]
resources: list = [("due", DueViewSet, "due")]
endpoints: list = []

"""Addresses of a household's plans: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.household.api.saving import SavedVarietyViewSet, SavingPlanViewSet
from library.household.views import saving

PLAN = "my-garden/<int:pk>/"
CHOICE = "my-garden/varieties/<int:pk>/"

pages: list = [
    path("my-garden/", saving.OwnGardenPage.as_view(), name="own-garden"),
    path("my-garden/new/", saving.PlanNewPage.as_view(), name="own-garden-new"),
    path(CHOICE, saving.ChoicePage.as_view(), name="own-garden-choice"),
    path(f"{CHOICE}drop/", saving.ChoiceDrop.as_view(), name="own-garden-drop"),
    path(PLAN, saving.PlanPage.as_view(), name="own-garden-plan"),
    path(f"{PLAN}change/", saving.PlanChangePage.as_view(), name="own-garden-change"),
    path(f"{PLAN}remove/", saving.PlanRemove.as_view(), name="own-garden-remove"),
    path(f"{PLAN}add/", saving.AddPage.as_view(), name="own-garden-add"),
    path(f"{PLAN}rotation/", saving.RotationPage.as_view(), name="own-garden-rotation"),
    path(f"{PLAN}calendar/", saving.CalendarPage.as_view(), name="own-garden-calendar"),
    path(f"{PLAN}sheet/", saving.SheetPage.as_view(), name="own-garden-sheet"),
]
resources: list = [
    ("saving-plans", SavingPlanViewSet, "api-saving-plan"),
    ("saved-varieties", SavedVarietyViewSet, "api-saved-variety"),
]
endpoints: list = []

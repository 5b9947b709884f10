"""Addresses of a household's plans: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.household.api.kitchen import (
    DishViewSet,
    KitchenPlanViewSet,
    KitchenTablesView,
)
from library.household.api.saving import SavedVarietyViewSet, SavingPlanViewSet
from library.household.views import kitchen, saving, taking_away

PLAN = "my-garden/<int:pk>/"
KITCHEN = "kitchen/<int:pk>/"
DISH = "kitchen/dishes/<int:pk>/"
CHOICE = "my-garden/varieties/<int:pk>/"

pages: list = [
    path("my-garden/", saving.OwnGardenPage.as_view(), name="own-garden"),
    path("my-garden/new/", saving.PlanNewPage.as_view(), name="own-garden-new"),
    path("my-garden/put-back/", taking_away.PutBack.as_view(), name="own-garden-put-back"),
    path(CHOICE, saving.ChoicePage.as_view(), name="own-garden-choice"),
    path(f"{CHOICE}drop/", saving.ChoiceDrop.as_view(), name="own-garden-drop"),
    path(PLAN, saving.PlanPage.as_view(), name="own-garden-plan"),
    path(f"{PLAN}change/", saving.PlanChangePage.as_view(), name="own-garden-change"),
    path(f"{PLAN}remove/", saving.PlanRemove.as_view(), name="own-garden-remove"),
    path(f"{PLAN}add/", saving.AddPage.as_view(), name="own-garden-add"),
    path(f"{PLAN}rotation/", saving.RotationPage.as_view(), name="own-garden-rotation"),
    path(f"{PLAN}calendar/", saving.CalendarPage.as_view(), name="own-garden-calendar"),
    path(f"{PLAN}sheet/", saving.SheetPage.as_view(), name="own-garden-sheet"),
    path("kitchen/", kitchen.KitchensPage.as_view(), name="kitchens"),
    path("kitchen/new/", kitchen.KitchenNewPage.as_view(), name="kitchen-new"),
    path(DISH, kitchen.DishPage.as_view(), name="kitchen-dish"),
    path(f"{DISH}remove/", kitchen.DishRemove.as_view(), name="kitchen-dish-remove"),
    path(KITCHEN, kitchen.KitchenPage.as_view(), name="kitchen-plan"),
    path(f"{KITCHEN}change/", kitchen.KitchenChangePage.as_view(), name="kitchen-change"),
    path(f"{KITCHEN}remove/", kitchen.KitchenRemove.as_view(), name="kitchen-remove"),
    path(f"{KITCHEN}add/", kitchen.DishNewPage.as_view(), name="kitchen-add"),
    path(f"{KITCHEN}take-over/", kitchen.TakeOverPage.as_view(), name="kitchen-take-over"),
]
resources: list = [
    ("saving-plans", SavingPlanViewSet, "api-saving-plan"),
    ("saved-varieties", SavedVarietyViewSet, "api-saved-variety"),
    ("kitchen-plans", KitchenPlanViewSet, "api-kitchen-plan"),
    ("dishes", DishViewSet, "api-dish"),
]
endpoints: list = [
    path(
        "api/kitchen-tables/<slug:crop>/",
        KitchenTablesView.as_view(),
        name="api-kitchen-tables",
    ),
]

"""Addresses of plans."""

from __future__ import annotations

from django.urls import path

from library.growouts.api.plans import PinViewSet, PlanViewSet
from library.growouts.views.plans import acting, reading

SEASON = "grow-outs/seasons/<int:year>/"
PLAN = "grow-outs/plans/<int:pk>/"

pages: list = [
    path(f"{SEASON}plans/", reading.PlansPage.as_view(), name="growout-plans"),
    path(f"{SEASON}pins/", acting.PinsPage.as_view(), name="growout-pins"),
    path("grow-outs/pins/<int:pk>/remove/", acting.Unpin.as_view(), name="growout-unpin"),
    path(PLAN, reading.PlanPage.as_view(), name="growout-plan"),
    path(f"{PLAN}stop/", acting.StopPlan.as_view(), name="growout-plan-stop"),
    path(f"{PLAN}pin/", acting.PinPair.as_view(), name="growout-plan-pin"),
    path(f"{PLAN}offers/", acting.SendOffers.as_view(), name="growout-plan-offers"),
]
resources: list = [
    ("plans", PlanViewSet, "api-plan"),
    ("pins", PinViewSet, "api-pin"),
]
endpoints: list = []

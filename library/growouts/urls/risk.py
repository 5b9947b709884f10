"""Addresses of what is at risk."""

from __future__ import annotations

from django.urls import path

from library.growouts.api.risk import ElsewhereViewSet, RiskViewSet
from library.growouts.views import risk

pages: list = [
    path("grow-outs/risk/", risk.RiskPage.as_view(), name="growout-risk"),
    path(
        "grow-outs/risk/<int:pk>/", risk.RiskVarietyPage.as_view(), name="growout-risk-variety"
    ),
    path(
        "grow-outs/risk/<int:pk>/elsewhere/",
        risk.ElsewherePage.as_view(),
        name="growout-elsewhere",
    ),
    path("grow-outs/rules/", risk.GrowOutRulesPage.as_view(), name="growout-rules"),
]
resources: list = [
    ("risk", RiskViewSet, "api-risk"),
    ("elsewhere", ElsewhereViewSet, "api-elsewhere"),
]
endpoints: list = []

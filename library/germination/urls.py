"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.germination import api, views
from library.germination.pictures import views as pictures
from library.germination.pictures.lot_page import ViabilityPage

pages: list = [
    path("bench/calendar/", pictures.CalendarPage.as_view(), name="bench-calendar"),
    path("lots/<str:number>/viability/", ViabilityPage.as_view(), name="lot-viability"),
    path("living-seed/", pictures.LivingSeedPage.as_view(), name="living-seed"),
    path("bench/", views.BenchPage.as_view(), name="bench"),
    path("bench/rules/", views.RulesPage.as_view(), name="bench-rules"),
    path("lots/<str:number>/tests/start/", views.StartPage.as_view(), name="test-start"),
    path("lots/<str:number>/tests/record/", views.RecordPage.as_view(), name="test-record"),
    path("tests/<int:pk>/", views.TestPage.as_view(), name="test"),
    path("tests/<int:pk>/count/", views.CountPage.as_view(), name="test-count"),
    path("tests/<int:pk>/void/", views.VoidPage.as_view(), name="test-void"),
]
resources: list = [
    ("germination-tests", api.GerminationTestViewSet, "api-germination-test"),
    ("bench", api.BenchViewSet, "api-bench"),
]
endpoints: list = [
    path("api/lots/<str:number>/viability/", api.ViabilityView.as_view(), name="api-viability"),
]

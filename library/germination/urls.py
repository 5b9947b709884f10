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
    path("bench/plan/", views.PlanManyPage.as_view(), name="bench-plan"),
    path("bench/rules/", views.RulesPage.as_view(), name="bench-rules"),
    path("bench/recompute/", views.RecomputePage.as_view(), name="bench-recompute"),
    path("window-sill/", views.SillPage.as_view(), name="window-sill"),
    path("lots/<str:number>/tests/start/", views.StartPage.as_view(), name="test-start"),
    path("lots/<str:number>/tests/record/", views.RecordPage.as_view(), name="test-record"),
    path("lots/<str:number>/sowings/add/", views.AddSowingPage.as_view(), name="sowing-add"),
    path("lots/<str:number>/shelf/", views.ShelfPage.as_view(), name="lot-shelf"),
    path("sowings/<int:pk>/drop/", views.DropSowingPage.as_view(), name="sowing-drop"),
    path("tests/<int:pk>/", views.TestPage.as_view(), name="test"),
    path("tests/<int:pk>/begin/", views.BeginPage.as_view(), name="test-begin"),
    path("tests/<int:pk>/count/", views.CountPage.as_view(), name="test-count"),
    path("tests/<int:pk>/dishes/<int:number>/", views.DishPage.as_view(), name="test-dish"),
    path("tests/<int:pk>/finish/", views.FinishPage.as_view(), name="test-finish"),
    path("tests/<int:pk>/sow-more/", views.SowMorePage.as_view(), name="test-sow-more"),
    path("tests/<int:pk>/close/", views.ClosePage.as_view(), name="test-close"),
    path("tests/<int:pk>/amend/", views.AmendPage.as_view(), name="test-amend"),
    path("tests/<int:pk>/void/", views.VoidPage.as_view(), name="test-void"),
]
resources: list = [
    ("germination-tests", api.GerminationTestViewSet, "api-germination-test"),
    ("bench", api.BenchViewSet, "api-bench"),
    ("planned-sowings", api.PlannedSowingViewSet, "api-planned-sowing"),
    ("shelf-decisions", api.ShelfDecisionViewSet, "api-shelf-decision"),
]
endpoints: list = [
    path("api/lots/<str:number>/viability/", api.ViabilityView.as_view(), name="api-viability"),
]

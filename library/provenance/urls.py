"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.provenance.api import measures as api_measures
from library.provenance.api import off_types as api_off_types
from library.provenance.api import walking
from library.provenance.views import measures, off_types, picture, story

pages: list = [
    path("lots/<str:number>/chain/", story.ChainStoryPage.as_view(), name="lot-chain"),
    path(
        "lots/<str:number>/chain/picture/",
        picture.ChainPicturePage.as_view(),
        name="lot-chain-picture",
    ),
    path(
        "lots/<str:number>/chain/measures/",
        measures.ChainMeasuresPage.as_view(),
        name="lot-chain-measures",
    ),
    path(
        "lots/<str:number>/off-types/",
        off_types.OffTypesPage.as_view(),
        name="lot-off-types",
    ),
    path("off-types/<int:pk>/lift/", off_types.LiftPage.as_view(), name="off-type-lift"),
    path(
        "off-types/<int:pk>/clear/<str:number>/",
        off_types.ClearPage.as_view(),
        name="off-type-clear",
    ),
]
resources: list = [
    ("off-type-reports", api_off_types.OffTypeReportViewSet, "api-off-type-report"),
]
endpoints: list = [
    path(
        "api/lots/<str:number>/chain-measures/",
        api_measures.ChainMeasuresView.as_view(),
        name="api-lot-chain-measures",
    ),
    path(
        "api/lots/<str:number>/ancestors/",
        walking.AncestorsView.as_view(),
        name="api-lot-ancestors",
    ),
    path(
        "api/lots/<str:number>/descendants/",
        walking.DescendantsView.as_view(),
        name="api-lot-descendants",
    ),
    path(
        "api/lots/<str:number>/purity/",
        api_off_types.PurityView.as_view(),
        name="api-lot-purity",
    ),
]

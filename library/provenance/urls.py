"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.provenance.api import measures as api_measures
from library.provenance.api import walking
from library.provenance.views import measures

pages: list = [
    path(
        "lots/<str:number>/chain/measures/",
        measures.ChainMeasuresPage.as_view(),
        name="lot-chain-measures",
    ),
]
resources: list = []
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
]

"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.provenance.api import walking

pages: list = []
resources: list = []
endpoints: list = [
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

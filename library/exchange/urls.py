"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.exchange.api import carrying
from library.exchange.api import chains as api_chains
from library.exchange.views import chains, whole

pages: list = [
    path("chain-imports/", chains.ChainImportsPage.as_view(), name="chain-imports"),
    path("chain-imports/<int:pk>/", chains.ChainImportPage.as_view(), name="chain-import"),
    path(
        "chain-imports/<int:pk>/receive/",
        chains.ChainReceivePage.as_view(),
        name="chain-import-receive",
    ),
    path("chain-imports/<int:pk>/drop/", chains.ChainDrop.as_view(), name="chain-import-drop"),
    path("library-data/", whole.LibraryDataPage.as_view(), name="library-data"),
    path("library-data/file/", whole.LibraryDataFile.as_view(), name="library-data-file"),
    path("account/my-data/", whole.OwnDataFile.as_view(), name="own-data-file"),
]
resources: list = [
    ("chain-imports", api_chains.ChainImportViewSet, "api-chain-import"),
]
endpoints: list = [
    path("api/lots/<str:number>/prov/", carrying.LotProvView.as_view(), name="api-lot-prov"),
    path("api/library-data/", carrying.LibraryDataView.as_view(), name="api-library-data"),
    path("api/mcpd/", carrying.McpdView.as_view(), name="api-mcpd"),
]

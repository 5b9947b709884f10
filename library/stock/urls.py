"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.stock import api
from library.stock.views import actions, lots, packets, stocktaking, storage

_ON_A_LOT = [
    ("pack", actions.PackPage),
    ("discard", actions.DiscardPage),
    ("discard-rest", actions.DiscardRestPage),
    ("give", actions.GivePage),
    ("correct", actions.CountPage),
    ("move", actions.MovePage),
    ("custodian", actions.CustodianPage),
    ("amend", actions.AmendPage),
    ("withhold", actions.WithholdPage),
    ("release", actions.ReleasePage),
    ("labels", packets.LabelPage),
]
_ON_A_PACKET = [
    ("unpack", packets.UnpackPage),
    ("discard", packets.DiscardPacketPage),
    ("give", packets.GivePacketPage),
    ("move", packets.MovePacketPage),
]
_ONE_STOCK_TAKE = "stock-taking/<int:pk>/"

pages: list = [
    path("lots/<str:number>/", lots.LotPage.as_view(), name="lot"),
    *[
        path(f"lots/<str:number>/{verb}/", page.as_view(), name=f"lot-{verb}")
        for verb, page in _ON_A_LOT
    ],
    path("varieties/<int:pk>/bulk/", actions.BulkPage.as_view(), name="lot-bulk"),
    path("movements/<int:pk>/mend/", actions.MendPage.as_view(), name="movement-mend"),
    path("packets/<str:code>/", packets.PacketPage.as_view(), name="packet"),
    path("packets/<str:code>/qr.svg", packets.PacketQr.as_view(), name="packet-qr"),
    *[
        path(f"packets/<str:code>/{verb}/", page.as_view(), name=f"packet-{verb}")
        for verb, page in _ON_A_PACKET
    ],
    path("scan/", packets.ScanPage.as_view(), name="scan"),
    path("weighing/", storage.WeighingPage.as_view(), name="weighing"),
    path("storage/", storage.StoragePage.as_view(), name="storage"),
    path("storage/add/", storage.AddPlacePage.as_view(), name="storage-add"),
    path("storage/<int:pk>/", storage.StoragePlacePage.as_view(), name="storage-place"),
    path("storage/<int:pk>/edit/", storage.EditPlacePage.as_view(), name="storage-edit"),
    path("storage/<int:pk>/remove/", storage.RemovePlacePage.as_view(), name="storage-remove"),
    path("stock-taking/", stocktaking.StockTakesPage.as_view(), name="stock-takes"),
    path(_ONE_STOCK_TAKE, stocktaking.StockTakePage.as_view(), name="stock-take"),
    path(
        f"{_ONE_STOCK_TAKE}lots/<str:number>/",
        stocktaking.CountLotPage.as_view(),
        name="stock-count",
    ),
    path(
        f"{_ONE_STOCK_TAKE}close/",
        stocktaking.CloseStockTakePage.as_view(),
        name="stock-take-close",
    ),
]
resources: list = [
    ("lots", api.LotViewSet, "api-lot"),
    ("packets", api.PacketViewSet, "api-packet"),
    ("storage-places", api.StoragePlaceViewSet, "api-storage-place"),
]
endpoints: list = []

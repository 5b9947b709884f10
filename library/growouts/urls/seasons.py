"""Addresses of seasons, offers and own plantings."""

from __future__ import annotations

from django.urls import path

from library.growouts.api.seasons import GrowerOfferViewSet, PlantingViewSet, SeasonViewSet
from library.growouts.views.seasons import home, offers, plantings, season, wanted

_season = "grow-outs/seasons/<int:year>/"

pages: list = [
    path("grow-outs/", home.GrowOutsPage.as_view(), name="growouts"),
    path("grow-outs/seasons/new/", season.SeasonNewPage.as_view(), name="growout-season-new"),
    path(_season, season.SeasonPage.as_view(), name="growout-season"),
    path(f"{_season}change/", season.SeasonChangePage.as_view(), name="growout-season-change"),
    path(f"{_season}close/", season.SeasonClosePage.as_view(), name="growout-season-close"),
    path(f"{_season}wanted/", wanted.WantedPage.as_view(), name="growout-wanted"),
    path(f"{_season}offer/", offers.OfferPage.as_view(), name="growout-offer"),
    path(
        f"{_season}offers/<int:member>/", offers.OfferOfPage.as_view(), name="growout-offer-of"
    ),
    path(
        "grow-outs/offers/<int:pk>/withdraw/",
        offers.WithdrawOffer.as_view(),
        name="growout-offer-withdraw",
    ),
    path("grow-outs/plantings/", plantings.PlantingsPage.as_view(), name="growout-plantings"),
    path(
        "grow-outs/plantings/new/",
        plantings.PlantingNewPage.as_view(),
        name="growout-planting-new",
    ),
    path(
        "grow-outs/plantings/<int:pk>/",
        plantings.PlantingPage.as_view(),
        name="growout-planting",
    ),
    path(
        "grow-outs/plantings/<int:pk>/remove/",
        plantings.PlantingRemove.as_view(),
        name="growout-planting-remove",
    ),
]
resources: list = [
    ("seasons", SeasonViewSet, "api-season"),
    ("grower-offers", GrowerOfferViewSet, "api-grower-offer"),
    ("plantings", PlantingViewSet, "api-planting"),
]
endpoints: list = []

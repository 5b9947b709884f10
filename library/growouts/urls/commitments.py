"""Addresses of commitments."""

from __future__ import annotations

from django.urls import path

from library.growouts.api.commitments import CommitmentViewSet, PhotoView
from library.growouts.views.commitments import acting, listing, reading

SEASON = "grow-outs/seasons/<int:year>/"
BASE = "grow-outs/commitments/<int:pk>/"

pages: list = [
    path(
        f"{SEASON}commitments/",
        listing.SeasonCommitmentsPage.as_view(),
        name="season-commitments",
    ),
    path(f"{SEASON}ask/", listing.AskPage.as_view(), name="season-ask"),
    path(BASE, reading.CommitmentPage.as_view(), name="commitment"),
    path(f"{BASE}accept/", acting.AcceptPage.as_view(), name="commitment-accept"),
    path(f"{BASE}decline/", acting.DeclinePage.as_view(), name="commitment-decline"),
    path(f"{BASE}fail/", acting.FailPage.as_view(), name="commitment-fail"),
    path(f"{BASE}withdraw/", acting.WithdrawPage.as_view(), name="commitment-withdraw"),
    path(f"{BASE}replace/", acting.OfferReplacement.as_view(), name="commitment-replace"),
    path(f"{BASE}steps/<slug:kind>/", acting.ReportPage.as_view(), name="commitment-report"),
    path(
        "grow-outs/photos/<uuid:identifier>/", reading.PhotoFile.as_view(), name="growout-photo"
    ),
]
resources: list = [("commitments", CommitmentViewSet, "api-commitment")]
endpoints: list = [
    path(
        "api/growout-photos/<uuid:identifier>/", PhotoView.as_view(), name="api-growout-photo"
    ),
]

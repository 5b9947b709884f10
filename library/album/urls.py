"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.album import api, views

pages: list = [
    path("photos/<uuid:identifier>/", views.PhotoFile.as_view(), name="album-photo"),
    path("photos/<uuid:identifier>/remove/", views.RemovePhoto.as_view(), name="album-remove"),
    path(
        "photos/of-variety/<int:pk>/add/",
        views.AddToVariety.as_view(),
        name="album-add-variety",
    ),
    path("photos/of-lot/<int:pk>/add/", views.AddToLot.as_view(), name="album-add-lot"),
    path("photos/of-note/<int:pk>/add/", views.AddToNote.as_view(), name="album-add-note"),
]
resources: list = [("photos", api.AlbumViewSet, "api-photo")]
endpoints: list = [
    path(
        "api/photos/<uuid:identifier>/image/",
        api.PhotoImageView.as_view(),
        name="api-photo-image",
    ),
]

"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.catalogue import api, views

pages: list = [
    path("browse/", views.BrowsePage.as_view(), name="browse"),
    path("crops/", views.CropsPage.as_view(), name="crops"),
    path("crops/<slug:slug>/", views.CropPage.as_view(), name="crop"),
    path("varieties/add/", views.VarietyAddPage.as_view(), name="variety-add"),
    path("varieties/<int:pk>-<slug:slug>/", views.VarietyPage.as_view(), name="variety"),
    path("varieties/<int:pk>/edit/", views.VarietyEditPage.as_view(), name="variety-edit"),
    path(
        "varieties/<int:pk>/notes/add/",
        views.SeasonNoteAddPage.as_view(),
        name="season-note-add",
    ),
    path("notes/<int:pk>/edit/", views.SeasonNoteEditPage.as_view(), name="season-note-edit"),
    path(
        "notes/<int:pk>/remove/",
        views.SeasonNoteRemovePage.as_view(),
        name="season-note-remove",
    ),
    path("notes/put-back/", views.SeasonNotePutBack.as_view(), name="season-note-put-back"),
]
resources: list = [
    ("species", api.SpeciesViewSet, "species"),
    ("crops", api.CropViewSet, "crops"),
    ("varieties", api.VarietyViewSet, "varieties"),
    ("notes", api.SeasonNoteViewSet, "notes"),
]
endpoints: list = []

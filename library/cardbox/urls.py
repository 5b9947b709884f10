"""This app's addresses: pages and API resources."""

from __future__ import annotations

from django.urls import path

from library.cardbox import api, views

pages: list = [
    path("card-box/", views.CardImportsPage.as_view(), name="card-imports"),
    path("card-box/noted/", views.NotedPage.as_view(), name="card-noted"),
    path(
        "card-box/noted/<int:pk>/forget/",
        views.ForgetButton.as_view(),
        name="card-noted-forget",
    ),
    path("card-box/examples/<slug:kind>/", views.ExampleFile.as_view(), name="card-example"),
    path("card-box/<int:pk>/", views.CardImportPage.as_view(), name="card-import"),
    path("card-box/<int:pk>/columns/", views.ColumnsPage.as_view(), name="card-import-columns"),
    path(
        "card-box/<int:pk>/answers/", views.AnswersButton.as_view(), name="card-import-answers"
    ),
    path(
        "card-box/<int:pk>/confirm/", views.ConfirmButton.as_view(), name="card-import-confirm"
    ),
    path("card-box/<int:pk>/stop/", views.StopButton.as_view(), name="card-import-stop"),
    path("card-box/<int:pk>/undo/", views.UndoButton.as_view(), name="card-import-undo"),
    path(
        "card-box/<int:pk>/not-taken.csv",
        views.GivenBackFile.as_view(),
        name="card-import-back",
    ),
]
resources: list = [("card-imports", api.CardImportViewSet, "api-card-import")]
endpoints: list = []

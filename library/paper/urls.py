"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

from django.urls import path

from library.paper import api, views
from library.paper.models import Kind

JOB = "paper/jobs/<uuid:identifier>/"

pages: list = [
    path("paper/", views.PrintingPage.as_view(), name="printing"),
    *[
        path(
            f"paper/{kind}.pdf", views.PaperFile.as_view(kind=kind.value), name=f"paper-{kind}"
        )
        for kind in Kind
    ],
    path(JOB, views.PrintJobPage.as_view(), name="print-job"),
    path(f"{JOB}file/", views.PrintJobFile.as_view(), name="print-job-file"),
    path(f"{JOB}stop/", views.StopPrintJob.as_view(), name="print-job-stop"),
    path("paper/sheets/", views.SheetsPage.as_view(), name="label-sheets"),
    path("paper/sheets/add/", views.SheetAddPage.as_view(), name="label-sheet-add"),
    path("paper/sheets/<int:pk>/", views.SheetEditPage.as_view(), name="label-sheet-edit"),
    path(
        "paper/sheets/<int:pk>/remove/",
        views.SheetRemove.as_view(),
        name="label-sheet-remove",
    ),
    path("paper/sheets/put-back/", views.SheetPutBack.as_view(), name="label-sheet-put-back"),
]
resources: list = [
    ("print-jobs", api.PrintJobViewSet, "api-print-job"),
    ("label-sheets", api.LabelSheetViewSet, "api-label-sheet"),
]
endpoints: list = [
    path(
        f"api/paper/{kind}/",
        api.paper_view(kind),
        name=f"api-paper-{kind}",
    )
    for kind in Kind
]

"""Chains and lots to carry away: PROV-JSON, and passport descriptors in CSV."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.http import Http404, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsCoordinator, may_browse
from accounts.models import Community
from library.exchange.mcpd.writing import csv_of
from library.exchange.prov.writing import as_text, chain_document
from library.exchange.views.whole import library_archive
from library.provenance.chain import chain_up
from library.stock.filters import LotFilter
from library.stock.models import Lot


class LotProvView(GenericAPIView):
    """A chain tells of other lots than the one asked for: it is for who may browse them all."""

    queryset = Lot.objects.none()  # for the API's description
    pagination_class = None
    filter_backends: list = []

    @extend_schema(
        responses={
            (200, "application/json"): OpenApiResponse(
                OpenApiTypes.OBJECT, description="A PROV-JSON document."
            )
        }
    )
    def get(self, request: Request, number: str) -> HttpResponseBase:
        """The lot and all its ancestors as W3C PROV-JSON, to keep or to bring to another
        library.
        """
        if not may_browse(request.user):
            raise Http404
        lot = get_object_or_404(Lot.objects.visible_to(request.user), number=number)
        text = as_text(chain_document(chain_up(lot)))
        name = f"{lot.number}-{timezone.localdate()}-prov.json"
        return _file(HttpResponse(text, content_type="application/json"), name)


class CsvRenderer(BaseRenderer):
    """Lets a request ask for CSV; the view writes it."""

    media_type = "text/csv"
    format = "csv"

    def render(self, data: Any, *args: Any, **kwargs: Any) -> bytes:
        return JSONRenderer().render(data)


class RefusesInJson(GenericAPIView):
    """A file to carry away: a refusal is in JSON, as everywhere."""

    def handle_exception(self, exc: Exception) -> Response:
        self.request.accepted_renderer = JSONRenderer()
        self.request.accepted_media_type = JSONRenderer.media_type
        return super().handle_exception(exc)


class McpdView(RefusesInJson):
    """The lots that the same questions would list, whole in one file."""

    queryset = Lot.objects.none()  # for the API's description; see get
    filterset_class = LotFilter
    pagination_class = None
    renderer_classes = [CsvRenderer, JSONRenderer]

    @extend_schema(
        filters=True,
        responses={
            (200, "text/csv"): OpenApiResponse(
                OpenApiTypes.STR, description="A header of 41 names, and a row for each lot."
            )
        },
    )
    def get(self, request: Request) -> HttpResponseBase:
        """Lots of this library as FAO/Bioversity multi-crop passport descriptors, V.2.1, in
        CSV. A value that a spreadsheet would calculate has an apostrophe before it.
        """
        lots: Any = self.filter_queryset(Lot.objects.visible_to(request.user))
        kind = "text/csv; charset=utf-8"
        if request.method == "HEAD":  # it would be written to be thrown away
            return _file(HttpResponse(content_type=kind), "mcpd.csv")
        parts = csv_of(lots, community=Community.current())
        return _file(StreamingHttpResponse(_encoded(parts), content_type=kind), "mcpd.csv")


class ZipRenderer(BaseRenderer):
    """Lets a request ask for the archive; the view writes it."""

    media_type = "application/zip"
    format = "zip"

    def render(self, data: Any, *args: Any, **kwargs: Any) -> bytes:
        return JSONRenderer().render(data)


class LibraryDataView(RefusesInJson):
    """All tables in one archive, for coordinators."""

    permission_classes = [IsCoordinator]
    queryset = Lot.objects.none()  # for the API's description
    pagination_class = None
    filter_backends: list = []
    renderer_classes = [ZipRenderer, JSONRenderer]

    @extend_schema(
        responses={
            (200, "application/zip"): OpenApiResponse(
                OpenApiTypes.BINARY,
                description="Tables as CSV and JSON, and `datapackage.json`.",
            )
        }
    )
    def get(self, request: Request) -> HttpResponseBase:
        """Everything that the library knows of its seed; people by their chosen names only."""
        return library_archive(request)


def _encoded(parts: Iterator[str]) -> Iterator[bytes]:
    return (part.encode() for part in parts)


def _file(answer: HttpResponseBase, name: str) -> HttpResponseBase:
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer

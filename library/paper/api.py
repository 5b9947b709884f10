"""Paper over the API: little at once as PDF, much as a job; and the sheets of labels."""

from __future__ import annotations

from typing import Any, cast

from django.http import Http404
from django.http.response import HttpResponseBase
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import mixins, status, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import NotAuthenticated
from rest_framework.generics import GenericAPIView
from rest_framework.permissions import AllowAny
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsDesk, IsMember
from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from accounts.models import Member
from library.paper import services
from library.paper.asking import may_print
from library.paper.models import Kind, LabelSheet, PrintJob
from library.paper.serializers import (
    HowInput,
    LabelSheetSerializer,
    NewLabelSheetInput,
    PrintJobInput,
    PrintJobSerializer,
)
from library.paper.views import pdf

A_PDF = {(200, "application/pdf"): OpenApiResponse(OpenApiTypes.BINARY, description="The PDF.")}
TOO_MUCH = OpenApiResponse(description="So much is asked for as a print job.")
KEY = OpenApiParameter("key", str, many=True, description="As `keys` of a print job.")


class PdfRenderer(BaseRenderer):
    """Lets a request ask for PDF; the view writes it. A refusal is in JSON, as everywhere."""

    media_type = "application/pdf"
    format = "pdf"

    def render(self, data: Any, *args: Any, **kwargs: Any) -> bytes:
        return JSONRenderer().render(data)


class PaperView(GenericAPIView):
    """Who may print it is asked kind by kind, so the permission is in ``get``."""

    permission_classes = [AllowAny]
    queryset = LabelSheet.objects.none()  # for the API's description
    pagination_class = None
    filter_backends: list = []
    renderer_classes = [PdfRenderer, JSONRenderer]
    kind = ""

    def handle_exception(self, exc: Exception) -> Response:
        self.request.accepted_renderer = JSONRenderer()
        self.request.accepted_media_type = JSONRenderer.media_type
        return super().handle_exception(exc)

    def get(self, request: Request) -> HttpResponseBase:
        if not may_print(request.user, self.kind):
            raise Http404 if request.user.is_authenticated else NotAuthenticated
        how = HowInput(data=request.query_params.dict())
        how.is_valid(raise_exception=True)
        today = timezone.localdate()
        given = services.prepared(
            kind=self.kind,
            keys=request.query_params.getlist("key"),
            by=request.user,
            on=today,
            **how.options(),
        )
        return pdf(services.print_now(given, by=request.user), f"{self.kind}-{today}.pdf")


def paper_view(kind: Kind) -> Any:
    """The endpoint of a kind of paper, described by its name."""
    name = f"paper_{kind.value.replace('-', '_')}"
    about = (
        f"{str(kind.label).capitalize()} as PDF, at once; 409 for so many that a job is due."
    )
    described = extend_schema(
        operation_id=name,
        description=about,
        parameters=[KEY, HowInput],
        responses=A_PDF | {409: TOO_MUCH},
    )
    made: Any = type(
        name, (PaperView,), {"kind": kind.value, "get": described(_copy(PaperView.get))}
    )
    return made.as_view()


def _copy(method: Any) -> Any:
    """The description is noted on the function, so each kind has its own."""

    def get(self: PaperView, request: Request) -> HttpResponseBase:
        return method(self, request)

    return get


class PrintJobViewSet(
    IdempotentMixin,
    mixins.ListModelMixin,
    mixins.RetrieveModelMixin,
    viewsets.GenericViewSet,
):
    """Much paper, made in the background. Each sees their own; files stay a week."""

    permission_classes = [IsMember]
    queryset = PrintJob.objects.without_file().order_by("-pk")
    serializer_class = PrintJobSerializer
    http_method_names = ["get", "post", "head", "options"]
    lookup_field = "identifier"
    lookup_value_converter = "uuid"
    lookup_value_regex = "[0-9a-f-]{36}"
    filter_backends: list = []

    @property
    def asker(self) -> Member:
        return cast(Member, self.request.user)

    def get_queryset(self) -> Any:
        return cast(Any, super().get_queryset()).visible_to(self.request.user)

    @extend_schema(
        request=PrintJobInput, responses={201: PrintJobSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request: Request) -> Response:
        """Have it made. The same asked twice while it is made is one job."""
        sent = PrintJobInput(data=request.data)
        sent.is_valid(raise_exception=True)
        given = services.prepared(
            kind=sent.validated_data["kind"],
            keys=sent.validated_data.get("keys", []),
            by=self.asker,
            on=timezone.localdate(),
            **sent.options(),
        )
        job = services.ask_print(given, by=self.asker)
        return Response(PrintJobSerializer(job).data, status=status.HTTP_201_CREATED)

    @extend_schema(request=None, responses=PrintJobSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, identifier: str) -> Response:
        """End the work; nothing of it is kept."""
        job = services.stop_print(job=self.get_object(), by=self.asker)
        return Response(PrintJobSerializer(job).data)

    @extend_schema(responses=A_PDF)
    @action(detail=True, methods=["get"], renderer_classes=[PdfRenderer, JSONRenderer])
    def file(self, request: Request, identifier: str) -> HttpResponseBase:
        """The PDF of a job that is done; 404 before."""
        job = self.get_object()
        if job.content is None:
            raise Http404
        return pdf(job.content, job.file_name)


class LabelSheetViewSet(
    IdempotentMixin,
    mixins.ListModelMixin,
    mixins.RetrieveModelMixin,
    viewsets.GenericViewSet,
):
    """Sheets and rolls of labels, as a ruler describes them (desk)."""

    permission_classes = [IsDesk]
    queryset = LabelSheet.objects.order_by("name")
    serializer_class = LabelSheetSerializer
    http_method_names = ["get", "post", "put", "delete", "head", "options"]
    lookup_value_regex = "[0-9]+"
    filter_backends: list = []

    @property
    def asker(self) -> Member:
        return cast(Member, self.request.user)

    @extend_schema(
        request=NewLabelSheetInput,
        responses={201: LabelSheetSerializer},
        parameters=[KEY_PARAMETER],
    )
    def create(self, request: Request) -> Response:
        """Describe a sheet."""
        row = services.save_sheet(by=self.asker, **self._facts())
        return Response(LabelSheetSerializer(row).data, status=status.HTTP_201_CREATED)

    @extend_schema(request=NewLabelSheetInput, responses=LabelSheetSerializer)
    def update(self, request: Request, pk: str) -> Response:
        """Describe it anew."""
        sheet = self.get_object()
        row = services.save_sheet(by=self.asker, sheet=sheet, **self._facts())
        return Response(LabelSheetSerializer(row).data)

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, pk: str) -> Response:
        """Forget it; jobs that print on it go on."""
        services.remove_sheet(sheet=self.get_object(), by=self.asker)
        return Response(status=status.HTTP_204_NO_CONTENT)

    def _facts(self) -> dict[str, Any]:
        sent = NewLabelSheetInput(data=self.request.data)
        sent.is_valid(raise_exception=True)
        return dict(sent.validated_data)

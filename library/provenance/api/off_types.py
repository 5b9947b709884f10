"""Off-types and purity over the API; each write calls the service that its page calls."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django.db.models import Prefetch
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers, status, viewsets
from rest_framework.decorators import action
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsCoordinator, IsMemberOrReadOnly
from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from accounts.roles import COORDINATE
from library.catalogue.filters import YesFilter
from library.provenance import services
from library.provenance.chain import chain_up
from library.provenance.models import OffTypeClearance, OffTypeReport
from library.provenance.purity import judge
from library.provenance.serializers.off_types import (
    ClearIn,
    LiftIn,
    OffTypeReportSerializer,
    PuritySerializer,
    ReportIn,
)
from library.provenance.warnings import warnings_of
from library.stock.models import Lot


class OffTypeReportFilter(filters.FilterSet):
    lot = filters.CharFilter(field_name="lot__number", label="The lot's number.")
    standing = YesFilter(method="stands", label="Whether nobody has lifted it.")

    class Meta:
        model = OffTypeReport
        fields: list[str] = []

    def stands(self, reports: Any, name: str, standing: bool) -> Any:
        return reports.standing() if standing else reports.lifted()


class OffTypeReportViewSet(
    IdempotentMixin,
    mixins.ListModelMixin,
    mixins.RetrieveModelMixin,
    viewsets.GenericViewSet,
):
    """Plants not true to their variety that were seen in stands of lots, newest first."""

    queryset = OffTypeReport.objects.none()  # for the API's description; see get_queryset
    serializer_class = OffTypeReportSerializer
    permission_classes = [IsMemberOrReadOnly]
    filterset_class = OffTypeReportFilter
    lookup_value_regex = "[0-9]+"

    def get_queryset(self):
        cleared = OffTypeClearance.objects.with_people().select_related("lot")
        reports = OffTypeReport.objects.with_people().select_related("lot__variety")
        newest = reports.order_by("-seen_on", "-pk")
        return newest.prefetch_related(Prefetch("clearances", cleared))

    def filter_queryset(self, queryset):
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    def _asked(self, shape: type[serializers.Serializer]) -> dict[str, Any]:
        sent = shape(data=self.request.data, context=self.get_serializer_context())
        sent.is_valid(raise_exception=True)
        who_and_when = {"by": self.request.user, "on": timezone.localdate()}
        return who_and_when | sent.validated_data

    def _shown(self, pk: int, code: int = status.HTTP_200_OK) -> Response:
        report = self.get_queryset().get(pk=pk)
        return Response(self.get_serializer(report).data, status=code)

    @extend_schema(
        request=ReportIn, responses={201: OffTypeReportSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request: Request) -> Response:
        """Report off-types seen in a lot: a warning for it and for all grown from it."""
        report = services.report_off_types(**self._asked(ReportIn))
        return self._shown(report.pk, status.HTTP_201_CREATED)

    @extend_schema(
        request=LiftIn, responses=OffTypeReportSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"], permission_classes=[IsCoordinator])
    def lift(self, request: Request, pk: str) -> Response:
        """Let a report warn of nothing any more; it stays readable (coordinators)."""
        report = services.lift_report(report=self.get_object(), **self._asked(LiftIn))
        return self._shown(report.pk)

    @extend_schema(
        request=ClearIn, responses=OffTypeReportSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"], permission_classes=[IsCoordinator])
    def clear(self, request: Request, pk: str) -> Response:
        """Say that a descendant was found true: the report goes no further through it
        (coordinators).
        """
        report = self.get_object()
        services.clear_of_report(report=report, **self._asked(ClearIn))
        return self._shown(report.pk)


class PurityView(GenericAPIView):
    """How sure it is that the lot was never crossed, link by link, and what warns of it."""

    queryset = Lot.objects.none()  # for the API's description
    serializer_class = PuritySerializer
    permission_classes = [IsMemberOrReadOnly]
    filter_backends: list = []
    pagination_class = None

    def get(self, request: Request, number: str) -> Response:
        lot = get_object_or_404(Lot.objects.visible_to(request.user), number=number)
        purity = judge(chain_up(lot), for_coordinator=request.user.has_perm(COORDINATE))
        told = PuritySerializer.told(lot, purity, warnings_of(lot))
        return Response(self.get_serializer(told).data)

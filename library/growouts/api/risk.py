"""What could be lost, and whether it can be had elsewhere, over the API."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

from django.http import HttpRequest
from django.utils import timezone
from django_filters.rest_framework import DjangoFilterBackend
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status, viewsets
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsMember
from accounts.idempotency import KEY_PARAMETER
from accounts.models import Member
from library.catalogue.models import Variety
from library.growouts.api.seasons import GrowOutViewSet
from library.growouts.models import Elsewhere
from library.growouts.risk import AtRisk, at_risk
from library.growouts.risk.asking import RiskFilter
from library.growouts.risk.reading import of_concern
from library.growouts.risk.testing import with_tests
from library.growouts.risk.words import told
from library.growouts.serializers.risk import (
    ElsewhereInput,
    ElsewhereSerializer,
    RiskAsked,
    RiskSerializer,
)
from library.growouts.services.risk import record_elsewhere


class RiskViewSet(viewsets.GenericViewSet):
    """Each variety's chance of loss, for members."""

    permission_classes = [IsMember]
    queryset = Variety.objects.order_by("folded_name", "pk")
    serializer_class = RiskSerializer
    filterset_class = RiskFilter
    filter_backends = [DjangoFilterBackend]
    lookup_value_regex = "[0-9]+"
    http_method_names = ["get", "head", "options"]

    def list(self, request: Request) -> Response:
        """The varieties that could be lost, the likeliest first unless asked otherwise; each
        with all that its chance is made of.
        """
        today, plain = timezone.localdate(), cast(HttpRequest, request)
        asked = RiskFilter(request.query_params, queryset=of_concern(today), request=plain)
        if not asked.is_valid():
            raise serializers.ValidationError(asked.errors)
        page: Any = self.paginate_queryset(asked.ranked(on=today))
        return self.get_paginated_response(self._shown(page))

    @extend_schema(parameters=[RiskAsked], filters=False)
    def retrieve(self, request: Request, pk: str) -> Response:
        """One variety's chance of loss, whether or not it is on the list."""
        asked = RiskAsked(data=request.query_params)
        asked.is_valid(raise_exception=True)
        rows = Variety.objects.select_related("crop__species")
        variety = get_object_or_404(rows, pk=pk)
        years = asked.validated_data.get("years")
        found = at_risk(on=timezone.localdate(), varieties=[variety], years=years)
        return Response(self._shown(found)[0])

    def _shown(self, found: Sequence[AtRisk]) -> Any:
        reader = cast(Member, self.request.user)
        known = with_tests(found, on=timezone.localdate())
        return self.get_serializer([told(one, reader=reader) for one in known], many=True).data


class ElsewhereViewSet(GrowOutViewSet):
    """What members know of whether a variety can be had outside the library."""

    queryset = Elsewhere.objects.select_related("recorded_by").newest_first()
    serializer_class = ElsewhereSerializer
    filterset_fields = ["variety", "ease"]
    http_method_names = ["get", "post", "head", "options"]

    @extend_schema(
        request=ElsewhereInput,
        responses={201: ElsewhereSerializer},
        parameters=[KEY_PARAMETER],
    )
    def create(self, request: Request) -> Response:
        """Say whether a variety can be had outside; the newest word counts."""
        sent = self.taken(ElsewhereInput).validated_data
        record = record_elsewhere(on=timezone.localdate(), by=self.asker, **sent)
        return Response(self.shown(record), status=status.HTTP_201_CREATED)

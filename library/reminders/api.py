"""`/api/due/`: what is due for me."""

from __future__ import annotations

from typing import cast

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from accounts.access import IsMember
from accounts.models import Member
from library.hooks import DueItem
from library.reminders.panels import LOOKS_AHEAD
from library.reminders.serializers import DueOut, DueQuery
from library.reminders.services import items_for


class DueViewSet(GenericViewSet):
    """Loans to give back, tests to make, and for the desk and coordinators what awaits them."""

    permission_classes = [IsMember]
    serializer_class = DueOut
    filter_backends = []

    @extend_schema(parameters=[DueQuery], responses=DueOut(many=True))
    def list(self, request: Request) -> Response:
        page = self.paginate_queryset(due_items_asked_for(request))
        return self.get_paginated_response(DueOut(page, many=True).data)


def due_items_asked_for(request: Request) -> list[DueItem]:
    query = DueQuery(data=request.query_params)
    query.is_valid(raise_exception=True)
    until = query.validated_data.get("until", timezone.localdate() + LOOKS_AHEAD)
    kind = query.validated_data.get("kind")
    return [i for i in items_for(cast(Member, request.user), until) if kind in (None, i.kind)]

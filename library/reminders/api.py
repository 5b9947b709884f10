"""`/api/due/`: what is due for me; `/api/reminders/`: what I was reminded of."""

from __future__ import annotations

from typing import cast

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.mixins import ListModelMixin, RetrieveModelMixin
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from accounts.access import IsMember
from accounts.models import Member
from library.hooks import DueItem
from library.reminders.models import Reminder
from library.reminders.panels import LOOKS_AHEAD
from library.reminders.serializers import DueOut, DueQuery, ReminderOut
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


class ReminderViewSet(ListModelMixin, RetrieveModelMixin, GenericViewSet):
    """What I was reminded of, the newest first."""

    permission_classes = [IsMember]
    serializer_class = ReminderOut
    queryset = Reminder.objects.none()
    filter_backends = []
    lookup_value_regex = "[0-9]+"

    def get_queryset(self):
        mine = Reminder.objects.of(self.request.user).with_mail()
        return mine.order_by("-planned_at", "-pk")

"""The swap table over the API: what a phone does, sent when it can be."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsDesk
from accounts.idempotency import KEY_PARAMETER
from accounts.models import Member
from library.lending import services
from library.lending.api.base import DeskActions
from library.lending.finding import borrower_named, day_said, packet_scanned
from library.lending.models import Loan, LoanEvent
from library.lending.serializers import (
    LoanSerializer,
    TableLendInput,
    TableSerializer,
    TableTakeBackInput,
)


class TableViewSet(DeskActions):
    """A queue and a phone (desk)."""

    permission_classes = [IsDesk]
    queryset = Loan.objects.order_by("due_on", "pk")
    serializer_class = LoanSerializer
    pagination_class = None
    filter_backends: list = []

    @extend_schema(responses=TableSerializer)
    def list(self, request: Request) -> Response:
        """Who is signed in, what they did today, and the names that can borrow."""
        today = timezone.localdate()
        events: Any = LoanEvent.objects
        told = {
            "me": self.asker.pk,
            "name": self.asker.display_name,
            "now": timezone.localtime().isoformat(timespec="seconds"),
            "people": Member.objects.active()
            .order_by("display_name_key")
            .values_list("display_name", flat=True),
        }
        told |= events.at_desk(by=self.asker, on=today).counted()
        return Response(TableSerializer(told).data)

    @extend_schema(
        request=TableLendInput, responses={201: LoanSerializer}, parameters=[KEY_PARAMETER]
    )
    @action(detail=False, methods=["post"])
    def lend(self, request: Request) -> Response:
        """Lend a packet and hand it over; one that the member had chosen is handed over."""
        sent = self.taken(TableLendInput)
        services.done_by(sent.get("done_by"), self.asker)
        loan = services.lend_at_table(
            packet=packet_scanned(sent["packet"]),
            borrower=borrower_named(sent["borrower"], by=self.asker),
            on=day_said(sent.get("on"), by=self.asker),
            by=self.asker,
        )
        return Response(self.shown(loan), status=status.HTTP_201_CREATED)

    @extend_schema(
        request=TableTakeBackInput, responses=LoanSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=False, methods=["post"], url_path="take-back")
    def take_back(self, request: Request) -> Response:
        """Take an unopened packet back from whoever has it out."""
        sent = self.taken(TableTakeBackInput)
        services.done_by(sent.get("done_by"), self.asker)
        loan = services.take_back_at_table(
            packet=packet_scanned(sent["packet"]),
            on=day_said(sent.get("on"), by=self.asker),
            by=self.asker,
            loan_id=sent.get("loan"),
        )
        return Response(self.shown(loan))

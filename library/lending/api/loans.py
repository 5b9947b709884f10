"""Loans over the API."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.relations import PrimaryKeyRelatedField
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.idempotency import KEY_PARAMETER
from accounts.models import Garden
from library.lending import services
from library.lending.api.base import DeskViewSet
from library.lending.filters import LoanFilter
from library.lending.finding import borrower_named, day_said, packet_scanned
from library.lending.models import Loan
from library.lending.serializers import (
    CloseInput,
    DatedNoteInput,
    ExtendInput,
    GardenInput,
    GuidanceSerializer,
    LendInput,
    LoanSerializer,
    OnInput,
    SowingWishes,
)
from library.lending.services.seasons import garden_of


class LoanViewSet(DeskViewSet):
    """Packets lent for sowing: one's own, or for the desk everybody's."""

    queryset = Loan.objects.order_by("due_on", "pk")
    serializer_class = LoanSerializer
    filterset_class = LoanFilter

    @extend_schema(
        request=LendInput, responses={201: LoanSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request: Request) -> Response:
        """Lend a packet: to yourself, to be collected; or as the desk, handed over at once."""
        sent = self.taken(LendInput)
        loan = services.lend_packet(
            packet=packet_scanned(sent["packet"]),
            borrower=borrower_named(sent.get("borrower"), by=self.asker),
            on=day_said(sent.get("on"), by=self.asker),
            by=self.asker,
            garden=sent.get("garden"),
            override_reason=sent.get("override_reason", ""),
        )
        return Response(self.shown(loan), status=status.HTTP_201_CREATED)

    @extend_schema(request=OnInput, responses=LoanSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"], url_path="hand-over")
    def hand_over(self, request: Request, pk: str) -> Response:
        """Hand over a packet that a member chose (desk)."""
        return self._done(services.hand_over, OnInput)

    @extend_schema(request=DatedNoteInput, responses=LoanSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"], url_path="take-back")
    def take_back(self, request: Request, pk: str) -> Response:
        """Take a packet back unopened (desk)."""
        return self._done(services.take_back_unopened, DatedNoteInput)

    @extend_schema(request=OnInput, responses=LoanSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def cancel(self, request: Request, pk: str) -> Response:
        """Put a packet back that was chosen but not collected."""
        return self._done(services.cancel_uncollected, OnInput)

    @extend_schema(request=CloseInput, responses=LoanSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def close(self, request: Request, pk: str) -> Response:
        """Say that the crop failed, and what happened; or that there is nothing to return."""
        return self._done(services.close_loan, CloseInput)

    @extend_schema(request=ExtendInput, responses=LoanSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def extend(self, request: Request, pk: str) -> Response:
        """Give another due date, and why (desk)."""
        return self._done(services.extend_loan, ExtendInput)

    @extend_schema(request=GardenInput, responses=LoanSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def garden(self, request: Request, pk: str) -> Response:
        """Grow it in another garden of the borrower's."""
        return self._done(services.change_garden, GardenInput)

    @extend_schema(
        parameters=[
            OpenApiParameter("packet", str, required=True, description="The packet's code."),
            OpenApiParameter("garden", int, description="A garden of yours."),
            OpenApiParameter(
                "plants", int, description="Plants wanted; else those that keep the variety."
            ),
            OpenApiParameter(
                "losses_percent",
                float,
                description="Seedlings lost, 0 to 99 %; else what the library expects.",
            ),
        ],
        responses=GuidanceSerializer,
        filters=False,
    )
    @action(detail=False, methods=["get"], pagination_class=None, filter_backends=[])
    def guidance(self, request: Request) -> Response:
        """How to grow a packet's variety for seed, and when its seed would be due."""
        packet = packet_scanned(request.query_params.get("packet", ""))
        wishes = SowingWishes(data=request.query_params)
        wishes.is_valid(raise_exception=True)
        guidance = services.guidance_for(
            variety=packet.lot.variety,
            lot=packet.lot,
            garden=garden_of(self.asker, self._garden_asked(request)),
            on=timezone.localdate(),
            **wishes.validated_data,
        )
        shown = GuidanceSerializer(
            guidance,
            context={
                "why_not": services.why_not_lend(packet=packet, borrower=self.asker),
            },
        )
        return Response(shown.data)

    def _garden_asked(self, request: Request):
        asked = request.query_params.get("garden")
        if not asked:
            return None
        field = PrimaryKeyRelatedField(queryset=Garden.objects.filter(member=self.asker))
        try:
            return field.run_validation(asked)
        except ValidationError as error:
            raise ValidationError({"garden": error.detail}) from error

    def _done(self, verb, shape) -> Response:
        loan = self.get_object()
        sent = self.taken(shape)
        on = day_said(sent.pop("on", None), by=self.asker)
        return Response(self.shown(verb(loan=loan, on=on, by=self.asker, **sent)))

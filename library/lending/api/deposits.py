"""Deposits over the API."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.idempotency import KEY_PARAMETER
from library.errors import Refused
from library.lending import services
from library.lending.api.base import DeskViewSet, received
from library.lending.filters import DepositFilter
from library.lending.finding import borrower_named, day_said
from library.lending.models import Deposit
from library.lending.serializers import (
    DeclineInput,
    DepositInput,
    DepositSerializer,
    OnInput,
    ReceiveDepositInput,
    ReceivedSerializer,
)
from library.lending.services.checks import serves_desk


class DepositViewSet(DeskViewSet):
    """Seed offered from outside: one's own offers, or for the desk everybody's."""

    queryset = Deposit.objects.order_by("-proposed_at", "-pk")
    serializer_class = DepositSerializer
    filterset_class = DepositFilter

    @extend_schema(
        request=DepositInput, responses={201: DepositSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request: Request) -> Response:
        """Offer seed; or as the desk, with ``receive``, take it in at once."""
        sent = self.taken(DepositInput)
        at_once = sent.pop("receive", None)
        if at_once is not None:
            deposit = self._at_desk(sent, received(at_once))
        else:
            deposit = self._proposed(sent)
        return Response(self.shown(deposit), status=status.HTTP_201_CREATED)

    def _proposed(self, sent: dict[str, Any]) -> Deposit:
        by = self.asker
        if sent.pop("source_name", ""):
            raise _only_received("source_name")
        depositor = borrower_named(sent.pop("depositor", None), by=by, field="depositor")
        return services.propose_deposit(
            depositor=depositor, on=day_said(None, by=by), **_said(sent)
        )

    def _at_desk(self, sent: dict[str, Any], words: dict[str, Any]) -> Deposit:
        by = self.asker
        serves_desk(by)
        told = {name: sent.pop(name, None) for name in ("seeds", "grams")}
        words = {name: value for name, value in told.items() if value is not None} | words
        name = sent.pop("depositor", None)
        lot = services.deposit_at_desk(
            on=day_said(words.pop("on", None), by=by),
            by=by,
            depositor=borrower_named(name, by=by, field="depositor") if name else None,
            **{**_said(sent), **words},
        )
        return lot.deposit

    @extend_schema(
        request=ReceiveDepositInput,
        responses={201: ReceivedSerializer},
        parameters=[KEY_PARAMETER],
    )
    @action(detail=True, methods=["post"])
    def receive(self, request: Request, pk: str) -> Response:
        """Count or weigh it and make it a lot (desk)."""
        deposit = self.get_object()
        words = received(self.taken(ReceiveDepositInput))
        on = day_said(words.pop("on", None), by=self.asker)
        lot = services.receive_deposit(deposit=deposit, on=on, by=self.asker, **words)
        return Response(ReceivedSerializer(lot).data, status=status.HTTP_201_CREATED)

    @extend_schema(
        request=DeclineInput, responses=DepositSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    def decline(self, request: Request, pk: str) -> Response:
        """Say that it cannot be taken in, and why (desk); the depositor is told by mail."""
        deposit = self.get_object()
        on = day_said(None, by=self.asker)
        sent = self.taken(DeclineInput)
        services.decline_deposit(deposit=deposit, on=on, by=self.asker, **sent)
        return Response(self.shown(deposit))

    @extend_schema(request=OnInput, responses=DepositSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def withdraw(self, request: Request, pk: str) -> Response:
        """Not bring it after all."""
        deposit = self.get_object()
        on = day_said(self.taken(OnInput).get("on"), by=self.asker)
        services.withdraw_deposit(deposit=deposit, on=on, by=self.asker)
        return Response(self.shown(deposit))


def _said(sent: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in sent.items() if value is not None}


def _only_received(field: str) -> Refused:
    return Refused(
        _("That is said when seed is received at once, together with “receive”."), field=field
    )

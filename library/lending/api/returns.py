"""Returns over the API."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.idempotency import KEY_PARAMETER
from library.lending import services
from library.lending.api.base import DeskViewSet, received
from library.lending.filters import ReturnFilter
from library.lending.finding import day_said
from library.lending.models import Return
from library.lending.serializers import (
    AnnounceInput,
    OnInput,
    ReceivedSerializer,
    ReceiveInput,
    ReturnSerializer,
)
from library.lending.services.checks import serves_desk


class ReturnViewSet(DeskViewSet):
    """Seed brought back against loans: one's own, or for the desk everybody's."""

    queryset = Return.objects.order_by("-announced_at", "-pk")
    serializer_class = ReturnSerializer
    filterset_class = ReturnFilter

    @extend_schema(
        request=AnnounceInput, responses={201: ReturnSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request: Request) -> Response:
        """Announce seed of one or several loans of one variety; or as the desk, with
        ``receive``, take it in at once.
        """
        sent = self.taken(AnnounceInput)
        at_once = sent.pop("receive", None)
        words = {name: value for name, value in sent.items() if value is not None}
        if at_once is not None:
            seed_return = self._at_desk(words, received(at_once))
        else:
            seed_return = services.announce_return(
                member=words["loans"][0].borrower,
                on=day_said(None, by=self.asker),
                by=self.asker,
                **words,
            )
        return Response(self.shown(seed_return), status=status.HTTP_201_CREATED)

    def _at_desk(self, words: dict[str, Any], counted: dict[str, Any]) -> Return:
        by = self.asker
        serves_desk(by)
        on = day_said(counted.pop("on", None), by=by)
        lot = services.return_at_desk(on=on, by=by, **{**words, **counted})
        return lot.returned_as

    @extend_schema(
        request=ReceiveInput, responses={201: ReceivedSerializer}, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    def receive(self, request: Request, pk: str) -> Response:
        """Count or weigh the seed and make it a lot (desk)."""
        seed_return = self.get_object()
        words = received(self.taken(ReceiveInput))
        on = day_said(words.pop("on", None), by=self.asker)
        lot = services.receive_return(seed_return=seed_return, on=on, by=self.asker, **words)
        return Response(ReceivedSerializer(lot).data, status=status.HTTP_201_CREATED)

    @extend_schema(request=OnInput, responses=ReturnSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def withdraw(self, request: Request, pk: str) -> Response:
        """Not bring it after all; the loans stay as they are."""
        seed_return = self.get_object()
        services.withdraw_return(seed_return=seed_return, by=self.asker)
        return Response(self.shown(seed_return))

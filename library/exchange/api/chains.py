"""Chains that another library sent, over the API (desk)."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.parsers import JSONParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsDesk
from accounts.idempotency import KEY_PARAMETER
from library.exchange import services
from library.exchange.looking import ChainSeen
from library.exchange.models import ChainImport
from library.exchange.serializers import (
    ChainImportDetailSerializer,
    ChainImportSerializer,
    ChainInput,
    ReceiveChainInput,
)
from library.lending.api.base import DeskViewSet, received
from library.lending.finding import borrower_named
from library.lending.serializers import ReceivedSerializer


class ChainImportViewSet(DeskViewSet):
    """Files with another library's chain: looked at, then received or left (desk)."""

    queryset = ChainImport.objects.order_by("-brought_at", "-pk")
    serializer_class = ChainImportSerializer
    permission_classes = [IsDesk]
    parser_classes = [JSONParser, MultiPartParser]  # a file may be sent as one

    @extend_schema(responses=ChainImportDetailSerializer)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The import; while it waits with what would become of each of its lots today."""
        row = self.get_object()
        seen = services.seen_now(row, on=timezone.localdate()) if row.is_waiting else None
        return Response(self._told(row, seen))

    @extend_schema(
        request={"application/json": ChainInput, "multipart/form-data": ChainInput},
        responses={201: ChainImportDetailSerializer},
        parameters=[KEY_PARAMETER],
    )
    def create(self, request: Request) -> Response:
        """Bring a file in to look at. Nothing is written to the stock. A file that cannot be
        taken in is refused with every line that is wrong.
        """
        sent = ChainInput(data=request.data, context=self.get_serializer_context())
        sent.is_valid(raise_exception=True)
        row, seen = services.preview_chain(
            by=self.asker, on=timezone.localdate(), **sent.words()
        )
        return Response(self._told(row, seen), status=status.HTTP_201_CREATED)

    @extend_schema(
        request=ReceiveChainInput,
        responses={201: ReceivedSerializer},
        parameters=[KEY_PARAMETER],
    )
    @action(detail=True, methods=["post"])
    def receive(self, request: Request, pk: str) -> Response:
        """Write the chain's new lots down, and take in the seed that came with it as a lot."""
        row = self.get_object()
        words = received(self.taken(ReceiveChainInput))
        name = words.pop("depositor", None)
        person = borrower_named(name, by=self.asker, field="depositor") if name else None
        on = words.pop("on", None) or timezone.localdate()
        lot = services.receive_chain(
            chain_import=row, by=self.asker, on=on, depositor=person, **words
        )
        return Response(ReceivedSerializer(lot).data, status=status.HTTP_201_CREATED)

    @extend_schema(
        request=None, responses=ChainImportDetailSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    def drop(self, request: Request, pk: str) -> Response:
        """Leave it; nothing of it was written to the stock."""
        row = services.drop_chain(chain_import=self.get_object(), by=self.asker)
        return Response(self._told(row, None))

    def _told(self, row: ChainImport, seen: ChainSeen | None) -> dict[str, Any]:
        context = {**self.get_serializer_context(), "seen": seen}
        return dict(ChainImportDetailSerializer(row, context=context).data)

"""The stock over the API; each write calls the service that its page calls."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, status, viewsets
from rest_framework.decorators import action
from rest_framework.response import Response

from accounts.access import IsDesk, IsMemberOrReadOnly
from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from library.stock import services
from library.stock.filters import LotFilter, PacketFilter
from library.stock.models import Lot, Packet, StoragePlace
from library.stock.places import PlaceTree
from library.stock.serializers import (
    AmendIn,
    DiscardIn,
    LotDetailSerializer,
    LotSerializer,
    MoveIn,
    PacketSerializer,
    PackIn,
    StoragePlaceSerializer,
)

CODE = "[^/.]+"


class LotViewSet(IdempotentMixin, viewsets.ReadOnlyModelViewSet):
    """Lots: where each came from and what is left of it."""

    queryset = Lot.objects.none()  # for the API's description; see get_queryset
    filterset_class = LotFilter
    lookup_field = "number"
    lookup_value_regex = CODE

    def get_queryset(self):
        lots = Lot.objects.visible_to(self.request.user).with_variety().with_people()
        lots = lots.select_related("foreign")
        if self.action == "list":
            return lots
        return lots.select_related("growing").prefetch_related(
            "parent_links__parent", "child_links__child", "amendments"
        )

    def filter_queryset(self, queryset):
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    def get_serializer_class(self):
        return LotSerializer if self.action == "list" else LotDetailSerializer

    def _asked(self, shape: type) -> dict[str, Any]:
        asked = shape(data=self.request.data)
        asked.is_valid(raise_exception=True)
        return {"lot": self.get_object(), "by": self.request.user} | asked.validated_data

    def _on(self, asked: dict[str, Any]) -> dict[str, Any]:
        return {"on": timezone.localdate()} | asked

    def _answer(self) -> Response:
        return Response(self.get_serializer(self.get_object()).data)

    @extend_schema(
        request=PackIn, responses={201: PacketSerializer(many=True)}, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"], permission_classes=[IsDesk])
    def pack(self, request, number: str) -> Response:
        """Fill packets from the jar (desk)."""
        packets = services.pack(**self._on(self._asked(PackIn)))
        made = PacketSerializer(packets, many=True, context=self.get_serializer_context())
        return Response(made.data, status=status.HTTP_201_CREATED)

    @extend_schema(request=DiscardIn, responses=LotDetailSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"], permission_classes=[IsDesk])
    def discard(self, request, number: str) -> Response:
        """Discard seed of the jar, or a packet on the shelf (desk)."""
        services.discard(**self._on(self._asked(DiscardIn)))
        return self._answer()

    @extend_schema(request=MoveIn, responses=LotDetailSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"], permission_classes=[IsDesk])
    def move(self, request, number: str) -> Response:
        """Put the jar, and its packets on the shelf, somewhere else (desk)."""
        services.move_lot(**self._asked(MoveIn))
        return self._answer()

    @extend_schema(request=AmendIn, responses=LotDetailSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"], permission_classes=[IsDesk])
    def amend(self, request, number: str) -> Response:
        """Correct a recorded fact; the old value stays readable (desk)."""
        services.amend_lot(**self._asked(AmendIn))
        return self._answer()


class PacketViewSet(viewsets.ReadOnlyModelViewSet):
    """Packets: which lot each is of, and where it is."""

    queryset = Packet.objects.none()  # for the API's description; see get_queryset
    serializer_class = PacketSerializer
    permission_classes = [IsMemberOrReadOnly]
    filterset_class = PacketFilter
    lookup_field = "code"
    lookup_value_regex = CODE

    def get_queryset(self):
        return Packet.objects.visible_to(self.request.user).with_lot()


class StoragePlaceViewSet(
    mixins.ListModelMixin, mixins.RetrieveModelMixin, viewsets.GenericViewSet
):
    """Storage places, with the climate that each has or inherits (desk)."""

    queryset = StoragePlace.objects.order_by("pk")
    serializer_class = StoragePlaceSerializer
    permission_classes = [IsDesk]

    def get_serializer_context(self) -> dict[str, Any]:
        context = super().get_serializer_context()
        # Not while the API describes itself: no database is needed for that.
        return context if self.request is None else {**context, "tree": PlaceTree()}

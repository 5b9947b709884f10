"""What the library counts on a lot for, and whether it goes on being lent, over the API."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework import mixins, status, viewsets
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsCoordinator, IsDesk
from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from library.germination import services
from library.germination.api.base import Asking
from library.germination.filters import PlannedSowingFilter, ShelfDecisionFilter
from library.germination.models import PlannedSowing, ShelfDecision
from library.germination.serializers.bench import (
    DecisionIn,
    PlannedSowingSerializer,
    ShelfDecisionSerializer,
    SowingIn,
)


class PlannedSowingViewSet(
    Asking,
    IdempotentMixin,
    mixins.ListModelMixin,
    mixins.RetrieveModelMixin,
    viewsets.GenericViewSet,
):
    """Days on which somebody counts on a lot, soonest first: it is tested in time for them
    (desk).
    """

    queryset = PlannedSowing.objects.select_related("lot__variety", "added_by")
    serializer_class = PlannedSowingSerializer
    permission_classes = [IsDesk]
    filterset_class = PlannedSowingFilter

    def filter_queryset(self, queryset):
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    @extend_schema(
        request=SowingIn, responses={201: PlannedSowingSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request: Request) -> Response:
        """Say that a lot is to be sown; saying the same twice changes nothing (desk)."""
        sowing = services.expect_sowing(**self.asked(SowingIn))
        shown = self.get_serializer(self.get_queryset().get(pk=sowing.pk)).data
        return Response(shown, status=status.HTTP_201_CREATED)

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, pk: str) -> Response:
        """Nobody counts on the lot for that any more (desk)."""
        services.drop_sowing(sowing=self.get_object(), by=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


class ShelfDecisionViewSet(
    Asking, IdempotentMixin, mixins.ListModelMixin, viewsets.GenericViewSet
):
    """What was decided of lots that should be regrown, newest first (coordinators)."""

    queryset = ShelfDecision.objects.select_related("lot", "decided_by")
    serializer_class = ShelfDecisionSerializer
    permission_classes = [IsCoordinator]
    filterset_class = ShelfDecisionFilter

    def filter_queryset(self, queryset):
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    @extend_schema(
        request=DecisionIn, responses={201: ShelfDecisionSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request: Request) -> Response:
        """Say whether a lot goes on being lent, or leaves the lending shelf (coordinators)."""
        decision = services.decide_shelf(**self.asked(DecisionIn))
        return Response(self.get_serializer(decision).data, status=status.HTTP_201_CREATED)

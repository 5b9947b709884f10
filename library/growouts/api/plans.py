"""Plans and pins over the API: for coordinators."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsCoordinator
from accounts.idempotency import KEY_PARAMETER
from library.errors import Refused
from library.growouts.api.seasons import GrowOutViewSet
from library.growouts.filters import PinFilter, PlanFilter
from library.growouts.models import Pin, Plan
from library.growouts.serializers.plans import (
    OffersInput,
    PinInput,
    PinSerializer,
    PlanInput,
    SeasonPlanDetailSerializer,
    SeasonPlanSerializer,
    SentSerializer,
)
from library.growouts.services import plans as services


class PlanViewSet(GrowOutViewSet):
    """The plans of seasons: who grows what, why, and how good that is."""

    permission_classes = [IsCoordinator]
    queryset = Plan.objects.select_related("season", "asked_by").order_by("-pk")
    serializer_class = SeasonPlanSerializer
    filterset_class = PlanFilter
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> Any:
        rows = super().get_queryset()
        return rows.defer("given", "best") if self.action == "list" else rows

    def get_serializer_class(self) -> type[serializers.Serializer]:
        return SeasonPlanSerializer if self.action == "list" else SeasonPlanDetailSerializer

    @extend_schema(
        request=PlanInput,
        responses={201: SeasonPlanDetailSerializer},
        parameters=[KEY_PARAMETER],
    )
    def create(self, request: Request) -> Response:
        """Have a plan worked out in the background; 409 while another is worked on."""
        plan = services.ask_plan(
            on=timezone.localdate(), by=self.asker, **self.taken(PlanInput).validated_data
        )
        return Response(self._shown(plan), status=status.HTTP_201_CREATED)

    @extend_schema(
        request=None, responses=SeasonPlanDetailSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: str) -> Response:
        """Stop it and take the best so far; that is there a few seconds later."""
        return Response(self._shown(services.stop_plan(plan=self.get_object(), by=self.asker)))

    @extend_schema(request=OffersInput, responses=SentSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def offers(self, request: Request, pk: str) -> Response:
        """Ask the growers of these pairs, or of all; who was asked is not asked again."""
        plan, keys = self.get_object(), self.taken(OffersInput).validated_data["pairs"]
        pairs = None
        if keys is not None:
            pairs = list(plan.pairs.filter(pk__in=keys))
            if len(pairs) < len(set(keys)):
                raise Refused(_("Not all of these pairs are of this plan."), field="pairs")
        sent = services.send_offers(
            plan=plan, pairs=pairs, on=timezone.localdate(), by=self.asker
        )
        keys = [commitment.pk for commitment in sent]
        return Response({"sent": keys, "refused": sent.refused})

    def _shown(self, plan: Plan) -> dict[str, Any]:
        context = self.get_serializer_context()
        return SeasonPlanDetailSerializer(
            self.get_queryset().get(pk=plan.pk), context=context
        ).data


class PinViewSet(GrowOutViewSet):
    """What is decided before the next plan: pairs that are kept, and pairs never made."""

    permission_classes = [IsCoordinator]
    queryset = Pin.objects.select_related("season", "variety", "garden__member").order_by("pk")
    serializer_class = PinSerializer
    filterset_class = PinFilter
    http_method_names = ["get", "post", "delete", "head", "options"]

    @extend_schema(request=PinInput, responses={201: PinSerializer}, parameters=[KEY_PARAMETER])
    def create(self, request: Request) -> Response:
        """Decide a pair; deciding it again changes what was decided."""
        pin = services.pin(by=self.asker, **self.taken(PinInput).validated_data)
        row = self.get_queryset().get(pk=pin.pk)
        return Response(PinSerializer(row).data, status=status.HTTP_201_CREATED)

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, pk: str) -> Response:
        """The next plan is free in this again."""
        services.unpin(pin=self.get_object(), by=self.asker)
        return Response(status=status.HTTP_204_NO_CONTENT)

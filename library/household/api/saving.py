"""What to save seed of in one's own gardens, over the API. Only one's own, whoever asks."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.idempotency import KEY_PARAMETER
from library.growouts.api.seasons import GrowOutViewSet
from library.household.days import calendar_of
from library.household.filters import SavedVarietyFilter, SavingPlanFilter
from library.household.listed import listed_of
from library.household.meeting import own_stands
from library.household.models import SavedVariety, SavingPlan
from library.household.rotating import rotation_of
from library.household.serializers.saving import (
    AddVarietiesInput,
    ChangeSavedVarietyInput,
    ChangeSavingPlanInput,
    CrossingsSerializer,
    NewSavingPlanInput,
    RotationSerializer,
    SavedVarietySerializer,
    SavingCalendarSerializer,
    SavingPlanSerializer,
)
from library.household.services import saving as services
from library.household.shown import listed_rows, rotation_shown
from library.household.words import pair_lines


class OwnViewSet(GrowOutViewSet):
    """One's own rows, for coordinators too."""

    def get_queryset(self) -> Any:
        rows: Any = super().get_queryset()
        return rows.visible_to(self.request.user).with_details()


class SavingPlanViewSet(OwnViewSet):
    """Lists of what to save seed of: a garden, a season, and the room there is."""

    queryset = SavingPlan.objects.order_by("-year", "pk")
    serializer_class = SavingPlanSerializer
    filterset_class = SavingPlanFilter
    http_method_names = ["get", "post", "patch", "delete", "head", "options"]

    @extend_schema(
        request=NewSavingPlanInput,
        responses={201: SavingPlanSerializer},
        parameters=[KEY_PARAMETER],
    )
    def create(self, request: Request) -> Response:
        """Begin a list for one of your gardens and a season."""
        sent = self.taken(NewSavingPlanInput).validated_data
        plan = services.make_plan(by=self.asker, **sent)
        return Response(self.shown(plan), status=status.HTTP_201_CREATED)

    @extend_schema(request=ChangeSavingPlanInput, responses={200: SavingPlanSerializer})
    def partial_update(self, request: Request, pk: str) -> Response:
        """Change the room, or what the rotation goes by."""
        plan = self.get_object()
        sent = self.taken(ChangeSavingPlanInput).validated_data
        return Response(self.shown(services.change_plan(plan=plan, by=self.asker, **sent)))

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, pk: str) -> Response:
        """Remove the list and what stands on it."""
        services.remove_plan(plan=self.get_object(), by=self.asker)
        return Response(status=status.HTTP_204_NO_CONTENT)

    @extend_schema(
        request=AddVarietiesInput,
        responses={200: SavedVarietySerializer(many=True)},
        parameters=[KEY_PARAMETER],
        filters=False,
    )
    @action(detail=True, methods=["post"], pagination_class=None)
    def add(self, request: Request, pk: str) -> Response:
        """Put varieties on the list; the answer is what is new on it."""
        plan = self.get_object()
        sent = self.taken(AddVarietiesInput).validated_data
        added = services.add_varieties(plan=plan, by=self.asker, **sent)
        rows = SavedVariety.objects.of(self.asker).with_details()
        new = rows.filter(pk__in=[row.pk for row in added])
        return Response(SavedVarietySerializer(new, many=True).data)

    @extend_schema(responses=CrossingsSerializer, filters=False)
    @action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    def crossings(self, request: Request, pk: str) -> Response:
        """What each variety needs, and which pairs of your own would cross."""
        plan = self.get_object()
        listed = listed_of(plan, on=timezone.localdate())
        told = {
            "room_m2": plan.room_m2,
            "room_used_m2": sum(one.room_m2 for one in listed),
            "varieties": listed_rows(listed),
            "pairs": pair_lines(own_stands(plan, listed), listed),
        }
        return Response(CrossingsSerializer(told).data)

    @extend_schema(responses=RotationSerializer, filters=False)
    @action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    def rotation(self, request: Request, pk: str) -> Response:
        """Which of the varieties you keep at home to sow in which year."""
        found = rotation_of(self.get_object(), on=timezone.localdate())
        return Response(RotationSerializer(rotation_shown(found)).data)

    @extend_schema(responses=SavingCalendarSerializer, filters=False)
    @action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    def calendar(self, request: Request, pk: str) -> Response:
        """The days that follow, with the frost dates of the garden."""
        plan = self.get_object()
        listed = listed_of(plan, on=timezone.localdate())
        return Response(SavingCalendarSerializer(calendar_of(plan, listed)).data)


class SavedVarietyViewSet(OwnViewSet):
    """Varieties on one's lists."""

    queryset = SavedVariety.objects.order_by("-plan__year", "pk")
    serializer_class = SavedVarietySerializer
    filterset_class = SavedVarietyFilter
    http_method_names = ["get", "patch", "delete", "head", "options"]

    @extend_schema(request=ChangeSavedVarietyInput, responses={200: SavedVarietySerializer})
    def partial_update(self, request: Request, pk: str) -> Response:
        """Change what is given: lot, plants, technique, years that seed keeps, note."""
        choice = self.get_object()
        sent = self.taken(ChangeSavedVarietyInput).validated_data
        changed = services.change_choice(choice=choice, by=self.asker, **sent)
        return Response(self.shown(changed))

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, pk: str) -> Response:
        """Take it off the list."""
        services.drop_choice(choice=self.get_object(), by=self.asker)
        return Response(status=status.HTTP_204_NO_CONTENT)

"""Kitchens over the API. Only one's own, whoever asks."""

from __future__ import annotations

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.access import IsMember
from accounts.idempotency import KEY_PARAMETER
from library.catalogue.models import Crop
from library.household.api.saving import OwnViewSet
from library.household.filters import DishFilter, KitchenPlanFilter
from library.household.kitchen.isolation import list_of, pairs_of
from library.household.kitchen.reckoning import kitchen_of
from library.household.kitchen.tables import foods, products_of, yields_of
from library.household.kitchen.words import cards_of, cautions_of
from library.household.models import Dish, KitchenPlan, SavingPlan
from library.household.serializers.kitchen import (
    ChangeDishInput,
    ChangeKitchenInput,
    DishSerializer,
    KitchenPlanSerializer,
    KitchenSerializer,
    KitchenTablesSerializer,
    NewDishInput,
    NewKitchenInput,
    TakeOverInput,
)
from library.household.serializers.saving import SavingPlanSerializer
from library.household.services import kitchen as services


class KitchenPlanViewSet(OwnViewSet):
    """What a household eats and preserves of one garden in one year."""

    queryset = KitchenPlan.objects.order_by("-year", "pk")
    serializer_class = KitchenPlanSerializer
    filterset_class = KitchenPlanFilter
    http_method_names = ["get", "post", "patch", "delete", "head", "options"]

    @extend_schema(
        request=NewKitchenInput,
        responses={201: KitchenPlanSerializer},
        parameters=[KEY_PARAMETER],
    )
    def create(self, request: Request) -> Response:
        """Begin a plan for one of your gardens and a year."""
        sent = self.taken(NewKitchenInput).validated_data
        plan = services.make_plan(by=self.asker, **sent)
        return Response(self.shown(plan), status=status.HTTP_201_CREATED)

    @extend_schema(request=ChangeKitchenInput, responses={200: KitchenPlanSerializer})
    def partial_update(self, request: Request, pk: str) -> Response:
        """Change the margin."""
        plan = self.get_object()
        sent = self.taken(ChangeKitchenInput).validated_data
        return Response(self.shown(services.change_plan(plan=plan, by=self.asker, **sent)))

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, pk: str) -> Response:
        """Remove the plan and its dishes."""
        services.remove_plan(plan=self.get_object(), by=self.asker)
        return Response(status=status.HTTP_204_NO_CONTENT)

    @extend_schema(responses=KitchenSerializer, filters=False)
    @action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    def reckoning(self, request: Request, pk: str) -> Response:
        """What must grow for all of it, what to mind in preserving, and what would cross."""
        today = timezone.localdate()
        kitchen = kitchen_of(self.get_object(), on=today)
        pairs = pairs_of(kitchen, list_of(kitchen), on=today) if kitchen.to_save else []
        told = {
            "area_m2": kitchen.area_m2,
            "unknown": kitchen.unknown,
            "dishes": cards_of(kitchen),
            "cautions": cautions_of(kitchen),
            "pairs": pairs,
        }
        return Response(KitchenSerializer(told).data)

    @extend_schema(
        request=TakeOverInput,
        responses={200: SavingPlanSerializer},
        parameters=[KEY_PARAMETER],
        filters=False,
    )
    @action(detail=True, methods=["post"], url_path="take-over")
    def take_over(self, request: Request, pk: str) -> Response:
        """Put the varieties of which seed is saved on the garden's list of seed."""
        plan = self.get_object()
        sent = self.taken(TakeOverInput).validated_data
        kitchen = kitchen_of(plan, on=timezone.localdate())
        there, _added = services.take_over(
            plan=plan, by=self.asker, plants=kitchen.plants_for_seed, **sent
        )
        shown = SavingPlan.objects.of(self.asker).with_details().get(pk=there.pk)
        return Response(SavingPlanSerializer(shown).data)


class DishViewSet(OwnViewSet):
    """What is eaten or preserved: so much of it, so many times a year."""

    queryset = Dish.objects.order_by("-plan__year", "pk")
    serializer_class = DishSerializer
    filterset_class = DishFilter
    http_method_names = ["get", "post", "patch", "delete", "head", "options"]

    @extend_schema(
        request=NewDishInput, responses={201: DishSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request: Request) -> Response:
        """Put a dish in a plan."""
        sent = self.taken(NewDishInput).validated_data
        dish = services.add_dish(by=self.asker, **sent)
        return Response(self.shown(dish), status=status.HTTP_201_CREATED)

    @extend_schema(request=ChangeDishInput, responses={200: DishSerializer})
    def partial_update(self, request: Request, pk: str) -> Response:
        """Change what is given; the crop stays."""
        dish = self.get_object()
        sent = self.taken(ChangeDishInput).validated_data
        return Response(self.shown(services.change_dish(dish=dish, by=self.asker, **sent)))

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, pk: str) -> Response:
        """Take it out of the plan."""
        services.remove_dish(dish=self.get_object(), by=self.asker)
        return Response(status=status.HTTP_204_NO_CONTENT)


class KitchenTablesView(APIView):
    """The published figures of a crop: ways to preserve it, and harvests."""

    permission_classes = [IsMember]

    @extend_schema(responses=KitchenTablesSerializer)
    def get(self, request: Request, crop: str) -> Response:
        found = get_object_or_404(Crop, slug=crop)
        food = foods().get(found.name)
        told = {
            "crop": found.name,
            "part_eaten": food.part if food else "",
            "products": products_of(found.name),
            "yields": yields_of(found.name),
        }
        return Response(KitchenTablesSerializer(told).data)

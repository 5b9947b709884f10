"""Seasons, offers and own plantings over the API."""

from __future__ import annotations

from typing import Any, cast

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_view
from rest_framework import mixins, serializers, status, viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsMember
from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from accounts.models import Member
from library.growouts.experience import experience_of
from library.growouts.filters import GrowerOfferFilter, PlantingFilter, SeasonFilter
from library.growouts.models import GrowerOffer, OwnPlanting, Season
from library.growouts.risk import chances_of_loss
from library.growouts.serializers.seasons import (
    ChangePlantingInput,
    ChangeSeasonInput,
    DroppedSerializer,
    GrowerOfferSerializer,
    NewPlantingInput,
    NewSeasonInput,
    OfferInput,
    PlantingSerializer,
    SeasonSerializer,
    VarietiesInput,
    WantedSerializer,
    WantInput,
)
from library.growouts.services import plantings as planting_services
from library.growouts.services import seasons as services
from library.lending.finding import borrower_named

YEAR = OpenApiParameter("year", int, OpenApiParameter.PATH, description="The season's year.")


class GrowOutViewSet(
    IdempotentMixin,
    mixins.ListModelMixin,
    mixins.RetrieveModelMixin,
    viewsets.GenericViewSet,
):
    """For approved members; each sees what the rows' ``visible_to`` lets them see."""

    permission_classes = [IsMember]
    lookup_value_regex = "[0-9]+"

    @property
    def asker(self) -> Member:
        """Who asks: an approved member, as the permission has made sure."""
        return cast(Member, self.request.user)

    def filter_queryset(self, queryset: Any) -> Any:
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    def taken(self, shape: type[serializers.Serializer], **options: Any) -> Any:
        """The serializer of what was sent, when its shape is right."""
        context = self.get_serializer_context()
        sent = shape(data=self.request.data, context=context, **options)
        sent.is_valid(raise_exception=True)
        return sent

    def shown(self, row: Any) -> dict[str, Any]:
        return self.get_serializer(self.get_queryset().get(pk=row.pk)).data


@extend_schema_view(retrieve=extend_schema(parameters=[YEAR]))
class SeasonViewSet(GrowOutViewSet):
    """Seasons, and the varieties that each is to renew."""

    queryset = Season.objects.with_counts().order_by("-year")
    serializer_class = SeasonSerializer
    filterset_class = SeasonFilter
    http_method_names = ["get", "post", "patch", "head", "options"]
    lookup_field = "year"

    @extend_schema(
        request=NewSeasonInput, responses={201: SeasonSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request: Request) -> Response:
        """Open a season (coordinators)."""
        sent = self.taken(NewSeasonInput).validated_data
        season = services.open_season(by=self.asker, **sent)
        return Response(self.shown(season), status=status.HTTP_201_CREATED)

    @extend_schema(
        request=ChangeSeasonInput, responses={200: SeasonSerializer}, parameters=[YEAR]
    )
    def partial_update(self, request: Request, year: str) -> Response:
        """Change until when gardens are offered, or the word to the growers (coordinators)."""
        season = self.get_object()
        sent = self.taken(ChangeSeasonInput).validated_data
        known = {"offers_until": season.offers_until, "note": season.note}
        changed = services.change_season(season=season, by=self.asker, **known | sent)
        return Response(self.shown(changed))

    @extend_schema(request=None, responses=SeasonSerializer, parameters=[YEAR, KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def close(self, request: Request, year: str) -> Response:
        """The season is over (coordinators). Nothing may be open in it."""
        on = timezone.localdate()
        closed = services.close_season(season=self.get_object(), on=on, by=self.asker)
        return Response(self.shown(closed))

    @extend_schema(request=None, responses=SeasonSerializer, parameters=[YEAR, KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def reopen(self, request: Request, year: str) -> Response:
        """It was closed too soon (coordinators)."""
        opened = services.reopen_season(season=self.get_object(), by=self.asker)
        return Response(self.shown(opened))

    @extend_schema(responses=WantedSerializer(many=True), parameters=[YEAR], filters=False)
    @action(detail=True, methods=["get"], filter_backends=[])
    def wanted(self, request: Request, year: str) -> Response:
        """The varieties that the season is to renew, by name, each with its chance of loss."""
        rows = self.get_object().wanted.with_variety()
        page = self.paginate_queryset(rows)
        return self.get_paginated_response(self._wanted(page or []))

    @extend_schema(
        request=WantInput,
        responses=WantedSerializer(many=True),
        parameters=[YEAR, KEY_PARAMETER],
        filters=False,
    )
    @action(detail=True, methods=["post"], pagination_class=None)
    def want(self, request: Request, year: str) -> Response:
        """Renew these varieties; of those chosen before, change what is noted
        (coordinators).
        """
        season = self.get_object()
        sent = self.taken(WantInput).validated_data
        return Response(
            self._wanted(services.want_varieties(season=season, by=self.asker, **sent))
        )

    @extend_schema(
        request=VarietiesInput, responses=DroppedSerializer, parameters=[YEAR, KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    def drop(self, request: Request, year: str) -> Response:
        """Do not renew these varieties after all (coordinators)."""
        season = self.get_object()
        sent = self.taken(VarietiesInput).validated_data
        return Response(
            {"dropped": services.drop_varieties(season=season, by=self.asker, **sent)}
        )

    def _wanted(self, rows: list) -> Any:
        lost = chances_of_loss(on=timezone.localdate(), varieties=[row.variety for row in rows])
        context = dict(self.get_serializer_context(), lost=lost)
        return WantedSerializer(rows, many=True, context=context).data


class GrowerOfferViewSet(GrowOutViewSet):
    """What growers offer: one's own, or for coordinators everybody's."""

    queryset = GrowerOffer.objects.order_by("-season__year", "pk")
    serializer_class = GrowerOfferSerializer
    filterset_class = GrowerOfferFilter
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> Any:
        rows: Any = super().get_queryset()
        return rows.visible_to(self.request.user).with_details()

    def get_serializer(self, *args: Any, **kwargs: Any) -> Any:
        """With the experience of all who are shown, read at once."""
        if args:
            rows = args[0] if kwargs.get("many") else [args[0]]
            members = {row.member_id for row in rows}
            known = experience_of(members, on=timezone.localdate())
            kwargs["context"] = dict(self.get_serializer_context(), experience=known)
        return super().get_serializer(*args, **kwargs)

    @extend_schema(
        request=OfferInput, responses={201: GrowerOfferSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request: Request) -> Response:
        """Offer gardens for a season; what was offered before is replaced."""
        sent = self.taken(OfferInput)
        told = sent.validated_data
        offer = services.offer_gardens(
            season=told["season"],
            member=borrower_named(told.get("member"), by=self.asker, field="member"),
            gardens=sent.rooms(),
            most=told["most"],
            wishes=told.get("wishes", ""),
            on=timezone.localdate(),
            by=self.asker,
        )
        return Response(self.shown(offer), status=status.HTTP_201_CREATED)

    @extend_schema(request=None, responses=GrowerOfferSerializer, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def withdraw(self, request: Request, pk: str) -> Response:
        """Take the offer back, while nothing is promised in these gardens."""
        offer = services.withdraw_offer(offer=self.get_object(), by=self.asker)
        return Response(self.shown(offer))


class PlantingViewSet(GrowOutViewSet):
    """What members grow for themselves: one's own, or for coordinators everybody's."""

    queryset = OwnPlanting.objects.order_by("-year", "pk")
    serializer_class = PlantingSerializer
    filterset_class = PlantingFilter
    http_method_names = ["get", "post", "patch", "delete", "head", "options"]

    def get_queryset(self) -> Any:
        rows: Any = super().get_queryset()
        return rows.visible_to(self.request.user).with_details()

    @extend_schema(
        request=NewPlantingInput,
        responses={201: PlantingSerializer},
        parameters=[KEY_PARAMETER],
    )
    def create(self, request: Request) -> Response:
        """Write down what you grow in a garden of yours."""
        sent = self.taken(NewPlantingInput).validated_data
        planting = planting_services.add_planting(by=self.asker, **sent)
        return Response(self.shown(planting), status=status.HTTP_201_CREATED)

    @extend_schema(request=ChangePlantingInput, responses={200: PlantingSerializer})
    def partial_update(self, request: Request, pk: str) -> Response:
        """Change what is given. A name takes the place of a variety, and the other way."""
        planting = self.get_object()
        sent = self.taken(ChangePlantingInput).validated_data
        changed = planting_services.edit_planting(planting=planting, by=self.asker, **sent)
        return Response(self.shown(changed))

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, pk: str) -> Response:
        """Remove it."""
        planting_services.remove_planting(planting=self.get_object(), by=self.asker)
        return Response(status=status.HTTP_204_NO_CONTENT)

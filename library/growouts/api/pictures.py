"""The data of a season's pictures over the API."""

from __future__ import annotations

from typing import Any, cast

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsMember
from accounts.models import Member
from accounts.roles import COORDINATE
from library.growouts.models import Season
from library.growouts.pictures.asking import plan_asked, species_asked
from library.growouts.pictures.calendar import calendar_of
from library.growouts.pictures.gardens import garden_plan, members_plan
from library.growouts.pictures.story import story_of
from library.growouts.serializers.pictures import (
    SeasonCalendarSerializer,
    SeasonMapSerializer,
    SeasonStorySerializer,
)


class LateAsked(serializers.Serializer):
    late = serializers.BooleanField(
        default=False, help_text="Only promises of which a step is late."
    )


class SeasonPictureView(GenericAPIView):
    """For approved members; each is told what the page of the picture shows them."""

    queryset = Season.objects.none()  # for the API's description
    permission_classes = [IsMember]
    pagination_class = None
    filter_backends: list = []

    @property
    def asker(self) -> Member:
        return cast(Member, self.request.user)

    def season_of(self, year: int) -> Season:
        return get_object_or_404(Season, year=year)

    def told(self, picture: Any) -> Response:
        return Response(self.get_serializer(picture).data)


class SeasonCalendarView(SeasonPictureView):
    serializer_class = SeasonCalendarSerializer

    @extend_schema(parameters=[LateAsked])
    def get(self, request: Request, year: int) -> Response:
        """The season's promises with their steps: expected, done and late."""
        asked = LateAsked(data=request.query_params)
        asked.is_valid(raise_exception=True)
        late = asked.validated_data["late"]
        season, on = self.season_of(year), timezone.localdate()
        return self.told(calendar_of(season, viewer=self.asker, on=on, late_only=late))


class SeasonMapView(SeasonPictureView):
    serializer_class = SeasonMapSerializer

    @extend_schema(
        parameters=[
            OpenApiParameter("plan", int, description="Coordinators: what it proposes too."),
            OpenApiParameter("species", str, description="Coordinators: only this one."),
        ]
    )
    def get(self, request: Request, year: int) -> Response:
        """Where the season is grown: true places for coordinators, coarse cells for others."""
        season = self.season_of(year)
        if not self.asker.has_perm(COORDINATE):
            return self.told(members_plan(season, viewer=self.asker))
        plan = plan_asked(season, request.query_params.get("plan", ""))
        species = species_asked(request.query_params.get("species", ""))
        return self.told(garden_plan(season, plan=plan, species=species))


class SeasonStoryView(SeasonPictureView):
    serializer_class = SeasonStorySerializer

    def get(self, request: Request, year: int) -> Response:
        """How the season went: what was promised, what came back, and what it changed."""
        season, on = self.season_of(year), timezone.localdate()
        return self.told(story_of(season, viewer=self.asker, on=on))

"""What the lists of grow-outs can be asked for."""

from __future__ import annotations

from typing import Any

import django_filters
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from accounts.models import Garden
from library.catalogue.models import Species
from library.growouts.models import (
    Commitment,
    GrowerOffer,
    OwnPlanting,
    Pin,
    Plan,
    Season,
)


def gardens_of(request: Any) -> QuerySet[Garden]:
    return Garden.objects.none() if request is None else Garden.objects.visible_to(request.user)


class _Mine(django_filters.FilterSet):
    """``mine=true``: one's own only, also for coordinators, who see everybody's."""

    mine = django_filters.BooleanFilter(method="only_mine", label=_("only my own"))

    def only_mine(self, rows: Any, name: str, mine: bool) -> QuerySet:
        return rows.of(self.request.user) if mine else rows


class SeasonFilter(django_filters.FilterSet):
    open = django_filters.BooleanFilter("closed_on", "isnull", label=_("not over"))

    class Meta:
        model = Season
        fields: list[str] = []


class GrowerOfferFilter(_Mine):
    season = django_filters.ModelChoiceFilter(
        queryset=Season.objects.all(), to_field_name="year", label=_("year")
    )
    standing = django_filters.BooleanFilter(method="only_standing", label=_("not withdrawn"))

    class Meta:
        model = GrowerOffer
        fields: list[str] = []

    def only_standing(self, offers: Any, name: str, standing: bool) -> QuerySet:
        return offers.standing() if standing else offers


class PlantingFilter(_Mine):
    year = django_filters.NumberFilter()
    garden = django_filters.ModelChoiceFilter(queryset=gardens_of)
    species = django_filters.ModelChoiceFilter(
        queryset=Species.objects.all(), to_field_name="slug"
    )
    flowers = django_filters.BooleanFilter()

    class Meta:
        model = OwnPlanting
        fields: list[str] = []


class CommitmentFilter(django_filters.FilterSet):
    season = django_filters.NumberFilter(
        field_name="season__year", min_value=1900, max_value=2200
    )
    state = django_filters.ChoiceFilter(choices=Commitment.State.choices)

    class Meta:
        model = Commitment
        fields = ["season", "state", "variety"]


class _OfSeason(django_filters.FilterSet):
    season = django_filters.NumberFilter(
        field_name="season__year", min_value=1900, max_value=2200
    )


class PlanFilter(_OfSeason):
    state = django_filters.MultipleChoiceFilter(choices=Plan.State.choices)

    class Meta:
        model = Plan
        fields: list[str] = []


class PinFilter(_OfSeason):
    kind = django_filters.ChoiceFilter(choices=Pin.Kind.choices)

    class Meta:
        model = Pin
        fields: list[str] = []

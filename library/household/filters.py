"""What the lists of a household's plans can be asked for."""

from __future__ import annotations

from typing import Any

import django_filters
from django.db.models import QuerySet

from library.growouts.filters import gardens_of
from library.household.models import Dish, KitchenPlan, SavedVariety, SavingPlan


def plans_of(request: Any) -> QuerySet[SavingPlan]:
    none = SavingPlan.objects.none()
    return none if request is None else SavingPlan.objects.visible_to(request.user)


class SavingPlanFilter(django_filters.FilterSet):
    year = django_filters.NumberFilter()
    garden = django_filters.ModelChoiceFilter(queryset=gardens_of)

    class Meta:
        model = SavingPlan
        fields: list[str] = []


class SavedVarietyFilter(django_filters.FilterSet):
    plan = django_filters.ModelChoiceFilter(queryset=plans_of)

    class Meta:
        model = SavedVariety
        fields: list[str] = []


class KitchenPlanFilter(django_filters.FilterSet):
    year = django_filters.NumberFilter()
    garden = django_filters.ModelChoiceFilter(queryset=gardens_of)

    class Meta:
        model = KitchenPlan
        fields: list[str] = []


def kitchens_of(request: Any) -> QuerySet[KitchenPlan]:
    none = KitchenPlan.objects.none()
    return none if request is None else KitchenPlan.objects.visible_to(request.user)


class DishFilter(django_filters.FilterSet):
    plan = django_filters.ModelChoiceFilter(queryset=kitchens_of)

    class Meta:
        model = Dish
        fields: list[str] = []

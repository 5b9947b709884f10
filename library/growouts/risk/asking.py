"""What the list of risk can be asked, the same for the page and the API."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext_lazy as _
from django_filters import rest_framework as filters
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field

from library.catalogue.filters import WholeNumberFilter, YesFilter
from library.catalogue.models import Crop, Variety, VarietyName
from library.catalogue.names import fold
from library.growouts.risk.reading import AtRisk, at_risk

LONGEST_LOOK = 50  # years, as the rules
NEVER = 0  # before every year
SORTS = [
    ("chance", _("likeliest to be lost first")),
    ("name", _("by name")),
    ("living", _("least living seed first")),
    ("harvest", _("oldest seed first")),
    ("grown", _("longest not grown first")),
    ("reserve", _("most short of its reserve first")),
]
_ORDERS: dict[str, Callable[[AtRisk], Any]] = {
    "name": lambda one: one.variety.folded_name,
    "living": lambda one: one.living_seeds[1],
    "harvest": lambda one: one.newest_harvest_year or NEVER,
    "grown": lambda one: one.last_grown_year or NEVER,
    "reserve": lambda one: -one.reserve_short,
}


class RiskFilter(filters.FilterSet):
    """Narrows the varieties; ``ranked`` then reckons them and puts them in order."""

    q = filters.CharFilter(method="named", max_length=120, label=_("part of any of its names"))
    crop = extend_schema_field(OpenApiTypes.STR)(
        filters.ModelChoiceFilter(
            field_name="crop__slug",
            queryset=Crop.objects.all(),
            to_field_name="slug",
            label=_("crop"),
            method="of_crop",
        )
    )
    rare = YesFilter(field_name="is_rare", label=_("rare"))
    years = WholeNumberFilter(
        method="leave",
        min_value=1,
        max_value=LONGEST_LOOK,
        label=_("years to look ahead; as the rules say unless told"),
    )
    at_least = filters.NumberFilter(
        method="leave", min_value=0, max_value=100, label=_("a chance of at least so many %")
    )
    one_place = YesFilter(method="leave", label=_("kept in one place at most"))
    nobody_grows = YesFilter(method="leave", label=_("nobody promised to grow it"))
    sort = filters.ChoiceFilter(method="leave", choices=SORTS, label=_("order"))

    class Meta:
        model = Variety
        fields: list[str] = []

    def named(self, varieties: QuerySet, name: str, text: str) -> QuerySet:
        names = VarietyName.objects.filter(variety=OuterRef("pk"), folded__contains=fold(text))
        return varieties.filter(Exists(names))

    def of_crop(self, varieties: QuerySet, name: str, crop: Crop | None) -> QuerySet:
        return varieties.filter(crop=crop) if crop else varieties

    def leave(self, varieties: QuerySet, name: str, value: Any) -> QuerySet:
        return varieties  # asked of what is reckoned, not of the card file

    def ranked(self, *, on: dt.date) -> list[AtRisk]:
        """What is asked for, reckoned and in order. The filter was found valid."""
        asked = self.form.cleaned_data
        found = at_risk(on=on, varieties=self.qs, years=asked["years"])
        least = float(asked["at_least"] or 0) / 100
        one_place, nobody = asked["one_place"], asked["nobody_grows"]
        found = [
            one
            for one in found
            if one.lost >= least
            and (one_place is None or (len(one.situation.custodians) < 2) is one_place)
            and (nobody is None or (not one.growing) is nobody)
        ]
        order = _ORDERS.get(asked["sort"])
        return sorted(found, key=order) if order else found

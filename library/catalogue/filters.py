"""Filters of the card file, the same for the browse page and the API."""

from __future__ import annotations

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django_filters import rest_framework as filters
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field

from library.catalogue.models import BreedingStatus, Crop, SeasonNote, Species, Variety
from library.catalogue.search import LONGEST_TEXT, Found, search
from library.catalogue.season import fits, season_for
from library.errors import Refused


class StrictBoolean(forms.Field):
    """Yes, no, or not said; anything else is a mistake that is told, not passed over."""

    widget = forms.TextInput
    words = {"true": True, "on": True, "1": True, "false": False, "0": False}

    def to_python(self, value: str | None) -> bool | None:
        if value in self.empty_values:
            return None
        try:
            return self.words[str(value).lower()]
        except KeyError:
            raise forms.ValidationError(_("Say true or false.")) from None


class YesFilter(filters.BooleanFilter):
    """A yes-or-no filter that is strict; a BooleanFilter still, for the API's description."""

    field_class = StrictBoolean

    def __init__(self, *args, **kwargs) -> None:
        kwargs.setdefault("widget", forms.TextInput)
        super().__init__(*args, **kwargs)


class VarietyFilter(filters.FilterSet):
    """Searches and filters cards; ``found`` says afterwards what was perhaps meant."""

    q = filters.CharFilter(
        method="search_last",
        max_length=LONGEST_TEXT,
        label=gettext_lazy("any name, misspelt too"),
    )
    crop = extend_schema_field(OpenApiTypes.STR)(
        filters.ModelMultipleChoiceFilter(
            field_name="crop__slug",
            distinct=False,  # a variety has one crop
            queryset=Crop.objects.all(),
            to_field_name="slug",
            label=gettext_lazy("crop"),
        )
    )
    species = filters.ModelChoiceFilter(
        field_name="crop__species",
        queryset=Species.objects.all(),
        to_field_name="slug",
        label=gettext_lazy("species, the crossing unit"),
    )
    breeding_status = filters.MultipleChoiceFilter(
        choices=BreedingStatus.choices,
        distinct=False,
        label=gettext_lazy("breeding status"),
    )
    rare = YesFilter(field_name="is_rare", label=gettext_lazy("rare"))
    on_shelf = YesFilter(method="filter_on_shelf", label=gettext_lazy("on the shelf"))
    suits_my_season = YesFilter(
        method="filter_season", label=gettext_lazy("ripens seed in my season")
    )

    found: Found

    class Meta:
        model = Variety
        fields: list[str] = []

    def __init__(self, data=None, *args, **kwargs) -> None:
        super().__init__(_without_blanks(data), *args, **kwargs)

    def filter_queryset(self, queryset):
        filtered = super().filter_queryset(queryset).order_by("folded_name", "pk")
        self.found = search(filtered, self.form.cleaned_data.get("q") or "")
        return self.found.varieties

    def search_last(self, queryset, name, text):
        return queryset  # searched in filter_queryset, within what the other filters leave

    def filter_on_shelf(self, queryset, name, wanted: bool):
        if wanted:
            return queryset.on_shelf()
        return queryset.with_on_shelf().filter(is_on_shelf=False)

    def filter_season(self, queryset, name, wanted: bool):
        if not wanted:
            return queryset
        season = season_for(self.request.user)
        if season is None:
            raise Refused(
                _(
                    "Nobody has said yet when the frosts are: give your garden its last spring "
                    "frost and first autumn frost."
                ),
                field="suits_my_season",
            )
        return queryset.filter(fits(season))


class WholeNumberFilter(filters.NumberFilter):
    field_class = forms.IntegerField


def _without_blanks(data: QueryDict | None) -> QueryDict | None:
    """What a form left open says nothing, not that one of the choices is to be empty."""
    if data is None:
        return None
    said = QueryDict(mutable=True)
    for name, values in data.lists():
        said.setlist(name, [value for value in values if value != ""])
    return said


class SeasonNoteFilter(filters.FilterSet):
    year = WholeNumberFilter(min_value=1900, max_value=2200, label=gettext_lazy("year"))
    mine = YesFilter(method="filter_mine", label=gettext_lazy("written by me"))

    class Meta:
        model = SeasonNote
        fields = {"variety": ["exact"]}

    def filter_mine(self, queryset, name, wanted: bool):
        mine = queryset.written_by(self.request.user)
        return mine if wanted else queryset.exclude(pk__in=mine.values("pk"))


class CropFilter(filters.FilterSet):
    species = filters.ModelChoiceFilter(
        queryset=Species.objects.all(), to_field_name="slug", label=gettext_lazy("species")
    )

    class Meta:
        model = Crop
        fields = {"life_cycle": ["exact"]}

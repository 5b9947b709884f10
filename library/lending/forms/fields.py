"""Fields that several forms share, and what a form hands to a service."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from library.catalogue.models import BreedingStatus
from library.lending.services.growing import FACTS
from library.stock.models import Isolation, StoragePlace

StrOrPromise = str | Promise

# Whatever fits a database column; the services know the smaller ranges and say them.
MOST = 2**31 - 1


def whole(label, *, help_text="", required=False, least=0) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        help_text=help_text,
        required=required,
        min_value=least,
        max_value=MOST,
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "class": "short"}),
        error_messages={"invalid": _("Enter a whole number, such as 120.")},
    )


class SometimesNeeded(forms.CharField):
    """Text that a service asks for in one case only; its label says which, not "optional"."""

    def __init__(self, *, needed_when: Any, **options: Any) -> None:
        super().__init__(required=False, **options)
        self.needed_when = needed_when


def text(label, *, most, help_text="", required=False, rows=0) -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": rows}) if rows else forms.TextInput()
    return forms.CharField(
        label=label, max_length=most, help_text=help_text, required=required, widget=widget
    )


def weight(label, *, help_text="", places=3) -> forms.DecimalField:
    return forms.DecimalField(
        label=label,
        help_text=help_text,
        required=False,
        min_value=0,
        max_digits=12,
        decimal_places=places,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "class": "short"}),
    )


def day(label, *, help_text="") -> forms.DateField:
    return forms.DateField(
        label=label,
        help_text=help_text,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": _("Enter a day that there is, as 2026-10-31.")},
    )


class Folding(forms.Form):
    """A form that keeps apart what is seldom told, folded until it is wanted or wrong.

    ``folds`` is (words, names of fields) for each; what is in none stands open.
    """

    folds: ClassVar[list[tuple[StrOrPromise, tuple[str, ...]]]] = []

    def open_fields(self) -> list[forms.BoundField]:
        folded = {name for _words, names in self.folds for name in names}
        return [field for field in self.visible_fields() if field.name not in folded]

    def folded_fields(self) -> list[tuple[StrOrPromise, list[forms.BoundField], bool]]:
        """Each fold's words, its fields, and whether one of them is wrong."""
        rows = []
        for words, names in self.folds:
            fields = [self[name] for name in names if name in self.fields]
            rows.append((words, fields, any(field.errors for field in fields)))
        return rows


class GrowingFields(forms.Form):
    """How it was grown; every field may stay empty."""

    plants_sown = whole(_("Seeds or plants set out"))
    plants_stood = whole(_("Plants that stood"))
    plants_gave_seed = whole(
        _("Plants that gave seed"),
        help_text=_("The one number that tells most of how well the variety is kept."),
    )
    pollen_plants = whole(
        _("Plants that shed pollen"),
        help_text=_("Only where plants are male or female, as spinach is."),
    )
    isolation = forms.ChoiceField(
        label=_("Kept from crossing by"),
        choices=Isolation.choices,
        initial=Isolation.UNKNOWN,
        required=False,
    )
    isolation_distance_m = whole(_("Metres to the nearest that could cross"))
    crossing_neighbour = text(
        _("What that neighbour was"), most=120, help_text=_("Another squash, a wild carrot …")
    )
    selection = text(_("What you selected for"), most=2000, rows=2)
    roguing = text(_("What you pulled out"), most=2000, rows=2)
    notes = text(_("Anything else"), most=4000, rows=3)

    def growing(self) -> dict[str, Any]:
        told = {name: self.cleaned_data.get(name) for name in FACTS}
        return {name: value for name, value in told.items() if value not in (None, "")}


class QuantityFields(forms.Form):
    """How much: counted or weighed."""

    seeds = whole(_("Seeds"), help_text=_("Counted, or a good guess."), least=1)
    grams = weight(_("or grams"))

    def quantity(self) -> dict[str, Any]:
        return said(self.cleaned_data, "seeds", "grams")


class ReceivingFields(QuantityFields, Folding):
    """What the desk counts or weighs, and where it puts it."""

    thousand_seed_weight_g = weight(
        _("Weight of a thousand of these seeds, g"),
        places=4,
        help_text=_("If you weighed a counted number; else the species' figure is used."),
    )
    storage_place = forms.ModelChoiceField(
        label=_("Put it in"),
        queryset=StoragePlace.objects.all(),
        required=False,
        empty_label=_("no place yet"),
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("seeds") and data.get("grams"):
            self.add_error(
                "grams", _("Keep the count or the weight, whichever you took; empty the other.")
            )
        return data

    def received(self) -> dict[str, Any]:
        names = ("seeds", "grams", "thousand_seed_weight_g", "storage_place")
        return said(self.cleaned_data, *names)


class CardFields(forms.Form):
    """Only for a name that the catalogue does not know yet."""

    breeding_status = forms.ChoiceField(
        label=_("Breeding status, for a new card"),
        choices=BreedingStatus.choices,
        initial=BreedingStatus.OPEN_POLLINATED,
        required=False,
    )
    generation = whole(
        _("Generation, for a new card of a segregating line"),
        least=2,
        help_text=_("2 for F2, 3 for F3 …"),
    )


NEW_CARD = (_("If the catalogue does not know it yet"), ("breeding_status", "generation"))
GROWN = (_("How it was grown"), FACTS)
ORIGIN = (_("Where it comes from"), ("origin_region", "origin_story"))


def said(data: dict[str, Any], *names: str) -> dict[str, Any]:
    """Those of the named fields that were filled in."""
    return {name: data[name] for name in names if data.get(name) not in (None, "")}

"""The forms of the card file: they read, the services check."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django import forms
from django.forms.models import ModelChoiceIterator, fields_for_model
from django.utils.translation import gettext_lazy as _

from accounts.models import Member
from accounts.roles import COORDINATE
from library.catalogue.models import Crop, SeasonNote, Variety
from library.catalogue.services import COORDINATORS_FIELDS, revision_of, synonyms_of

CARD = [
    "crop",
    "name",
    "breeding_status",
    "generation",
    "days_to_maturity",
    "is_rare",
    "min_population",
    "description",
    "origin_story",
    "own_caution",
]
NOTE = ["year", "text", "readers"]


class NamesField(forms.CharField):
    """Names, one on a line."""

    widget = forms.Textarea(attrs={"rows": 3})

    def clean(self, value: str) -> list[str]:
        return [line.strip() for line in super().clean(value).splitlines() if line.strip()]


class _CropsAsShown(ModelChoiceIterator):
    def __iter__(self) -> Iterator[Any]:
        if self.field.empty_label is not None:
            yield ("", self.field.empty_label)
        crops: Any = self.queryset
        for crop in crops.in_shown_order():
            yield self.choice(crop)


class CropField(forms.ModelChoiceField):
    """A select of crops, named and in order as the reader's language has them."""

    iterator = _CropsAsShown

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("queryset", Crop.objects.select_related("species"))
        kwargs.setdefault("label", _("Crop"))
        super().__init__(**kwargs)

    def label_from_instance(self, obj: Any) -> str:
        return obj.local_name


# A plain form with the model's fields: a ModelForm would check a second time what the service
# checks, and in other words.
CardFields: Any = type("CardFields", (forms.Form,), fields_for_model(Variety, CARD))
NoteFields: Any = type("NoteFields", (forms.Form,), fields_for_model(SeasonNote, NOTE))


class VarietyForm(CardFields):
    crop = CropField()
    synonyms = NamesField(
        label=_("Other names"), help_text=_("One on a line."), required=False, max_length=4000
    )
    field_order = ["crop", "name", "synonyms", *CARD[2:]]


class VarietyEditForm(VarietyForm):
    """The card of a variety; what only a coordinator changes is shown and not open to others.

    ``revision`` travels with the form, so that two people's edits do not undo each other.
    """

    revision = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    def __init__(self, *args, variety: Variety, member: Member, **kwargs) -> None:
        card = {field: getattr(variety, field) for field in CARD}
        initial = {
            **card,
            "synonyms": "\n".join(synonyms_of(variety)),
            "revision": revision_of(variety),
        }
        super().__init__(*args, initial=initial, **kwargs)
        if not member.has_perm(COORDINATE):
            for field in COORDINATORS_FIELDS:
                self.fields[field].disabled = True


class NoteForm(NoteFields):
    pass

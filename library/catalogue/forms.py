"""The forms of the card file: they read, the services check."""

from __future__ import annotations

from typing import Any

from django import forms
from django.forms.models import fields_for_model
from django.utils.translation import gettext_lazy as _

from accounts.models import Member
from accounts.roles import COORDINATE
from library.catalogue.models import SeasonNote, Variety
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


# A plain form with the model's fields: a ModelForm would check a second time what the service
# checks, and in other words.
CardFields: Any = type("CardFields", (forms.Form,), fields_for_model(Variety, CARD))
NoteFields: Any = type("NoteFields", (forms.Form,), fields_for_model(SeasonNote, NOTE))


class VarietyForm(CardFields):
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

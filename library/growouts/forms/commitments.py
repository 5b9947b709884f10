"""The forms of offers, promises and what is reported of them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.catalogue.models import Variety
from library.growouts.models import Cause, Commitment, GardenOffer, Milestone, Season
from library.lending.forms.fields import day, text, whole
from library.lending.services.growouts import with_seed_here
from library.stock.models import Isolation

Kind = Milestone.Kind
KINDS = "image/jpeg,image/png,image/webp"  # a phone writes what it took as one of them


class AcceptForm(forms.Form):
    note = text(_("A word to the coordinator"), most=2000, rows=2)


class DeclineForm(forms.Form):
    note = text(_("Why not"), most=2000, rows=2)
    suggested = forms.ModelChoiceField(
        label=_("I would rather grow"),
        queryset=Variety.objects.none(),
        required=False,
        empty_label=_("nothing else"),
    )

    def __init__(self, *args: Any, commitment: Commitment, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = commitment.season.wanted.exclude(variety=commitment.variety_id)
        here = with_seed_here(others.values_list("variety", flat=True))
        field: Any = self.fields["suggested"]
        field.queryset = Variety.objects.filter(pk__in=here).order_by("folded_name", "pk")


class WithdrawForm(forms.Form):
    reason = text(_("Why it is called off"), most=2000, rows=2, required=True)


class FailForm(forms.Form):
    cause = forms.ChoiceField(label=_("What happened"), choices=[("", "—"), *Cause.choices])
    note = text(
        _("In your words"),
        most=2000,
        rows=3,
        help_text=_("What happened helps whoever grows it next. Nothing follows from it."),
    )


class ManyPhotosInput(forms.ClearableFileInput):
    allow_multiple_selected = True


class ManyPhotos(forms.FileField):
    """Several pictures from a phone at once."""

    def __init__(self, **kwargs: Any) -> None:
        widget = ManyPhotosInput(attrs={"accept": KINDS})
        super().__init__(widget=widget, required=False, **kwargs)

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        one: Any = super().clean
        files = data if isinstance(data, list | tuple) else [data]
        return [one(file, initial) for file in files if file]


class CameraField(forms.FileField):
    """One picture, taken now: a phone opens its camera."""

    def __init__(self, **kwargs: Any) -> None:
        attrs = {"accept": KINDS, "capture": "environment"}
        super().__init__(widget=forms.FileInput(attrs=attrs), required=False, **kwargs)


class ReportForm(forms.Form):
    """What a grower tells of a step; the number counts another thing at each."""

    on = day(_("Day"))
    counted = whole(_("How many"))
    note = text(_("Note"), most=2000, rows=3)
    off_types = whole(_("Off-types seen"), help_text=_("Plants that are not like the others."))
    neighbour = text(
        _("What grows near that could cross"), most=120, help_text=_("Whose does not matter.")
    )
    neighbour_m = whole(_("Metres to it, about"))
    photo_now = CameraField(label=_("Take a photo"), help_text=_("A phone opens its camera."))
    photos = ManyPhotos(
        label=_("Photos"),
        help_text=_("Up to four in all. Where they were taken is not kept."),
    )

    def __init__(self, *args: Any, milestone: Milestone, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        from library.growouts.commitments.words import NUMBERS

        self.fields["on"].initial = timezone.localdate
        self.fields["counted"].label = NUMBERS[Kind(milestone.kind)].capitalize()
        if milestone.kind not in (Kind.STAND, Kind.ROGUED, Kind.ISOLATED, Kind.HARVESTED):
            del self.fields["off_types"]
        if milestone.kind not in (Kind.ROGUED, Kind.ISOLATED):
            del self.fields["neighbour"]
            del self.fields["neighbour_m"]

    def told(self) -> dict[str, Any]:
        """What the service takes; the photo just taken comes before those chosen."""
        data = dict(self.cleaned_data)
        taken = data.pop("photo_now", None)
        data["photos"] = ([taken] if taken else []) + data["photos"]
        return data


class GardenOfferChoice(forms.ModelChoiceField):
    def label_from_instance(self, row: GardenOffer) -> str:
        return _("%(grower)s: %(garden)s, %(room)s m²") % {
            "grower": row.offer.member.display_name,
            "garden": row.garden.name,
            "room": row.room_m2,
        }


class AskForm(forms.Form):
    """A coordinator asks a grower for one variety, without a plan."""

    variety = forms.ModelChoiceField(
        label=_("Variety"), queryset=Variety.objects.none(), empty_label="—"
    )
    garden_offer = GardenOfferChoice(
        label=_("Garden"), queryset=GardenOffer.objects.none(), empty_label="—"
    )
    technique = forms.ChoiceField(
        label=_("Kept from crossing by"),
        choices=Isolation.choices,
        help_text=_("Distance, room, season and wishes are looked at as a plan looks at them."),
    )
    plants = whole(_("Plants"), help_text=_("Empty: as many as keep the variety."), least=1)
    despite_doubts = forms.BooleanField(
        label=_("Ask all the same, whatever stands in the way"), required=False
    )

    def __init__(self, *args: Any, season: Season, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        variety: Any = self.fields["variety"]
        wanted = Variety.objects.filter(pk__in=season.wanted.values("variety"))
        variety.queryset = wanted.order_by("folded_name", "pk")
        room: Any = self.fields["garden_offer"]
        rows = GardenOffer.objects.standing(season).select_related("offer__member", "garden")
        room.queryset = rows.order_by("offer__member__display_name", "pk")
        self.fields["technique"].initial = Isolation.DISTANCE

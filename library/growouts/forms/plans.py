"""The forms of plans and of what is decided before them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.models import Garden
from library.catalogue.models import Variety
from library.growouts.models import GardenOffer, Pin, Season
from library.lending.forms.fields import text, whole


class AskForm(forms.Form):
    seconds = whole(
        _("Seconds to work on it"),
        least=1,
        help_text=_("Empty: as long as the rules say. Longer finds more and proves more."),
    )


class OfferedGardenField(forms.ModelChoiceField):
    """A garden with whose it is."""

    def label_from_instance(self, garden: Garden) -> str:
        return f"{garden.member.display_name}: {garden.name}"


class PinForm(forms.Form):
    """A pair that the next plan is to keep, or never to make."""

    variety = forms.ModelChoiceField(label=_("Variety"), queryset=Variety.objects.none())
    garden = OfferedGardenField(label=_("Garden"), queryset=Garden.objects.none())
    kind = forms.ChoiceField(
        label=_("What is decided"),
        choices=[(Pin.Kind.KEEP, _("grown there")), (Pin.Kind.NEVER, _("never grown there"))],
        widget=forms.RadioSelect,
        initial=Pin.Kind.KEEP,
    )
    reason = text(_("Why"), most=250)

    def __init__(self, *args: Any, season: Season, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        wanted: Any = self.fields["variety"]
        wanted.queryset = Variety.objects.filter(
            pk__in=season.wanted.values("variety")
        ).order_by("folded_name", "pk")
        offered: Any = self.fields["garden"]
        offered.queryset = (
            Garden.objects.filter(pk__in=offered_gardens(season))
            .select_related("member")
            .order_by("member__display_name_key", "name", "pk")
        )


def offered_gardens(season: Season):
    """The keys of the gardens that stand offered."""
    return GardenOffer.objects.standing(season).values("garden")

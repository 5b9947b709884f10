"""Forms about what to save seed of."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.models import Garden
from library.catalogue.models import Variety
from library.growouts.forms.seasons import TickedVarieties, metres
from library.household.models import KeptApart, SavedVariety, SavingPlan
from library.household.models.saving import USUAL_CHANCE_PERCENT, USUAL_YEARS
from library.lending.forms.fields import MOST, text, whole
from library.stock.models import Lot


class RoomFields(forms.Form):
    room_m2 = metres(_("Room for seed crops, in square metres"))
    plots = whole(_("or plots: how many"))
    plot_m2 = metres(_("of so many square metres each"))
    apart_m = whole(
        _("How far apart can two of its beds be, in metres?"),
        help_text=_(
            "Beans and lettuce may stand in one garden if a few metres lie between them. "
            "Empty: everything is taken to stand side by side."
        ),
    )
    years_ahead = whole(
        _("Years to look ahead"),
        required=True,
        least=1,
        help_text=_("For the rotation of what you keep at home; 15 at most."),
    )
    chance_percent = whole(
        _("How sure must seed be, %"),
        required=True,
        least=50,
        help_text=_(
            "Seed counts as good while the chance that it sprouts as the library wants is this "
            "high. 50: more likely than not. 95 is the most."
        ),
    )


class NewPlanForm(RoomFields):
    garden = forms.ModelChoiceField(
        label=_("Garden"), queryset=Garden.objects.none(), empty_label=None
    )
    year = forms.IntegerField(
        label=_("Season"),
        min_value=1900,
        max_value=MOST,
        help_text=_("The year in which its spring falls."),
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "class": "short"}),
    )
    field_order = ["garden", "year"]

    def __init__(self, *args: Any, gardens: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["garden"]
        assert isinstance(choice, forms.ModelChoiceField)  # noqa: S101  # as declared above
        choice.queryset = gardens
        self.fields["years_ahead"].initial = USUAL_YEARS
        self.fields["chance_percent"].initial = USUAL_CHANCE_PERCENT


def plan_initial(plan: SavingPlan) -> dict[str, Any]:
    names = ("room_m2", "apart_m", "years_ahead", "chance_percent")
    return {name: getattr(plan, name) for name in names}


class FindForm(forms.Form):
    q = forms.CharField(
        label=_("Name of a variety or crop"),
        required=False,
        max_length=120,
        widget=forms.SearchInput(),
    )


class AddForm(forms.Form):
    varieties = TickedVarieties(label=_("Varieties"))

    def clean_varieties(self) -> list[Variety]:
        if not self.cleaned_data["varieties"]:
            raise forms.ValidationError(_("Tick at least one variety."))
        return self.cleaned_data["varieties"]


class ChoiceForm(forms.Form):
    technique = forms.ChoiceField(label=_("Kept from crossing by"), choices=KeptApart.choices)
    plants = whole(
        _("Plants"),
        least=1,
        help_text=_("Empty: as many as keep the variety."),
    )
    lot = forms.ModelChoiceField(
        label=_("Sown from"),
        queryset=Lot.objects.none(),
        required=False,
        empty_label=_("seed of the library"),
        help_text=_("Lots that you keep at home."),
    )
    keeps_years = whole(
        _("Years that its seed keeps with you"),
        least=1,
        help_text=_(
            "If you know better than the tables. Empty: as its species is expected to keep."
        ),
    )
    note = text(_("Note"), most=500)

    def __init__(self, *args: Any, choice: SavedVariety, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["lot"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101  # as declared above
        field.queryset = Lot.objects.kept_here().filter(
            custodian=choice.plan.garden.member, variety=choice.variety
        )


def choice_initial(choice: SavedVariety) -> dict[str, Any]:
    names = ("technique", "plants", "lot", "keeps_years", "note")
    return {name: getattr(choice, name) for name in names}

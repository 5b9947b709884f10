"""What the bench is asked. Shape only; the services hold the rules."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from library.germination.models import BenchRules
from library.germination.services import COUNTS, MOST_REPLICATES
from library.stock.service_pages import day_field

LABELS = {
    "normal": _("Normal"),
    "abnormal": _("Abnormal"),
    "hard": _("Hard"),
    "fresh": _("Fresh"),
    "dead": _("Dead"),
}


class ConditionsForm(forms.Form):
    substrate = forms.CharField(
        label=_("Substrate"),
        max_length=80,
        required=False,
        help_text=_("Such as paper, sand, or a paper towel in a bag."),
    )
    temperature_c = forms.CharField(label=_("Temperature, °C"), max_length=40, required=False)
    note = forms.CharField(
        label=_("Note"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class StartForm(ConditionsForm):
    replicates = forms.IntegerField(label=_("Dishes"))
    seeds_each = forms.IntegerField(label=_("Seeds in each"))
    on = day_field(_("Started on"))
    field_order = ["replicates", "seeds_each", "on"]


class RecordForm(ConditionsForm):
    started_on = day_field(_("Started on"))
    closed_on = day_field(_("Counted on"))
    field_order = ["started_on", "closed_on"]


class CloseForm(forms.Form):
    on = day_field(_("Counted on"))


class VoidForm(forms.Form):
    reason = forms.CharField(label=_("Why"), max_length=250)


class DishForm(forms.Form):
    """One dish: what was counted in it. A dish whose seeds are known does not ask for them."""

    seeds = forms.IntegerField(label=_("Sown"))
    use_required_attribute = False

    def __init__(self, *args: Any, asks_seeds: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not asks_seeds:
            del self.fields["seeds"]
        for name in COUNTS:
            self.fields[name] = forms.IntegerField(
                label=LABELS[name], required=name == "normal"
            )
        for field in self.fields.values():
            field.widget.attrs["inputmode"] = "numeric"
            field.widget.attrs["class"] = "short"

    def counts(self) -> dict[str, int]:
        return {name: n for name, n in self.cleaned_data.items() if n is not None}


class DishFormSet(forms.BaseFormSet):
    """One to eight dishes."""

    def counts(self) -> list[dict[str, int]]:
        return [form.counts() for form in self.forms]


def dishes(*, how_many: int, asks_seeds: bool, data: Any = None, seeds: int | None = None):
    """The dishes' forms: as many as asked, or, when posted, as many as were shown."""
    kind = forms.formset_factory(
        DishForm,
        formset=DishFormSet,
        extra=how_many,
        max_num=MOST_REPLICATES,
        absolute_max=MOST_REPLICATES,
        validate_max=True,
    )
    initial_each = {"seeds": seeds} if asks_seeds and seeds else {}
    formset = kind(data, prefix="dish", form_kwargs={"asks_seeds": asks_seeds})
    for form in formset.forms:
        form.empty_permitted = False  # a dish left empty is a mistake, not a dish less
        form.initial = initial_each
    return formset


class BenchRulesForm(forms.ModelForm):
    class Meta:
        model = BenchRules
        fields = ["standard_percent", "first_test_within_days", "hold_until_tested"]

    def _post_clean(self) -> None:
        """Leave the instance alone: the service changes and checks it."""

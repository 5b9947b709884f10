"""What the bench is asked. Shape only; the services hold the rules."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from library.germination.models import BenchRules, PlannedSowing, ShelfDecision
from library.germination.services import COUNTS, MOST_REPLICATES
from library.stock.service_pages import day_field

LABELS = {
    "normal": _("Normal"),
    "abnormal": _("Abnormal"),
    "hard": _("Hard"),
    "fresh": _("Fresh"),
    "dead": _("Dead"),
}
BY_DAY = ("normal", "abnormal", "dead")


def reason_field(**kwargs: Any) -> forms.CharField:
    return forms.CharField(label=_("Why"), max_length=250, **kwargs)


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


class FewSeedsForm(ConditionsForm):
    """When and how; how many seeds the plan says."""

    on = day_field(_("Laid out on"))
    directions = forms.CharField(
        label=_("Special handling"),
        max_length=400,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    field_order = ["replicates", "seeds_each", "on", "substrate", "temperature_c", "directions"]

    def explain(self, helps: Mapping[str, Any]) -> None:
        """Say below each field where what stands in it is from."""
        for name, words in helps.items():
            self.fields[name].help_text = words


# While the size is typed, what it would cost follows.
ASKS_COST = {
    "hx-get": ".",
    "hx-trigger": "input changed delay:300ms",
    "hx-include": "#id_replicates, #id_seeds_each",
    "hx-target": "#cost",
    "hx-sync": "#cost:replace",
}


class StartForm(FewSeedsForm):
    replicates = forms.IntegerField(
        label=_("Dishes"), widget=forms.NumberInput(attrs=ASKS_COST)
    )
    seeds_each = forms.IntegerField(
        label=_("Seeds in each"), widget=forms.NumberInput(attrs=ASKS_COST)
    )


class RecordForm(ConditionsForm):
    started_on = day_field(_("Started on"))
    closed_on = day_field(_("Counted on"))
    field_order = ["started_on", "closed_on"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # What is published is no record of what was done, so nothing is filled in.
        self.fields["temperature_c"].help_text = _("As it was; empty if nobody noted it.")


class PlanManyForm(forms.Form):
    on = day_field(_("Laid out on"))


class BeginForm(forms.Form):
    on = day_field(_("Laid out on"))


class SowMoreForm(forms.Form):
    on = day_field(_("Sown on"))


class CloseForm(forms.Form):
    on = day_field(_("Counted on"))


class FinishForm(forms.Form):
    on = day_field(_("Counted on"))
    hard = forms.IntegerField(label=_("Hard"), initial=0, help_text=_("Never took up water."))
    fresh = forms.IntegerField(
        label=_("Fresh"), initial=0, help_text=_("Took up water and is sound, but sleeps.")
    )
    dead = forms.IntegerField(
        label=_("Dead"), required=False, help_text=_("Left empty: the rest.")
    )


class VoidForm(forms.Form):
    reason = reason_field()


class AmendForm(forms.Form):
    reason = reason_field()
    started_on = day_field(_("Started on"))
    closed_on = day_field(_("Counted on"))


class SowingForm(forms.Form):
    on = day_field(_("To be sown on"))
    what_for = forms.CharField(
        label=_("For"),
        max_length=PlannedSowing._meta.get_field("what_for").max_length,
        help_text=_("Such as: the grow-out at the mill, or spring packets."),
    )


class DropForm(forms.Form):
    """Nothing to fill in; sending it is the answer."""


class ShelfForm(forms.Form):
    decision = forms.ChoiceField(
        label=_("The lot"), choices=ShelfDecision.Decision, widget=forms.RadioSelect
    )
    reason = reason_field()


class DayForm(forms.Form):
    """What was taken out of one dish on one day."""

    on = forms.DateField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in BY_DAY:
            field = forms.IntegerField(label=LABELS[name], required=False)
            field.widget.attrs |= {"inputmode": "numeric", "min": 0, "autocomplete": "off"}
            self.fields[name] = field

    def counts(self) -> dict[str, int]:
        """A field left empty is none."""
        return {name: self.cleaned_data[name] or 0 for name in BY_DAY}


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
    """The dishes of one test."""

    def counts(self) -> list[dict[str, int]]:
        return [form.counts() for form in self.forms]


def dishes(
    *, asks_seeds: bool, initial: Sequence[Mapping[str, Any]], data: Any = None
) -> DishFormSet:
    """The dishes' forms: one for each ``initial``, or, when posted, as many as were shown."""
    most = max(MOST_REPLICATES, len(initial))  # groups of few seeds may be more
    kind = forms.formset_factory(
        DishForm,
        formset=DishFormSet,
        extra=len(initial),
        max_num=most,
        absolute_max=most,
        validate_max=True,
    )
    formset: Any = kind(data, prefix="dish", form_kwargs={"asks_seeds": asks_seeds})
    for number, form in enumerate(formset.forms):
        form.empty_permitted = False  # a dish left empty is a mistake, not a dish less
        form.initial = dict(initial[number]) if number < len(initial) else {}
    return formset


RULES = {
    "standard_percent": _(
        "What the library wants of its own seed. A lot's chance is that of being above it."
    ),
    "first_test_within_days": _("Counted from the day the lot was received; at most a year."),
    "hold_until_tested": _("It goes to the lending shelf when its first test is closed."),
    "chance_percent": _(
        "A lot is tested again on the day its chance of being above the standard falls to "
        "this. A higher one tests more often and lends fewer poor lots."
    ),
    "test_share_percent": _(
        "A test with few seeds never spends more of what is left, all its groups together; "
        "other tests warn when they do."
    ),
    "width_points": _(
        "A test with few seeds tells lots this far apart from one another: half above the "
        "standard, half below. A smaller distance costs more seeds."
    ),
    "risk_good_percent": _(
        "Of a hundred good lots so many are called poor in error. A smaller risk costs more "
        "seeds."
    ),
    "risk_poor_percent": _(
        "Of a hundred poor lots so many are called good in error. A smaller risk costs more "
        "seeds."
    ),
    "group_seeds": _("A test with few seeds sows this many, counts them, and then decides."),
}


class BenchRulesForm(forms.ModelForm):
    class Meta:
        model = BenchRules
        fields = list(RULES)
        help_texts = RULES

    def _post_clean(self) -> None:
        """Leave the instance alone: the service changes and checks it."""

"""What the desk is asked before the stock changes. Shape only; the services hold the rules."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.models import Member
from library.stock.models import Lot, StoragePlace
from library.stock.places import PlaceTree
from library.stock.service_pages import day_field


class PlaceField(forms.TypedChoiceField):
    """A storage place, chosen by its path."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", _("Storage place"))
        kwargs.setdefault("empty_value", None)
        super().__init__(
            choices=self._places,
            coerce=lambda pk: StoragePlace.objects.get(pk=pk),
            required=False,
            **kwargs,
        )

    @staticmethod
    def _places() -> list[tuple[Any, Any]]:
        return [("", _("not said")), *PlaceTree().choices()]


class PackForm(forms.Form):
    packets = forms.IntegerField(label=_("How many packets"))
    seeds_each = forms.IntegerField(label=_("Counted into each"))
    storage_place = PlaceField()
    on = day_field()


class ReasonForm(forms.Form):
    reason = forms.CharField(label=_("Why"), max_length=250)


class ReasonOnDayForm(ReasonForm):
    on = day_field()


class RemoveForm(ReasonOnDayForm):
    """Some of the jar, by count or by weight."""

    seeds = forms.IntegerField(label=_("How many from the jar"), required=False)
    grams = forms.DecimalField(label=_("or their weight in grams"), required=False)
    field_order = ["seeds", "grams", "reason", "on"]

    def clean(self) -> dict[str, Any]:
        asked = super().clean() or self.cleaned_data
        check_one_of(self, asked, "seeds", "grams")
        return asked


def check_one_of(form: forms.Form, asked: dict[str, Any], count: str, weight: str) -> None:
    """Exactly one of a count and a weight, unless one of them is wrong already."""
    if count in form.errors or weight in form.errors:
        return
    if (asked.get(count) is None) == (asked.get(weight) is None):
        form.add_error(count, _("Give either the count or the weight."))


class CountForm(ReasonOnDayForm):
    loose = forms.IntegerField(label=_("In the jar now"), required=False)
    grams = forms.DecimalField(label=_("or their weight in grams"), required=False)
    field_order = ["loose", "grams", "reason", "on"]

    def clean(self) -> dict[str, Any]:
        asked = super().clean() or self.cleaned_data
        check_one_of(self, asked, "loose", "grams")
        return asked


class MoveForm(forms.Form):
    storage_place = PlaceField(label=_("Put it into"))
    with_packets = forms.BooleanField(
        label=_("and its packets on the shelf too"), required=False, initial=True
    )
    on = day_field()


class PacketMoveForm(forms.Form):
    storage_place = PlaceField(label=_("Put it into"))


class CustodianForm(forms.Form):
    custodian = forms.ModelChoiceField(
        label=_("Who keeps it"),
        queryset=Member.objects.none(),
        required=False,
        empty_label=_("the library"),
    )
    on = day_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        approved = Member.objects.filter(membership="approved", is_active=True)
        keeper: Any = self.fields["custodian"]
        keeper.queryset = approved.order_by("display_name")


class AmendForm(forms.Form):
    value = forms.CharField(
        label=_("What is right"), required=False, help_text=_("Empty: not known.")
    )
    reason = forms.CharField(
        label=_("Why"), widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )

    def __init__(self, *args: Any, model_field: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["value"].label = str(model_field.verbose_name).capitalize()
        if model_field.choices:
            self.fields["value"].widget = forms.Select(choices=model_field.choices)
        elif model_field.get_internal_type() == "TextField":
            self.fields["value"].widget = forms.Textarea(attrs={"rows": 6})


class BulkForm(forms.Form):
    """One number for each lot of the variety that has seed in its jar."""

    storage_place = PlaceField()
    on = day_field()

    def __init__(self, *args: Any, lots: list[Lot], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lots = lots
        for lot in lots:
            self.fields[self._name(lot)] = forms.IntegerField(
                label=_("From lot %(lot)s") % {"lot": lot.number},
                help_text=_("Harvest %(year)s; %(loose)s in the jar.")
                % {"year": lot.harvest_year or _("not known"), "loose": lot.loose},
                required=False,
            )
        self.order_fields([self._name(lot) for lot in lots])

    def clean(self) -> dict[str, Any]:
        asked = super().clean() or self.cleaned_data
        parts = [(lot, asked.get(self._name(lot))) for lot in self.lots]
        asked["lots"] = [(lot, seeds) for lot, seeds in parts if seeds is not None]
        return asked

    @staticmethod
    def _name(lot: Lot) -> str:
        return f"from_{lot.pk}"


class StoragePlaceForm(forms.ModelForm):
    inside = PlaceField(label=_("Inside"))

    class Meta:
        model = StoragePlace
        fields = ["name", "kind", "inside", "temperature_c", "humidity_percent", "note"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}

    def _post_clean(self) -> None:
        """Leave the instance alone: the service changes and checks it."""


class StartStockTakeForm(forms.Form):
    storage_place = PlaceField(label=_("What to count"))
    note = forms.CharField(label=_("Note"), required=False, max_length=2000)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        places = PlaceTree().choices()
        place: Any = self.fields["storage_place"]
        place.choices = [("", _("everything")), *places]


class ScanForm(forms.Form):
    code = forms.CharField(
        label=_("Code"),
        max_length=40,
        widget=forms.TextInput(
            attrs={
                "autofocus": True,
                "autocomplete": "off",
                "autocapitalize": "characters",
                "spellcheck": "false",
                "class": "code-entry",
                "enterkeyhint": "search",
            }
        ),
    )

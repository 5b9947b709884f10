"""Forms about seed brought back."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.models import Member
from library.catalogue.models import BreedingStatus, Variety
from library.lending.forms.fields import (
    GrowingFields,
    QuantityFields,
    ReceivingFields,
    said,
    text,
    whole,
)
from library.lending.forms.loans import GardenChoice
from library.lending.models import Loan
from library.lending.services import NewCard, segregating_lines
from library.stock.service_pages import number_asked


class LoanChoice(forms.ModelMultipleChoiceField):
    widget = forms.CheckboxSelectMultiple

    def clean(self, value):
        """Says so of what no row can be numbered; the database would break at it."""
        for key in value if isinstance(value, list) else []:
            if number_asked(str(key)) is None:
                told = {"value": str(key)[:20]}
                message = self.error_messages["invalid_choice"]
                raise forms.ValidationError(message, code="invalid_choice", params=told)
        return super().clean(value)

    def label_from_instance(self, loan: Loan) -> str:
        packet = loan.packet
        return _("%(code)s, %(seeds)s %(unit)s of lot %(lot)s") % {
            "unit": packet.lot.unit,
            "code": packet.code,
            "seeds": packet.seeds,
            "lot": packet.lot.number,
        }


class AnsweredLoans(GrowingFields):
    """Which loans it answers, when it was harvested, and how it was grown."""

    loans = LoanChoice(queryset=Loan.objects.none(), label=_("Grown from"))
    harvest_year = whole(_("Harvest year"), required=True, least=1000)
    more_to_come = forms.BooleanField(
        label=_("More seed of this is to come, so the loan stays open"), required=False
    )

    def __init__(self, *args, loans, dioecious: bool = False, **options) -> None:
        super().__init__(*args, **options)
        choice: Any = self.fields["loans"]
        choice.queryset = loans
        if not dioecious:
            del self.fields["pollen_plants"]

    def told(self) -> dict[str, Any]:
        data = self.cleaned_data
        names = ("harvest_year", "more_to_come", "garden")
        return {"loans": list(data["loans"]), "growing": self.growing(), **said(data, *names)}


class AnnounceForm(AnsweredLoans, QuantityFields):
    """A member announces what they will bring."""

    field_order = ["loans", "seeds", "grams", "harvest_year", "garden", "plants_gave_seed"]

    def __init__(self, *args, member: Member, **options) -> None:
        super().__init__(*args, **options)
        self.fields["garden"] = GardenChoice(
            member, label=_("Grown in"), empty_label=_("the garden it was borrowed for")
        )
        self.order_fields(self.field_order)


class LineFields(forms.Form):
    """Under which line seed is kept that does not breed true."""

    def __init__(self, *args, lent: Variety, **options) -> None:
        super().__init__(*args, **options)
        self.lent = lent
        if lent.breeds_true:
            return
        hybrid = lent.breeding_status == BreedingStatus.F1
        self.fields["variety"] = forms.ModelChoiceField(
            label=_("Keep it under the line"),
            queryset=segregating_lines(lent),
            required=False,
            empty_label=_("a new line, named below") if hybrid else lent.name,
        )
        self.fields["new_line"] = text(_("or a new line called"), most=120)
        self.fields["new_generation"] = whole(
            _("Generation of the new line"), least=2, help_text=_("Seed of an F1 is an F2: 2.")
        )
        if hybrid:
            self.fields["new_generation"].initial = 2
        self.order_fields(self.field_order)

    def line(self) -> dict[str, Any]:
        data = self.cleaned_data
        if data.get("variety"):
            return {"variety": data["variety"]}
        if not data.get("new_line"):
            return {}
        card = NewCard(
            crop=self.lent.crop,
            name=data["new_line"],
            breeding_status=BreedingStatus.SEGREGATING,
            generation=data["new_generation"],
        )
        return {"new_card": card}


class ReceiveReturnForm(LineFields, ReceivingFields):
    """The desk counts or weighs what was announced."""

    def received(self) -> dict[str, Any]:
        return {**super().received(), **self.line()}


class DeskReturnForm(LineFields, AnsweredLoans, ReceivingFields):
    """Seed that comes back over the desk without being announced."""

    field_order = [
        "loans",
        "seeds",
        "grams",
        "harvest_year",
        "variety",
        "new_line",
        "new_generation",
        "plants_gave_seed",
    ]

    def received(self) -> dict[str, Any]:
        return {**super().received(), **self.line()}

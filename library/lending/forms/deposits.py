"""Forms about seed brought in."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from library.catalogue.forms import CropField
from library.lending.forms.fields import (
    GROWN,
    NEW_CARD,
    ORIGIN,
    CardFields,
    Folding,
    GrowingFields,
    QuantityFields,
    ReceivingFields,
    said,
    text,
    whole,
)
from library.lending.services import NewCard, Packing, known_as


class NameFields(forms.Form):
    """A crop and a name, known to the catalogue or new."""

    crop = CropField(empty_label=_("choose one"))
    name = forms.CharField(
        label=_("Name of the variety"),
        max_length=120,
        help_text=_("As you know it. If the catalogue has no such name it is added."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "list": "names"}),
    )

    def known(self):
        return known_as(self.cleaned_data["name"], self.cleaned_data["crop"])

    def what(self) -> dict[str, Any]:
        variety = self.known()
        if variety is not None:
            return {"variety": variety}
        data = self.cleaned_data
        return {"crop": data["crop"], "new_variety_name": data["name"]}


class OriginFields(forms.Form):
    harvest_year = whole(
        _("Harvest year"), help_text=_("Leave it empty if nobody knows."), least=1000
    )
    origin_region = text(
        _("Where it comes from"),
        most=120,
        help_text=_("As coarsely as you like: a valley, a country."),
    )
    origin_story = text(_("What is told of it"), most=8000, rows=4)

    def origin(self) -> dict[str, Any]:
        return said(self.cleaned_data, "harvest_year", "origin_region", "origin_story")


class DepositForm(NameFields, QuantityFields, OriginFields, GrowingFields, Folding):
    """A member offers seed."""

    folds: ClassVar = [GROWN]

    may_be_named = forms.BooleanField(
        label=_("The lot's page may name me as the giver"),
        required=False,
        help_text=_("By the name that you show to others."),
    )
    notice_read = forms.BooleanField(
        label=_("I have read the notice above, and this seed may be shared"),
        error_messages={"required": _("Please read the notice above and tick this box.")},
    )
    field_order = [
        "crop",
        "name",
        "seeds",
        "grams",
        "harvest_year",
        "origin_region",
        "origin_story",
    ]

    def proposal(self) -> dict[str, Any]:
        return {
            **self.what(),
            **self.quantity(),
            **self.origin(),
            "growing": self.growing(),
            "may_be_named": self.cleaned_data["may_be_named"],
        }


class PackingFields(forms.Form):
    packets = whole(_("Fill packets now: how many"), least=1)
    seeds_each = whole(_("with so many seeds in each"), least=1)

    def packing(self) -> dict[str, Any]:
        packets = self.cleaned_data.get("packets")
        each = self.cleaned_data.get("seeds_each")
        return {} if packets is None and each is None else {"packing": Packing(packets, each)}


class ReceiveDepositForm(NameFields, ReceivingFields, PackingFields, CardFields):
    """The desk receives what was offered."""

    folds: ClassVar = [NEW_CARD]

    harvest_year = whole(_("Harvest year"), least=1000)
    field_order = ["crop", "name", "seeds", "grams", "thousand_seed_weight_g"]

    def card(self) -> dict[str, Any]:
        variety = self.known()
        if variety is not None:
            return {"variety": variety}
        data = self.cleaned_data
        new = NewCard(
            crop=data["crop"],
            name=data["name"],
            breeding_status=data["breeding_status"] or "open-pollinated",
            generation=data["generation"],
        )
        return {"new_card": new}

    def received(self) -> dict[str, Any]:
        year = said(self.cleaned_data, "harvest_year")
        return {**super().received(), **year, **self.card(), **self.packing()}


class DeskDepositForm(ReceiveDepositForm, OriginFields, GrowingFields):
    """Seed that comes over the desk without being offered first."""

    folds: ClassVar = [NEW_CARD, ORIGIN, GROWN]

    depositor = text(
        _("Brought by the member"),
        most=60,
        help_text=_("The name they show to others; empty for somebody who is no member."),
    )
    may_be_named = forms.BooleanField(
        label=_("They agreed that the lot's page names them"), required=False
    )
    source_name = text(
        _("or by somebody else, called"),
        most=120,
        help_text=_("Only if they agreed to be named."),
    )
    field_order = [
        "depositor",
        "may_be_named",
        "source_name",
        *ReceiveDepositForm.field_order,
        "packets",
        "seeds_each",
        "storage_place",
        "harvest_year",
        "breeding_status",
        "generation",
    ]

    def brought(self) -> dict[str, Any]:
        words = {**self.origin(), **self.received()}
        return {
            **words,
            **said(self.cleaned_data, "source_name", "may_be_named"),
            "growing": self.growing(),
        }


class DeclineForm(forms.Form):
    reason = text(
        _("Why it cannot be taken in"),
        most=2000,
        rows=3,
        required=True,
        help_text=_("The depositor gets this by mail: write it as you would say it."),
    )

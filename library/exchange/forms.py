"""Forms about a chain that another library sent."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from library.lending.forms.deposits import PackingFields
from library.lending.forms.fields import ReceivingFields, said, text


class ChainFileForm(forms.Form):
    file = forms.FileField(
        label=_("The chain's file"),
        help_text=_("PROV-JSON, as the other library wrote it; at most 5 MB and 5,000 lots."),
        widget=forms.ClearableFileInput(attrs={"accept": ".json,application/json"}),
    )


class ReceiveChainForm(ReceivingFields, PackingFields):
    """How much seed came with the chain, who brought it, and where it is put."""

    folds: ClassVar = []

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
        "seeds",
        "grams",
        "thousand_seed_weight_g",
        "packets",
        "seeds_each",
        "storage_place",
        "depositor",
        "may_be_named",
        "source_name",
    ]

    def received(self) -> dict[str, Any]:
        named = said(self.cleaned_data, "source_name", "may_be_named")
        return {**super().received(), **self.packing(), **named}

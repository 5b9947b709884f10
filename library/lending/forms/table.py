"""The form of the swap table, as it works without a script."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from library.lending.forms.fields import SometimesNeeded

LEND, BACK, SEED = "lend", "back", "seed"


class TableForm(forms.Form):
    """What is done, for whom, and with which packet."""

    do = forms.ChoiceField(
        label=_("What happens?"),
        choices=[
            (LEND, _("Lend")),
            (BACK, _("Packet back unopened")),
            (SEED, _("Seed comes back")),
        ],
        initial=LEND,
        widget=forms.RadioSelect,
    )
    who = SometimesNeeded(
        label=_("Who borrows?"),
        needed_when=_("needed to lend"),
        max_length=60,
        help_text=_("The name they show to others."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )
    code = forms.CharField(
        label=_("Packet"),
        max_length=200,
        help_text=_("Scan it, or type the code from the label."),
        widget=forms.TextInput(
            attrs={
                "autocomplete": "off",
                "autocapitalize": "characters",
                "spellcheck": "false",
                "class": "code-entry",
            }
        ),
    )

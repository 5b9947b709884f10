"""What is asked of off-types. Shape only; the services hold the rules."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from library.provenance.services import MOST_PLANTS, MOST_WORDS
from library.stock.service_pages import day_field


class OffTypesForm(forms.Form):
    seen_on = day_field(_("Seen on"))
    what = forms.CharField(
        label=_("What was seen"),
        max_length=MOST_WORDS,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_(
            "How the plants differ, such as “two had red stems”. Everybody who sees the lot "
            "reads this: name no person and no garden."
        ),
    )
    plants_seen = forms.IntegerField(
        label=_("Off-type plants"), min_value=1, max_value=MOST_PLANTS, required=False
    )
    plants_looked_at = forms.IntegerField(
        label=_("Plants looked at"),
        min_value=1,
        max_value=MOST_PLANTS,
        required=False,
        help_text=_("True and off-type together. Leave both empty if nobody counted."),
    )


class WhyForm(forms.Form):
    reason = forms.CharField(
        label=_("Why"),
        max_length=MOST_WORDS,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Such as who looked at how many plants. It is kept with the report."),
    )

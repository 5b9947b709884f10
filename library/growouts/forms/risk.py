"""What is asked about risk. Shape only; the services hold the rules."""

from __future__ import annotations

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.growouts.models import Elsewhere, GrowOutRules
from library.lending.forms.fields import day, text


class ElsewhereForm(forms.Form):
    ease = forms.ChoiceField(
        label=_("Can it still be had outside the library?"),
        choices=Elsewhere.Ease.choices,
        widget=forms.RadioSelect,
    )
    known_on = day(_("As of"), help_text=_("The day on which you looked, or were told."))
    note = text(
        _("How do you know?"),
        most=500,
        help_text=_("Who would have it, where you asked. Members read this: name no address."),
        rows=3,
    )

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["known_on"].initial = timezone.localdate


class GrowOutRulesForm(forms.ModelForm):
    class Meta:
        model = GrowOutRules
        fields = [
            "horizon_years",
            "yearly_hazard_percent",
            "usual_success_percent",
            "apart_m",
            "answer_within_days",
            "plan_seconds",
        ]

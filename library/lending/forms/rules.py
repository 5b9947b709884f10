"""The form of the lending rules."""

from __future__ import annotations

from django import forms

from library.lending.models import LendingRules


class RulesForm(forms.ModelForm):
    class Meta:
        model = LendingRules
        fields = [
            "max_open_loans",
            "max_packets_of_variety",
            "grace_days",
            "reserve_sowings",
            "expected_losses_percent",
            "exchange_notice",
        ]
        widgets = {"exchange_notice": forms.Textarea(attrs={"rows": 10})}

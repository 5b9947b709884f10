"""Forms about people."""

from __future__ import annotations

from allauth.account.forms import SignupForm
from django import forms
from django.utils.translation import gettext_lazy as _


class ApplyForm(SignupForm):
    """Asking to become a member."""

    display_name = forms.CharField(label=_("Name shown to others"), max_length=60)
    introduction = forms.CharField(
        label=_("A word to the coordinator"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

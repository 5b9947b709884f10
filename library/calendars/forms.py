"""What a member chooses of the calendar."""

from __future__ import annotations

from django import forms

from accounts.forms import Refusable
from accounts.models import Member
from accounts.roles import SERVE_DESK
from library.calendars.models import Feed


class ChoicesForm(Refusable, forms.ModelForm):
    class Meta:
        model = Feed
        fields = ["style", "with_role"]
        widgets = {"style": forms.RadioSelect}

    def __init__(self, *args, member: Member, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        if not member.has_perm(SERVE_DESK):
            del self.fields["with_role"]

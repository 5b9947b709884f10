"""The forms of the first day: those of the settings, each with a sensible default."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.forms import CommunityForm, InviteForm
from accounts.roles import Role
from library.lending.forms.rules import RulesForm
from library.stock.forms import StoragePlaceForm


class FirstCommunityForm(CommunityForm):
    """Without the welcome, which is better written when there is something to welcome to."""

    class Meta(CommunityForm.Meta):
        fields = [name for name in CommunityForm.Meta.fields if name != "welcome"]


class FirstRulesForm(RulesForm):
    class Meta(RulesForm.Meta):
        fields = ["max_open_loans", "max_packets_of_variety", "grace_days", "exchange_notice"]
        widgets = {"exchange_notice": forms.Textarea(attrs={"rows": 6})}


class FirstPlaceForm(StoragePlaceForm):
    class Meta(StoragePlaceForm.Meta):
        pass

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["inside"]


class FirstInviteForm(InviteForm):
    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["role"].initial = Role.COORDINATOR


class MailTestForm(forms.Form):
    """Nothing to fill in: the mail goes to oneself."""

    heading = _("Send a test mail")

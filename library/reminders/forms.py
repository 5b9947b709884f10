"""The form of how one wants to be reminded, and the filter of the coordinator's list."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.models import Member
from library.reminders.due import kinds, may_mute
from library.reminders.models import Wishes

HOURS = [("", "—"), *((str(hour), f"{hour:02d}:00") for hour in range(24))]


def hour(label: Any) -> forms.TypedChoiceField:
    return forms.TypedChoiceField(
        label=label, choices=HOURS, required=False, coerce=int, empty_value=None
    )


class WishesForm(forms.Form):
    rhythm = forms.ChoiceField(
        label=_("How often"), choices=Wishes.Rhythm.choices, widget=forms.RadioSelect
    )
    quiet_from = hour(_("No mail from"))
    quiet_until = hour(_("Until"))
    muted = forms.MultipleChoiceField(
        label=_("No mail about"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_(
            "Everything stays on the page of what is due. What you promised (seed to give "
            "back, steps of a grow-out) is always said."
        ),
    )

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        free = [(kind.name, kind.label) for kind in kinds().values() if may_mute(member, kind)]
        field: Any = self.fields["muted"]
        field.choices = free


class StateForm(forms.Form):
    state = forms.ChoiceField(
        label=_("Show"),
        required=False,
        choices=[
            ("", _("all")),
            ("planned", _("planned")),
            ("waiting", _("on their way")),
            ("sent", _("sent")),
            ("failed", _("failed")),
            ("withdrawn", _("not wanted any more")),
        ],
    )

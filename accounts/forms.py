"""Forms about people. They check shapes; the services decide."""

from __future__ import annotations

import zoneinfo
from typing import cast

from allauth.account.forms import SignupForm
from allauth.core import context
from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from accounts import names, services
from accounts.adapter import held_invitation, let_invitation_go
from accounts.models import Community, Garden, Member, Membership
from accounts.roles import Role
from library.errors import Refused


def zones() -> list[tuple[str, str]]:
    return [(zone, zone.replace("_", " ")) for zone in sorted(zoneinfo.available_timezones())]


def offer(form: forms.BaseForm, field: str, choices: list) -> None:
    """Set the choices of a choice field."""
    cast(forms.ChoiceField, form.fields[field]).choices = choices


class Refusable(forms.BaseForm):
    """A form on which a service's refusal can be shown, at its field if it has one."""

    def refuse(self, error: Refused) -> None:
        self.add_error(error.field if error.field in self.fields else None, str(error))


class ApplyForm(Refusable, SignupForm):
    """Asking to become a member; or, with an invitation, becoming one."""

    field_order = ["display_name", "email", "password1", "password2", "introduction"]
    display_name = forms.CharField(
        label=_("Name shown to others"),
        max_length=60,
        validators=[names.display_name],
        help_text=_("Any name you like. Members see this and never your email or address."),
    )
    introduction = forms.CharField(
        label=_("A word to the coordinator"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.invitation = held_invitation(context.request) if context.request else None
        if self.invitation:
            # Disabled: what is posted is ignored, the invited address stands.
            self.fields["email"].disabled = True
            self.fields["email"].initial = self.initial["email"] = self.invitation.email
            del self.fields["introduction"]

    def clean_display_name(self) -> str:
        name = names.tidy(self.cleaned_data["display_name"])
        if Member.objects.filter(display_name_key=names.name_key(name)).exists():
            raise forms.ValidationError(
                _("Somebody here is already shown as “%(name)s”. Choose another name."),
                params={"name": name},
            )
        return name

    def save(self, request) -> Member:
        data = self.cleaned_data
        if self.invitation is None:
            return services.apply(
                email=data["email"],
                password=data["password1"],
                display_name=data["display_name"],
                introduction=data["introduction"],
            )
        member = services.accept_invitation(
            key=self.invitation.key,
            password=data["password1"],
            display_name=data["display_name"],
        )
        let_invitation_go(request)
        return member


class PreferencesForm(Refusable, forms.ModelForm):
    time_zone = forms.ChoiceField(label=_("Time zone"), required=False)
    language = forms.ChoiceField(label=_("Language"), required=False)

    class Meta:
        model = Member
        fields = ["display_name", "time_zone", "language", "wants_reminders", "wants_news"]

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        as_library = _("As the library: %(zone)s") % {"zone": Community.current().time_zone}
        offer(self, "time_zone", [("", as_library), *zones()])
        offer(self, "language", [("", _("As my browser asks")), *settings.LANGUAGES])


class GardenForm(Refusable, forms.ModelForm):
    class Meta:
        model = Garden
        fields = [
            "name",
            "placed",
            "latitude",
            "longitude",
            "last_spring_frost",
            "first_autumn_frost",
            "never_freezes",
            "area_m2",
            "is_default",
        ]
        widgets = {
            "placed": forms.RadioSelect,
            "last_spring_frost": forms.TextInput(attrs={"class": "short"}),
            "first_autumn_frost": forms.TextInput(attrs={"class": "short"}),
        }
        help_texts = {
            "placed": _(
                "On the grid the place is rounded to a tenth of a degree before it is kept. "
                "Either way only you and the coordinators ever see it."
            ),
            "latitude": _("In degrees, south is negative, as 54.46. May be left empty."),
            "longitude": _("In degrees, west is negative, as -3.02. May be left empty."),
        }

    def _post_clean(self) -> None:
        """The service checks the whole garden, and writes to a fresh row, not to ours."""


class TokenForm(Refusable, forms.Form):
    name = forms.CharField(
        label=_("What it is for"), max_length=80, help_text=_("As “harvest spreadsheet”.")
    )


class LeaveForm(Refusable, forms.Form):
    keep_name = forms.BooleanField(
        label=_("Keep my name on what I lent, returned and wrote"), required=False
    )
    sure = forms.BooleanField(
        label=_("I want to leave. I know that this cannot be undone."),
        error_messages={"required": _("Tick the box to say that you are sure.")},
    )


class InviteForm(Refusable, forms.Form):
    email = forms.EmailField(label=_("Email"))
    role = forms.ChoiceField(label=_("Role"), choices=Role.choices, initial=Role.MEMBER)

    def __init__(self, *args, roles: list[str] | None = None, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        if roles is not None:
            offer(self, "role", [choice for choice in Role.choices if choice[0] in roles])


class AnswerForm(Refusable, forms.Form):
    note = forms.CharField(
        label=_("A word to the applicant"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class RoleForm(Refusable, forms.Form):
    role = forms.ChoiceField(label=_("Role"), choices=Role.choices)
    note = forms.CharField(label=_("Why"), max_length=2000, required=False)


class EndForm(Refusable, forms.Form):
    note = forms.CharField(label=_("Why"), max_length=2000, required=False)
    keep_name = forms.BooleanField(label=_("Keep the name on past work"), required=False)
    sure = forms.BooleanField(
        label=_("End this membership. This cannot be undone."),
        error_messages={"required": _("Tick the box to say that you are sure.")},
    )


class MemberSearch(forms.Form):
    q = forms.CharField(label=_("Name or email"), max_length=100, required=False)
    role = forms.ChoiceField(
        label=_("Role"), choices=[("", _("Any role")), *Role.choices], required=False
    )
    membership = forms.ChoiceField(
        label=_("Membership"),
        choices=[("", _("Members today")), *Membership.choices],
        required=False,
    )


class CommunityForm(Refusable, forms.ModelForm):
    time_zone = forms.ChoiceField(label=_("Time zone"), choices=zones)
    language = forms.ChoiceField(label=_("Language"), choices=settings.LANGUAGES)

    class Meta:
        model = Community
        fields = [
            "name",
            "place",
            "welcome",
            "time_zone",
            "language",
            "last_spring_frost",
            "first_autumn_frost",
            "never_freezes",
            "open_to_applications",
            "catalogue_is_public",
        ]
        widgets = {
            "last_spring_frost": forms.TextInput(attrs={"class": "short"}),
            "first_autumn_frost": forms.TextInput(attrs={"class": "short"}),
        }

    def _post_clean(self) -> None:
        """The service checks the whole row, and writes to a fresh one, not to ours."""

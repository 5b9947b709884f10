"""Forms about loans."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.models import Garden, Member
from library.lending.forms.fields import SometimesNeeded, day, text
from library.lending.models import Loan


class GardenChoice(forms.ModelChoiceField):
    """One of a member's gardens, by the name that they gave it."""

    def __init__(self, member: Member | None, **options) -> None:
        gardens = member.gardens.all() if member else Garden.objects.none()
        options.setdefault("label", _("Garden"))
        options.setdefault("empty_label", _("my usual garden"))
        super().__init__(queryset=gardens, required=False, **options)


class LendForm(forms.Form):
    """Confirming a loan: one button, and for a coordinator a reason to lend nevertheless."""

    def __init__(self, *args, overrides: bool, **options) -> None:
        super().__init__(*args, **options)
        if overrides:
            self.fields["override_reason"] = text(
                _("Lend against the rules, because"),
                most=250,
                help_text=_("Only where it says that it cannot be lent. Never the reserve."),
            )


class CloseForm(forms.Form):
    outcome = forms.ChoiceField(
        label=_("How did it end?"),
        choices=[
            (Loan.Outcome.CROP_FAILED, _("The crop failed")),
            (Loan.Outcome.NOTHING_TO_RETURN, _("There is nothing to bring back")),
        ],
        widget=forms.RadioSelect,
    )
    note = SometimesNeeded(
        label=_("What happened?"),
        needed_when=_("needed if the crop failed"),
        max_length=2000,
        help_text=_("Slugs, drought, it crossed, we ate it all: it helps the next grower."),
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class ExtendForm(forms.Form):
    due_on = day(_("New due date"))
    reason = text(_("Why"), most=250, required=True)


class GardenForm(forms.Form):
    def __init__(self, *args, borrower: Member, **options) -> None:
        super().__init__(*args, **options)
        self.fields["garden"] = forms.ModelChoiceField(
            label=_("Grow it in"), queryset=borrower.gardens.all(), empty_label=None
        )

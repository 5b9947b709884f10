"""The page that shows every component of the site once, with invented content."""

from __future__ import annotations

from django import forms
from django.core.paginator import Paginator
from django.utils.translation import gettext_lazy as _
from django.views.generic import TemplateView

PACKETS = [("1", "P-7QK2-4X"), ("2", "P-9MD5-1A")]
USES = [("kitchen", _("Kitchen")), ("swap", _("Swap")), ("seed", _("Seed again"))]


class SampleForm(forms.Form):
    """One field of each kind."""

    borrower = forms.CharField(label=_("Borrower"), help_text=_("The name shown to others."))
    packet = forms.ChoiceField(label=_("Packet"), choices=PACKETS)
    due = forms.DateField(
        label=_("Back by"), required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    plants = forms.IntegerField(label=_("Plants"), min_value=1)
    kind = forms.ChoiceField(label=_("Kind"), choices=USES, widget=forms.RadioSelect)
    uses = forms.MultipleChoiceField(
        label=_("Uses"), choices=USES, required=False, widget=forms.CheckboxSelectMultiple
    )
    notes = forms.CharField(label=_("Notes"), required=False, widget=forms.Textarea)
    agreed = forms.BooleanField(label=_("I give seed back if I can"))


class SampleFilter(forms.Form):
    crop = forms.CharField(label=_("Crop"), required=False)
    shelf = forms.BooleanField(label=_("On the shelf"), required=False)


class StylePage(TemplateView):
    template_name = "style.html"

    def get_context_data(self, **kwargs) -> dict:
        pages = Paginator(range(240), 20)
        page = pages.get_page(5)
        numbers = pages.get_elided_page_range(5, on_each_side=1, on_ends=1)
        vars(page)["numbers"] = numbers  # as the lists' pages carry them
        mistaken = {"borrower": "", "packet": "1", "plants": "-4", "kind": "kitchen"}
        return super().get_context_data(
            fresh_form=SampleForm(prefix="fresh"),
            wrong_form=SampleForm(
                {f"wrong-{k}": v for k, v in mistaken.items()}, prefix="wrong"
            ),
            filter_form=SampleFilter(prefix="filter"),
            page_obj=page,
            why_rule=_(
                "A third of the time this lot is reckoned to need to fall to 85 % of what "
                "it first was, and never later than ten years."
            ),
            why_inputs=[
                (_("Storage"), _("jar, 8 °C"), _("as recorded")),
                (_("First test"), "94 %", "200 seeds"),
                (_("Moisture"), None),
            ],
            **kwargs,
        )

"""The forms of printing: shape only, the services decide."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from library.paper.models import CardSize, LabelSheet, PaperSize


class SheetForm(forms.ModelForm):
    class Meta:
        model = LabelSheet
        fields = [
            "name",
            "shape",
            "page_width",
            "page_height",
            "columns",
            "rows",
            "label_width",
            "label_height",
            "left",
            "top",
            "gap_x",
            "gap_y",
            "outlined",
            "is_default",
        ]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["rows"].required = False

    def clean_rows(self) -> int:
        return self.cleaned_data["rows"] or 1

    def _post_clean(self) -> None:
        """Nothing here: the service checks the row as it will be written."""


class PrintForm(forms.Form):
    """What is printed on what; the kind is the button that was pressed."""

    codes = forms.CharField(
        label=_("Codes of packets or lots"),
        required=False,
        max_length=40_000,
        widget=forms.Textarea(attrs={"rows": 3, "spellcheck": "false"}),
        help_text=_(
            "Scan or type them, one on a line. A lot stands for all its packets on the shelf."
        ),
    )
    sheet = forms.ModelChoiceField(
        LabelSheet.objects.all(), label=_("Labels on"), required=False, empty_label=None
    )
    start = forms.IntegerField(
        label=_("Begin at label"),
        required=False,
        min_value=1,
        help_text=_("Counted across, then down, if the sheet was begun before."),
    )
    paper = forms.ChoiceField(label=_("Lists on"), choices=PaperSize, required=False)
    card = forms.ChoiceField(label=_("Cards of"), choices=CardSize, required=False)

    @property
    def options(self) -> dict[str, Any]:
        """As ``services.prepared`` takes them; what was left empty is the default."""
        names = ("sheet", "start", "paper", "card")
        return {name: self.cleaned_data[name] for name in names if self.cleaned_data.get(name)}

    @property
    def keys(self) -> list[str]:
        return self.cleaned_data["codes"].replace(",", " ").split()

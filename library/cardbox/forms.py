"""Forms about a file of the card box."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from library.cardbox.columns import writing_of
from library.cardbox.kinds import KINDS
from library.cardbox.models import CardImport, Kind

SHOWN_VALUES = 3
DAY, MONTH = "day", "month"
DECIMAL, THOUSANDS = "decimal", "thousands"


class Choice(forms.ChoiceField):
    """A choice of which one is to leave it alone: it need not say that it is optional, too."""

    offers_nothing = True


class FileForm(forms.Form):
    kind = forms.ChoiceField(
        label=gettext_lazy("What the file lists"), widget=forms.RadioSelect
    )
    file = forms.FileField(
        label=gettext_lazy("File"),
        max_length=200,
        help_text=gettext_lazy(
            "CSV, XLSX or ODS with a row of headings; at most 20 MB and 60,000 rows. Of a "
            "workbook the first sheet that holds anything is read, values only."
        ),
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx,.ods"}),
    )

    def __init__(self, *args: Any, kinds: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice: Any = self.fields["kind"]
        choice.choices = [each for each in Kind.choices if each[0] in kinds]


class ColumnsForm(forms.Form):
    """What each column holds, how the file writes days and commas, and what holds for all."""

    def __init__(self, *args: Any, card_import: CardImport, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.card_import = card_import
        self.kind = KINDS[card_import.kind]
        guessed = {place: name for name, place in card_import.fields.items()}
        choices = [("", _("— leave it out —")), *self._choices()]
        for place, heading in enumerate(card_import.headings):
            self.fields[f"column_{place}"] = Choice(
                label=heading or _("Column %(n)s, without a heading") % {"n": place + 1},
                choices=choices,
                required=False,
                initial=guessed.get(place, ""),
                help_text=self._values(place),
            )
        self._add_writing(card_import.columns)
        options: Any = self.kind.options
        for option in options:
            self.fields[option.name] = forms.BooleanField(
                label=option.label,
                help_text=option.help_text,
                required=False,
                initial=card_import.options.get(option.name, False),
            )

    def _choices(self) -> list[tuple[str, str]]:
        return [
            (field.name, f"{field.label} *" if field.required else str(field.label))
            for field in self.kind.fields
        ]

    def _values(self, place: int) -> str:
        from django.utils.html import escape

        cells = [row[place].strip() for row in self.card_import.sample if place < len(row)]
        shown = list(dict.fromkeys(cell[:40] for cell in cells if cell))[:SHOWN_VALUES]
        return escape(" · ".join(shown) or _("empty in the first rows"))

    def _add_writing(self, columns: dict[str, Any]) -> None:
        kinds = {field.kind_of_value for field in self.kind.fields}
        if "day" in kinds:
            told = columns.get("day_first")
            self.fields["day_first"] = Choice(
                label=_("In this file 3/4/2019 is"),
                choices=[(DAY, _("3 April: the day comes first")),
                         (MONTH, _("4 March: the month comes first"))],
                initial="" if told is None else DAY if told else MONTH,
                required=False,
                widget=forms.RadioSelect,
            )  # fmt: skip
        if "number" in kinds:
            told = columns.get("comma_is_decimal")
            self.fields["comma"] = Choice(
                label=_("In this file 1,500 is"),
                choices=[(THOUSANDS, _("one thousand five hundred")),
                         (DECIMAL, _("one and a half"))],
                initial="" if told is None else DECIMAL if told else THOUSANDS,
                required=False,
                widget=forms.RadioSelect,
            )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        fields: dict[str, int] = {}
        for place in range(len(self.card_import.headings)):
            name = cleaned.get(f"column_{place}")
            if name and name in fields:
                self.add_error(
                    f"column_{place}",
                    _("Another column holds this already; each thing can stand in one column."),
                )
            elif name:
                fields[name] = place
        for field in self.kind.fields:
            if field.required and field.name not in fields:
                self.add_error(
                    None,
                    _(
                        "Say which column holds the %(field)s; without it no row can be "
                        "taken in."
                    )
                    % {"field": field.label},
                )
        self.chosen = fields
        self._check_writing(cleaned)
        return cleaned

    def _check_writing(self, cleaned: dict[str, Any]) -> None:
        card = self.card_import
        told = writing_of(card.kind, self.chosen, card.headings, card.sample)
        if told["day_first"] is None and not cleaned.get("day_first"):
            self.add_error(
                "day_first",
                _("The days in this file can be read both ways; say which is right."),
            )
        if told["comma_is_decimal"] is None and not cleaned.get("comma"):
            self.add_error(
                "comma",
                _("The numbers in this file can be read both ways; say which is right."),
            )

    def said(self) -> dict[str, Any]:
        """As the service takes it."""
        day, comma = self.cleaned_data.get("day_first"), self.cleaned_data.get("comma")
        return {
            "fields": self.chosen,
            "options": {
                o.name: self.cleaned_data.get(o.name, False) for o in self.kind.options
            },
            "day_first": None if not day else day == DAY,
            "comma_is_decimal": None if not comma else comma == DECIMAL,
        }

    def column_fields(self) -> list[Any]:
        return [self[name] for name in self.fields if name.startswith("column_")]

    def other_fields(self) -> list[Any]:
        return [self[name] for name in self.fields if not name.startswith("column_")]

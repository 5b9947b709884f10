"""The questions of the API's lists."""

from __future__ import annotations

import django_filters

from library.cardbox.models import CardImport, CardRow, Kind


class CardImportFilter(django_filters.FilterSet):
    kind = django_filters.ChoiceFilter(choices=Kind.choices)
    state = django_filters.ChoiceFilter(choices=CardImport.State.choices)

    class Meta:
        model = CardImport
        fields: list[str] = []


class CardRowFilter(django_filters.FilterSet):
    fate = django_filters.ChoiceFilter(choices=CardRow.Fate.choices)

    class Meta:
        model = CardRow
        fields: list[str] = []

"""How tests and what is due are filtered over the API; declared by hand."""

from __future__ import annotations

import django_filters as filters

from library.germination.models import GerminationTest, TestDate


class GerminationTestFilter(filters.FilterSet):
    lot = filters.CharFilter(field_name="lot__number", label="The lot's number.")
    state = filters.ChoiceFilter(choices=GerminationTest.State.choices)

    class Meta:
        model = GerminationTest
        fields: list[str] = []


class BenchFilter(filters.FilterSet):
    until = filters.DateFilter(
        field_name="due_on", lookup_expr="lte", label="Due on or before this day."
    )
    kind = filters.ChoiceFilter(choices=TestDate.Kind.choices)

    class Meta:
        model = TestDate
        fields: list[str] = []

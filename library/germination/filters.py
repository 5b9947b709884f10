"""How tests and what is due are filtered over the API; declared by hand."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django.db.models import QuerySet
from django.utils import timezone

from library.catalogue.filters import YesFilter
from library.catalogue.models import Variety
from library.germination.models import GerminationTest, PlannedSowing, ShelfDecision, TestDate


class _OfALot(filters.FilterSet):
    lot = filters.CharFilter(field_name="lot__number", label="The lot's number.")
    variety = filters.ModelChoiceFilter(
        field_name="lot__variety", queryset=Variety.objects.all(), label="The variety's id."
    )


class GerminationTestFilter(_OfALot):
    state = filters.ChoiceFilter(choices=GerminationTest.State.choices)
    kind = filters.ChoiceFilter(choices=GerminationTest.Kind.choices)
    verdict = filters.ChoiceFilter(
        choices=GerminationTest.Verdict.choices, label="What a test with few seeds decided."
    )
    counts_due = filters.DateFilter(
        method="due", label="Running, with a count that is due on or before this day."
    )
    started_from = filters.DateFilter("started_on", "gte")
    started_until = filters.DateFilter("started_on", "lte")
    closed_from = filters.DateFilter("closed_on", "gte")
    closed_until = filters.DateFilter("closed_on", "lte")

    class Meta:
        model = GerminationTest
        fields: list[str] = []

    def due(self, tests: Any, name: str, on: Any) -> QuerySet:
        return tests.counts_due(on)


class BenchFilter(_OfALot):
    until = filters.DateFilter("due_on", "lte", label="Due on or before this day.")
    kind = filters.ChoiceFilter(choices=TestDate.Kind.choices)
    overdue = YesFilter(method="is_overdue", label="Due before today, or not.")
    to_regrow = YesFilter(
        method="is_to_regrow",
        label="To be regrown, and nobody decided that it goes on being lent; or not.",
    )

    class Meta:
        model = TestDate
        fields: list[str] = []

    def is_overdue(self, dates: Any, name: str, overdue: bool) -> QuerySet:
        before = {"due_on__lt": timezone.localdate()}
        return dates.filter(**before) if overdue else dates.exclude(**before)

    def is_to_regrow(self, dates: Any, name: str, to_regrow: bool) -> QuerySet:
        return dates.to_regrow(to_regrow)


class PlannedSowingFilter(_OfALot):
    since = filters.DateFilter("on", "gte", label="To be sown on or after this day.")
    until = filters.DateFilter("on", "lte", label="To be sown on or before this day.")

    class Meta:
        model = PlannedSowing
        fields: list[str] = []


class ShelfDecisionFilter(_OfALot):
    decision = filters.ChoiceFilter(choices=ShelfDecision.Decision.choices)

    class Meta:
        model = ShelfDecision
        fields: list[str] = []

"""What the API tells of what is due at the bench, and what the library counts on."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from library.catalogue.serializers import KnownBy
from library.germination.costs import cost_of_next_test
from library.germination.method import suggested_size
from library.germination.models import LotEstimate, PlannedSowing, ShelfDecision, TestDate
from library.stock.models import Lot


class FewSeedsCostSerializer(serializers.Serializer):
    """A test with few seeds: the seeds of a group, the most of all groups, and how many are
    expected.
    """

    group_seeds = serializers.IntegerField()
    most_seeds = serializers.IntegerField()
    expected_seeds = serializers.FloatField()

    def to_representation(self, cost: Any) -> dict[str, Any]:
        shown = super().to_representation(cost)
        return shown | {"expected_seeds": round(cost.expected_seeds, 1)}


class TestCostSerializer(serializers.Serializer):
    """What the usual test costs in seeds, as a share of what is left in percent, and what one
    with few seeds would; ``few_seeds`` is null where one group is more than a test may cost.
    """

    __test__ = False  # not a test class, whatever its name says to pytest

    seeds_left = serializers.IntegerField()
    seeds = serializers.IntegerField()
    percent = serializers.SerializerMethodField()
    few_seeds = FewSeedsCostSerializer(allow_null=True)

    def get_percent(self, cost: Any) -> float:
        return round(100 * cost.share, 1)


class StoredEstimateSerializer(serializers.ModelSerializer):
    """The lot's viability as it was last reckoned, in percent: median, 90 % band, and the
    chance of being above the standard. ``regrow_rule`` is empty while it need not be regrown.
    """

    low_percent = serializers.SerializerMethodField()
    median_percent = serializers.SerializerMethodField()
    high_percent = serializers.SerializerMethodField()
    chance_percent = serializers.SerializerMethodField()
    why_regrow = serializers.CharField(read_only=True)

    class Meta:
        model = LotEstimate
        fields = [
            "on",
            "low_percent",
            "median_percent",
            "high_percent",
            "chance_percent",
            "standard_percent",
            "regrow_rule",
            "why_regrow",
            "decided",
        ]

    def get_low_percent(self, estimate: LotEstimate) -> float:
        return in_percent(estimate.low)

    def get_median_percent(self, estimate: LotEstimate) -> float:
        return in_percent(estimate.median)

    def get_high_percent(self, estimate: LotEstimate) -> float:
        return in_percent(estimate.high)

    def get_chance_percent(self, estimate: LotEstimate) -> float:
        return in_percent(estimate.chance)


def in_percent(share: float) -> float:
    return round(100 * share, 2)


class TestDateSerializer(serializers.ModelSerializer):
    """A lot that is to be tested, by when and why, and what the test would cost it."""

    __test__ = False  # not a test class, whatever its name says to pytest

    lot = serializers.CharField(source="lot.number", read_only=True)
    variety = serializers.IntegerField(source="lot.variety_id", read_only=True)
    variety_name = serializers.CharField(source="lot.variety.name", read_only=True)
    overdue = serializers.SerializerMethodField()
    why = serializers.CharField(read_only=True)
    seeds_needed = serializers.SerializerMethodField()
    cost = serializers.SerializerMethodField()
    estimate = serializers.SerializerMethodField()
    planned_test = serializers.SerializerMethodField()

    class Meta:
        model = TestDate
        fields = [
            "lot",
            "variety",
            "variety_name",
            "kind",
            "due_on",
            "overdue",
            "rule",
            "why",
            "inputs",
            "source",
            "seeds_needed",
            "cost",
            "estimate",
            "planned_test",
        ]

    def get_overdue(self, date: TestDate) -> bool:
        return date.due_on < timezone.localdate()

    def get_seeds_needed(self, date: TestDate) -> int:
        return suggested_size(date.lot).seeds

    @extend_schema_field(TestCostSerializer)
    def get_cost(self, date: TestDate) -> Any:
        cost = cost_of_next_test(date.lot, self.context["rules"])
        return TestCostSerializer(cost).data

    @extend_schema_field(StoredEstimateSerializer(allow_null=True))
    def get_estimate(self, date: TestDate) -> Any:
        estimate = getattr(date.lot, "estimate", None)
        return StoredEstimateSerializer(estimate).data if estimate else None

    def get_planned_test(self, date: TestDate) -> int | None:
        """The id of a test that is planned for it already."""
        return date.planned_test  # type: ignore[attr-defined]  # annotated


class PlannedSowingSerializer(serializers.ModelSerializer):
    lot = serializers.CharField(source="lot.number", read_only=True)
    variety = serializers.IntegerField(source="lot.variety_id", read_only=True)
    variety_name = serializers.CharField(source="lot.variety.name", read_only=True)
    added_by = serializers.CharField(source="added_by.display_name", default=None)

    class Meta:
        model = PlannedSowing
        fields = ["id", "lot", "variety", "variety_name", "on", "what_for", "added_by"]


class SowingIn(serializers.Serializer):
    lot = KnownBy(slug_field="number", queryset=Lot.objects.all())
    on = serializers.DateField()
    what_for = serializers.CharField(max_length=120)


class ShelfDecisionSerializer(serializers.ModelSerializer):
    """``median_percent`` is the estimate on that day."""

    lot = serializers.CharField(source="lot.number", read_only=True)
    median_percent = serializers.SerializerMethodField()
    decided_by = serializers.CharField(source="decided_by.display_name", default=None)

    class Meta:
        model = ShelfDecision
        fields = [
            "id",
            "lot",
            "decision",
            "reason",
            "median_percent",
            "decided_by",
            "decided_at",
        ]

    def get_median_percent(self, decision: ShelfDecision) -> float | None:
        return None if decision.median is None else in_percent(decision.median)


class DecisionIn(serializers.Serializer):
    lot = KnownBy(slug_field="number", queryset=Lot.objects.all())
    decision = serializers.ChoiceField(ShelfDecision.Decision.choices)
    reason = serializers.CharField(max_length=250)

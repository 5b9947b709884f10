"""What the API tells of tests, and the shape of what it takes."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from library.catalogue.serializers import KnownBy
from library.germination.method import suggested_size
from library.germination.models import GerminationTest, Replicate, TestDate
from library.germination.results import result_of
from library.germination.services import MOST_IN_A_REPLICATE, MOST_REPLICATES
from library.stock.models import Lot


class ReplicateSerializer(serializers.ModelSerializer):
    class Meta:
        model = Replicate
        fields = ["number", "seeds", "normal", "abnormal", "hard", "fresh", "dead"]


class ResultSerializer(serializers.Serializer):
    """A closed test's result; ``low`` and ``high`` are the exact 95 % interval, in percent."""

    percent = serializers.IntegerField()
    percent_with_hard = serializers.IntegerField()
    germinated = serializers.IntegerField()
    sown = serializers.IntegerField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    library_standard = serializers.IntegerField()
    meets_standard = serializers.BooleanField()
    federal_min = serializers.IntegerField(allow_null=True)
    minimum_source = serializers.CharField(
        source="minimum.source", allow_null=True, default=None
    )
    meets_federal = serializers.BooleanField(allow_null=True)
    replicates_agree = serializers.BooleanField(allow_null=True)
    range_percent = serializers.FloatField(allow_null=True)
    tolerated_range = serializers.FloatField(allow_null=True)


class GerminationTestSerializer(serializers.ModelSerializer):
    lot = serializers.CharField(source="lot.number", read_only=True)
    replicates = ReplicateSerializer(many=True, read_only=True)
    result = serializers.SerializerMethodField()

    class Meta:
        model = GerminationTest
        fields = [
            "id",
            "lot",
            "state",
            "started_on",
            "closed_on",
            "substrate",
            "temperature_c",
            "void_reason",
            "replicates",
            "result",
        ]

    @extend_schema_field(ResultSerializer(allow_null=True))
    def get_result(self, test: GerminationTest) -> Any:
        result = result_of(test, rules=self.context.get("rules"))
        return None if result is None else ResultSerializer(result).data


class TestDateSerializer(serializers.ModelSerializer):
    """A lot that is to be tested, by when and why, and what the usual test would cost it."""

    __test__ = False  # not a test class, whatever its name says to pytest

    lot = serializers.CharField(source="lot.number", read_only=True)
    variety_name = serializers.CharField(source="lot.variety.name", read_only=True)
    why = serializers.CharField(read_only=True)
    seeds_needed = serializers.SerializerMethodField()

    class Meta:
        model = TestDate
        fields = [
            "lot",
            "variety_name",
            "kind",
            "due_on",
            "rule",
            "why",
            "inputs",
            "source",
            "seeds_needed",
        ]

    def get_seeds_needed(self, date: TestDate) -> int:
        return suggested_size(date.lot).seeds


class CountIn(serializers.Serializer):
    """What was counted in one dish; what is left out is 0."""

    normal = serializers.IntegerField(min_value=0, max_value=MOST_IN_A_REPLICATE)
    abnormal = serializers.IntegerField(
        min_value=0, max_value=MOST_IN_A_REPLICATE, required=False
    )
    hard = serializers.IntegerField(min_value=0, max_value=MOST_IN_A_REPLICATE, required=False)
    fresh = serializers.IntegerField(min_value=0, max_value=MOST_IN_A_REPLICATE, required=False)
    dead = serializers.IntegerField(min_value=0, max_value=MOST_IN_A_REPLICATE, required=False)


class DishIn(CountIn):
    seeds = serializers.IntegerField(min_value=1, max_value=MOST_IN_A_REPLICATE)
    normal = serializers.IntegerField(
        min_value=0, max_value=MOST_IN_A_REPLICATE, required=False
    )


class TestIn(serializers.Serializer):
    """With ``closed_on`` the test is recorded whole; without it, it is started, and the counts
    of its ``replicates`` follow with ``close``.
    """

    __test__ = False  # not a test class, whatever its name says to pytest

    lot = KnownBy(slug_field="number", queryset=Lot.objects.all())
    started_on = serializers.DateField()
    closed_on = serializers.DateField(required=False)
    replicates = serializers.ListField(child=DishIn(), min_length=1, max_length=MOST_REPLICATES)
    substrate = serializers.CharField(max_length=80, required=False, allow_blank=True)
    temperature_c = serializers.CharField(max_length=40, required=False, allow_blank=True)
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)


class CloseIn(serializers.Serializer):
    on = serializers.DateField(required=False)
    replicates = serializers.ListField(
        child=CountIn(), min_length=1, max_length=MOST_REPLICATES
    )


class VoidIn(serializers.Serializer):
    reason = serializers.CharField(max_length=250)

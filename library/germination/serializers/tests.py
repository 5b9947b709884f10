"""What the API tells of tests."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from library.catalogue.models import SpeciesFigure
from library.germination.few_seeds import SoFar, decision_so_far
from library.germination.method import method_of
from library.germination.models import DayCount, GerminationTest, Replicate, TestAmendment
from library.germination.results import result_of
from library.science.sequential import WALD, Outcome
from library.stock.serializers import for_the_desk
from library.stock.services.checks import plain

COUNTS = ["normal", "abnormal", "hard", "fresh", "dead"]


class DayCountSerializer(serializers.ModelSerializer):
    class Meta:
        model = DayCount
        fields = ["on", "normal", "abnormal", "dead"]


class ReplicateSerializer(serializers.ModelSerializer):
    """A dish, in a test with few seeds a group; its counts are the sums of its days until it
    is done.
    """

    day_counts = DayCountSerializer(many=True, read_only=True)

    class Meta:
        model = Replicate
        fields = ["number", "seeds", "sown_on", "counted_on", *COUNTS, "day_counts"]


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


class PlanSerializer(serializers.ModelSerializer):
    """The plan of a test with few seeds: what is called good and what poor, at which risks, how
    many are sown at a time, and the most that are spent.
    """

    good_percent = serializers.FloatField()
    poor_percent = serializers.FloatField()
    risk_good_percent = serializers.IntegerField()
    risk_poor_percent = serializers.IntegerField()
    group_seeds = serializers.IntegerField()
    most_seeds = serializers.IntegerField()
    source = serializers.SerializerMethodField()  # type: ignore[assignment]  # its own source

    class Meta:
        model = GerminationTest
        fields = [
            "good_percent",
            "poor_percent",
            "risk_good_percent",
            "risk_poor_percent",
            "group_seeds",
            "most_seeds",
            "source",
        ]

    def get_source(self, test: GerminationTest) -> str:
        return WALD


class SoFarSerializer(serializers.Serializer):
    """What the groups of a test with few seeds say already. ``outcome`` is null while it hangs
    on ``left``, the seeds that are not counted yet; ``sow_next`` is the next group's size.
    """

    sown = serializers.IntegerField()
    normal = serializers.IntegerField()
    left = serializers.IntegerField()
    most = serializers.IntegerField()
    outcome = serializers.ChoiceField([each.value for each in Outcome], allow_null=True)
    sow_next = serializers.IntegerField()
    cut_off = serializers.BooleanField()

    def to_representation(self, so_far: SoFar) -> dict[str, Any]:
        verdict = so_far.verdict
        return {
            "sown": so_far.sown,
            "normal": so_far.normal,
            "left": so_far.left,
            "most": so_far.most,
            "outcome": verdict.outcome.value if verdict else None,
            "sow_next": verdict.sow_next if verdict else 0,
            "cut_off": verdict.cut_off if verdict else False,
        }


class TestAmendmentSerializer(serializers.ModelSerializer):
    """A correction. Of a dish, the values are its counts; else a day."""

    __test__ = False  # not a test class, whatever its name says to pytest

    amended_by = serializers.SerializerMethodField()

    class Meta:
        model = TestAmendment
        fields = ["field", "old_value", "new_value", "reason", "amended_by", "amended_at"]

    def get_amended_by(self, amendment: TestAmendment) -> str | None:
        return name_for_the_desk(self, amendment.amended_by)


class PublishedSerializer(serializers.ModelSerializer):
    """A condition that is published for testing the species, and by whom; ``how`` says whether
    it is from memory.
    """

    value = serializers.SerializerMethodField(method_name="value_of")

    class Meta:
        model = SpeciesFigure
        fields = ["quantity", "value", "source", "how"]

    def value_of(self, figure: SpeciesFigure) -> str:
        return figure.text if figure.number is None else plain(figure.number)


class GerminationTestSerializer(serializers.ModelSerializer):
    """A test. ``started_on`` of a planned one is the day it is to be laid out; ``note`` and who
    recorded it are null for anyone but the desk.
    """

    lot = serializers.CharField(source="lot.number", read_only=True)
    variety = serializers.IntegerField(source="lot.variety_id", read_only=True)
    variety_name = serializers.CharField(source="lot.variety.name", read_only=True)
    published = serializers.SerializerMethodField()
    plan = serializers.SerializerMethodField()
    so_far = serializers.SerializerMethodField()
    replicates = ReplicateSerializer(many=True, read_only=True)
    result = serializers.SerializerMethodField()
    amendments = TestAmendmentSerializer(many=True, read_only=True)
    note = serializers.SerializerMethodField()
    recorded_by = serializers.SerializerMethodField()

    class Meta:
        model = GerminationTest
        fields = [
            "id",
            "lot",
            "variety",
            "variety_name",
            "state",
            "kind",
            "started_on",
            "first_count_on",
            "final_count_on",
            "closed_on",
            "substrate",
            "temperature_c",
            "directions",
            "published",
            "plan",
            "so_far",
            "verdict",
            "cut_off",
            "void_reason",
            "replicates",
            "result",
            "amendments",
            "note",
            "recorded_by",
        ]

    @extend_schema_field(PublishedSerializer(many=True))
    def get_published(self, test: GerminationTest) -> Any:
        return PublishedSerializer(method_of(test.lot), many=True).data

    @extend_schema_field(PlanSerializer(allow_null=True))
    def get_plan(self, test: GerminationTest) -> Any:
        few = test.kind == GerminationTest.Kind.SEQUENTIAL
        return PlanSerializer(test).data if few else None

    @extend_schema_field(SoFarSerializer(allow_null=True))
    def get_so_far(self, test: GerminationTest) -> Any:
        so_far = decision_so_far(test)
        return None if so_far is None else SoFarSerializer(so_far).data

    @extend_schema_field(ResultSerializer(allow_null=True))
    def get_result(self, test: GerminationTest) -> Any:
        result = result_of(test, rules=self.context.get("rules"))
        return None if result is None else ResultSerializer(result).data

    def get_note(self, test: GerminationTest) -> str | None:
        return test.note if for_the_desk(self) else None

    def get_recorded_by(self, test: GerminationTest) -> str | None:
        return name_for_the_desk(self, test.recorded_by)


def name_for_the_desk(serializer: serializers.BaseSerializer, member: Any) -> str | None:
    """A member's display name, for those who may know who did what."""
    return member.display_name if member is not None and for_the_desk(serializer) else None

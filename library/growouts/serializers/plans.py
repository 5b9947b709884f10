"""What the API shows and takes of plans and pins."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from accounts.models import Garden
from library.catalogue.models import Variety
from library.growouts.models import Pin, Plan, Season
from library.growouts.plans.reading import PairRow, PlanReading
from library.growouts.plans.trouble import trouble_of
from library.growouts.plans.words import percent_of_time, quality_in_words, stage_in_words


class PlanWhySerializer(serializers.Serializer):
    """One thing that speaks for a pair, as the page says it."""

    what = serializers.CharField()
    value = serializers.CharField()
    note = serializers.CharField()


class PlannedPairSerializer(serializers.Serializer):
    id = serializers.IntegerField(source="pair.pk")
    variety = serializers.IntegerField(source="pair.variety_id")
    variety_name = serializers.CharField(source="pair.variety.name")
    grower = serializers.CharField(source="pair.garden.member.display_name")
    garden = serializers.IntegerField(source="pair.garden_id")
    garden_name = serializers.CharField(source="pair.garden.name")
    technique = serializers.CharField(source="pair.technique")
    pinned = serializers.BooleanField(source="pair.pinned")
    success = serializers.FloatField(
        allow_null=True, help_text="Chance, 0 to 1, that this grow-out gives seed."
    )
    commitment = serializers.IntegerField(
        source="commitment.pk",
        allow_null=True,
        default=None,
        help_text="What its grower was asked for; null when they were not asked yet.",
    )
    why = serializers.SerializerMethodField()

    def get_why(self, row: PairRow) -> list[dict[str, str]]:
        return [{"what": w, "value": str(v), "note": n} for w, v, n in row.why]


class LeftOutSerializer(serializers.Serializer):
    variety = serializers.IntegerField(source="variety.pk")
    variety_name = serializers.CharField(source="variety.name")
    loss = serializers.FloatField(allow_null=True, help_text="Chance, 0 to 1, of being lost.")
    obstacles = serializers.ListField(child=serializers.CharField())
    remedies = serializers.ListField(
        child=serializers.CharField(),
        help_text="What would give it a place, each enough by itself, the cheapest first.",
    )


class SeasonPlanSerializer(serializers.ModelSerializer):
    """How far a plan is and how good; ``loss`` is in varieties expected to be lost."""

    season = serializers.IntegerField(source="season.year")
    asked_by = serializers.CharField(
        source="asked_by.display_name",
        allow_null=True,
        default=None,
        help_text="Null when they left the library.",
    )
    percent = serializers.SerializerMethodField(help_text="Of its time, 0 to 100.")
    doing = serializers.SerializerMethodField(help_text="What is being done now; or empty.")
    quality = serializers.SerializerMethodField(help_text="How good it is, in words.")

    class Meta:
        model = Plan
        fields = [
            "id", "season", "state", "asked_by", "asked_at", "seconds", "started_at",
            "finished_at", "percent", "doing", "covered", "could_be_covered", "most_covered",
            "loss", "gap", "method", "by_hand", "quality",
        ]  # fmt: skip

    def get_percent(self, plan: Plan) -> int:
        return percent_of_time(plan)

    def get_doing(self, plan: Plan) -> str:
        return stage_in_words(plan) if plan.is_at_work else ""

    def get_quality(self, plan: Plan) -> list[str]:
        return quality_in_words(plan) if plan.state in ENDED_WELL else []


class SeasonPlanDetailSerializer(SeasonPlanSerializer):
    """With who grows what and why, what was left out, and what went wrong."""

    pairs = PlannedPairSerializer(many=True)
    left_out = LeftOutSerializer(many=True)
    trouble = serializers.ListField(child=serializers.CharField())

    class Meta(SeasonPlanSerializer.Meta):
        fields = [*SeasonPlanSerializer.Meta.fields, "pairs", "left_out", "trouble"]

    def to_representation(self, plan: Plan) -> dict[str, Any]:
        shown = SeasonPlanSerializer(plan, context=self.context).data
        reading = PlanReading(plan)
        failed = trouble_of(plan) if plan.state == Plan.State.FAILED else None
        return {
            **shown,
            "pairs": PlannedPairSerializer(reading.pairs, many=True).data,
            "left_out": LeftOutSerializer(reading.left_out, many=True).data,
            "trouble": [*failed.clashes, *filter(None, [failed.failed])] if failed else [],
        }


class PlanInput(serializers.Serializer):
    season = serializers.SlugRelatedField(
        slug_field="year", queryset=Season.objects.all(), help_text="The season's year."
    )
    seconds = serializers.IntegerField(
        min_value=1,
        max_value=1800,
        allow_null=True,
        default=None,
        help_text="How long to work on it; as the rules say unless told.",
    )


class OffersInput(serializers.Serializer):
    """Which pairs' growers to ask; all whom nobody asked yet unless told."""

    pairs = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=2**63 - 1),
        allow_null=True,
        default=None,
        max_length=5000,
        help_text="Numbers of pairs of this plan.",
    )


class SentSerializer(serializers.Serializer):
    sent = serializers.ListField(
        child=serializers.IntegerField(), help_text="Numbers of the new commitments."
    )
    refused = serializers.ListField(
        child=serializers.CharField(), help_text="Why others could not be sent."
    )


class PinSerializer(serializers.ModelSerializer):
    season = serializers.IntegerField(source="season.year")
    variety_name = serializers.CharField(source="variety.name")
    garden_name = serializers.CharField(source="garden.name")
    grower = serializers.CharField(source="garden.member.display_name")

    class Meta:
        model = Pin
        fields = [
            "id", "season", "variety", "variety_name", "garden", "garden_name", "grower",
            "kind", "reason", "made_at",
        ]  # fmt: skip


class PinInput(serializers.Serializer):
    season = serializers.SlugRelatedField(
        slug_field="year", queryset=Season.objects.all(), help_text="The season's year."
    )
    variety = serializers.PrimaryKeyRelatedField(queryset=Variety.objects.all())
    garden = serializers.PrimaryKeyRelatedField(queryset=Garden.objects.all())
    kind = serializers.ChoiceField(choices=Pin.Kind.choices)
    reason = serializers.CharField(max_length=250, allow_blank=True, default="")


ENDED_WELL = (Plan.State.DONE, Plan.State.STOPPED)

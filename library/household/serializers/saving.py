"""The shapes of lists, pairs, rotations and calendars."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.models import Garden
from library.catalogue.models import Variety
from library.catalogue.serializers import KnownBy
from library.growouts.serializers.seasons import GardenRef, metres
from library.household.models import KeptApart, SavedVariety, SavingPlan
from library.lending.serializers import VarietyRef, VisibleField
from library.science.crossing import Outcome
from library.science.isolation import Technique
from library.science.rotation import Remedy
from library.stock.models import Lot


class SavingPlanSerializer(serializers.ModelSerializer):
    """A list of what to save seed of, in one garden and season."""

    garden = GardenRef(read_only=True)
    varieties = serializers.IntegerField(read_only=True, help_text="How many stand on it.")

    class Meta:
        model = SavingPlan
        fields = [
            "id",
            "garden",
            "year",
            "room_m2",
            "apart_m",
            "years_ahead",
            "chance_percent",
            "varieties",
            "made_at",
        ]
        read_only_fields = fields


class ChangeSavingPlanInput(serializers.Serializer):
    """Room as ``room_m2``, or ``plots`` of ``plot_m2`` each."""

    room_m2 = metres()
    plots = serializers.IntegerField(required=False, allow_null=True)
    plot_m2 = metres()
    apart_m = serializers.IntegerField(
        required=False,
        allow_null=True,
        help_text="How far apart two beds of the garden can be, in metres; null: side by side.",
    )
    years_ahead = serializers.IntegerField(required=False, help_text="1 to 15.")
    chance_percent = serializers.IntegerField(
        required=False, help_text="How sure seed must be to count as good, 50 to 95."
    )


class NewSavingPlanInput(ChangeSavingPlanInput):
    garden = VisibleField(queryset=Garden.objects.all())
    year = serializers.IntegerField(help_text="The year in which the season's spring falls.")


class AddVarietiesInput(serializers.Serializer):
    varieties = serializers.PrimaryKeyRelatedField(
        queryset=Variety.objects.all(), many=True, allow_empty=False
    )


class SavedVarietySerializer(serializers.ModelSerializer):
    plan = serializers.IntegerField(source="plan_id", read_only=True)
    variety = VarietyRef(read_only=True)
    lot = serializers.CharField(
        source="lot.number", read_only=True, allow_null=True, help_text="A lot kept at home."
    )

    class Meta:
        model = SavedVariety
        fields = ["id", "plan", "variety", "lot", "plants", "technique", "keeps_years", "note"]
        read_only_fields = fields


class ChangeSavedVarietyInput(serializers.Serializer):
    lot = KnownBy("number", queryset=Lot.objects.all(), required=False, allow_null=True)
    plants = serializers.IntegerField(required=False, allow_null=True)
    technique = serializers.ChoiceField(choices=KeptApart.choices, required=False)
    keeps_years = serializers.IntegerField(
        required=False, allow_null=True, help_text="As you know it, 1 to 50 years."
    )
    note = serializers.CharField(max_length=500, required=False, allow_blank=True)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        request = self.context.get("request")
        if request is not None:  # only what lies at home: any other is as good as none
            lots: Any = self.fields["lot"]
            lots.queryset = Lot.objects.filter(custodian=request.user.pk)


class InputSerializer(serializers.Serializer):
    """A figure that went in: what it is, its value, and who says so."""

    what = serializers.CharField()
    value = serializers.CharField()
    source = serializers.CharField(allow_blank=True)  # type: ignore[assignment]


def inputs_of(rows: Any) -> list[dict[str, str]]:
    return [{"what": str(a), "value": str(b), "source": str(c)} for a, b, c in rows]


class ListedSerializer(serializers.Serializer):
    """A variety of the list with what it needs. Room in square metres, distance in metres."""

    id = serializers.IntegerField(source="one.choice.pk")
    variety = VarietyRef(source="one.variety")
    plants = serializers.IntegerField(source="one.plants")
    plants_that_keep_it = serializers.IntegerField(source="one.population.plants")
    room_m2 = serializers.FloatField(source="one.room_m2")
    isolation_m = serializers.FloatField(source="one.required_m", allow_null=True)
    technique = serializers.ChoiceField(
        source="one.choice.technique", choices=KeptApart.choices
    )
    flowers_in = serializers.IntegerField(source="one.flowers_in")
    seeds_to_sow = serializers.IntegerField(source="one.advice.seeds")
    sown_from = serializers.CharField()
    inputs = serializers.SerializerMethodField()

    @extend_schema_field(InputSerializer(many=True))
    def get_inputs(self, row: Any) -> list[dict[str, str]]:
        return inputs_of(row.why)


class PairSerializer(serializers.Serializer):
    """Two that could cross: how they stand, and what would keep them apart."""

    one = serializers.CharField(source="one.name")
    other = serializers.CharField(source="other.name")
    outcome = serializers.ChoiceField(choices=[(o.value, o.value) for o in Outcome])
    distance_m = serializers.FloatField(
        source="meeting.distance_m", allow_null=True, help_text="Null: not known."
    )
    required_m = serializers.FloatField(source="meeting.required_m", allow_null=True)
    techniques = serializers.ListField(
        source="meeting.ways",
        child=serializers.ChoiceField(choices=[(t.value, t.value) for t in Technique]),
        help_text="What would keep them apart instead of distance.",
    )
    reasons = serializers.ListField(child=serializers.CharField())
    source = serializers.CharField()  # type: ignore[assignment]
    inputs = serializers.SerializerMethodField()

    @extend_schema_field(InputSerializer(many=True))
    def get_inputs(self, pair: Any) -> list[dict[str, str]]:
        return inputs_of(pair.rows)


class CrossingsSerializer(serializers.Serializer):
    room_m2 = serializers.FloatField()
    room_used_m2 = serializers.FloatField()
    varieties = ListedSerializer(many=True)
    pairs = PairSerializer(many=True)


class TurnSerializer(serializers.Serializer):
    """A variety kept at home, and the years in which to sow it."""

    variety = VarietyRef(source="turn.variety")
    lot = serializers.CharField(source="turn.own.best.lot.number")
    good_until = serializers.IntegerField(source="turn.good_until")
    lasts = serializers.IntegerField(source="turn.lasts", help_text="Years of new seed.")
    room_m2 = serializers.FloatField(source="turn.room_m2")
    on_list = serializers.BooleanField(source="turn.listed")
    sow_in = serializers.ListField(source="turn.sow_in", child=serializers.IntegerField())
    short = serializers.ListField(
        source="turn.short",
        child=serializers.IntegerField(),
        help_text="Years that find it without good seed.",
    )
    remedy = serializers.ChoiceField(
        source="turn.remedy", choices=[(r.value, r.value) for r in Remedy], allow_null=True
    )
    more_m2 = serializers.FloatField(source="turn.more_m2")
    why = serializers.CharField(source="good")
    inputs = serializers.SerializerMethodField()

    @extend_schema_field(InputSerializer(many=True))
    def get_inputs(self, row: Any) -> list[dict[str, str]]:
        return inputs_of(row.why)


class RotationYearSerializer(serializers.Serializer):
    year = serializers.IntegerField()
    room_m2 = serializers.FloatField()
    used_m2 = serializers.FloatField()
    sow = serializers.SerializerMethodField()

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_sow(self, year: Any) -> list[str]:
        return [turn.variety.name for turn in year.sow]


class RotationSerializer(serializers.Serializer):
    standard_percent = serializers.IntegerField(source="standard")
    proven = serializers.BooleanField(
        source="rotation.proven", help_text="Whether no better rotation can be."
    )
    years = RotationYearSerializer(many=True)
    varieties = TurnSerializer(source="turns", many=True)


class DaySerializer(serializers.Serializer):
    on = serializers.DateField()
    step = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    variety = VarietyRef(source="listed.variety")
    how = serializers.CharField(allow_blank=True)
    rule = serializers.CharField()
    why = serializers.CharField()


class SavingCalendarSerializer(serializers.Serializer):
    frost_dates_from = serializers.ChoiceField(
        choices=[(word, word) for word in ("garden", "community", "unknown")]
    )
    days = DaySerializer(many=True)

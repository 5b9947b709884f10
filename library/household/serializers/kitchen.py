"""The shapes of kitchens, dishes, and the tables they are reckoned from."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.models import Garden
from library.catalogue.models import Crop, Variety
from library.catalogue.serializers import KnownBy
from library.growouts.serializers.seasons import GardenRef, metres
from library.household.models import Dish, KitchenPlan, YieldPer
from library.household.serializers.saving import InputSerializer, PairSerializer, inputs_of
from library.lending.serializers import VarietyRef, VisibleField
from library.science.kitchen import Per


class KitchenPlanSerializer(serializers.ModelSerializer):
    """A year's kitchen of one garden."""

    garden = GardenRef(read_only=True)
    dishes = serializers.IntegerField(source="what", read_only=True)

    class Meta:
        model = KitchenPlan
        fields = ["id", "garden", "year", "margin_percent", "dishes", "made_at"]
        read_only_fields = fields


class ChangeKitchenInput(serializers.Serializer):
    margin_percent = serializers.IntegerField(help_text="For a bad year, 0 to 500.")


class NewKitchenInput(serializers.Serializer):
    garden = VisibleField(queryset=Garden.objects.all())
    year = serializers.IntegerField(help_text="The year in which the season's spring falls.")
    margin_percent = serializers.IntegerField(required=False)


class DishSerializer(serializers.ModelSerializer):
    plan = serializers.IntegerField(source="plan_id", read_only=True)
    crop: Any = serializers.SlugRelatedField("slug", read_only=True)
    variety = VarietyRef(read_only=True, allow_null=True)

    class Meta:
        model = Dish
        fields = [
            "id",
            "plan",
            "crop",
            "variety",
            "product",
            "amount",
            "times",
            "own_kg_each",
            "yield_key",
            "own_yield_kg",
            "own_yield_per",
            "own_between_rows_cm",
            "own_in_row_cm",
            "save_seed",
            "note",
        ]
        read_only_fields = fields


def _number(help_text: str = "") -> serializers.DecimalField:
    """As large as somebody may write it; the services know what may be."""
    return serializers.DecimalField(
        max_digits=16, decimal_places=6, required=False, allow_null=True, help_text=help_text
    )


class ChangeDishInput(serializers.Serializer):
    """``product`` and ``yield_key`` as `/api/kitchen-tables/` names them; empty: eaten fresh,
    the smallest harvest.
    """

    variety = serializers.PrimaryKeyRelatedField(
        queryset=Variety.objects.select_related("crop__species"),
        required=False,
        allow_null=True,
    )
    product = serializers.CharField(max_length=200, required=False, allow_blank=True)
    amount = _number("Jars or pounds dried; of what is eaten fresh, kilograms.")
    times = serializers.IntegerField(required=False, help_text="52 for each week.")
    own_kg_each = _number("Fresh produce for one, kg; before the tables.")
    yield_key = serializers.CharField(max_length=200, required=False, allow_blank=True)
    own_yield_kg = _number("Your own harvest, kg.")
    own_yield_per = serializers.ChoiceField(choices=YieldPer.choices, required=False)
    own_between_rows_cm = serializers.IntegerField(required=False, allow_null=True)
    own_in_row_cm = serializers.IntegerField(required=False, allow_null=True)
    save_seed = serializers.BooleanField(required=False)
    note = serializers.CharField(max_length=500, required=False, allow_blank=True)


class NewDishInput(ChangeDishInput):
    plan = VisibleField(queryset=KitchenPlan.objects.all())
    crop: Any = KnownBy("slug", queryset=Crop.objects.all())
    amount = serializers.DecimalField(
        max_digits=16,
        decimal_places=6,
        help_text="Jars or pounds dried; of what is eaten fresh, kilograms.",
    )


class TakeOverInput(serializers.Serializer):
    """``room_m2`` only where the garden has no list of seed for that year yet."""

    room_m2 = metres()


class ReckonedSerializer(serializers.Serializer):
    """A dish and what must grow for it. Null: a figure is missing, and none is guessed."""

    id = serializers.IntegerField(source="one.dish.pk")
    title = serializers.CharField()
    variety = VarietyRef(source="one.dish.variety", allow_null=True)
    fresh_kg = serializers.FloatField(source="one.kg", allow_null=True)
    plants = serializers.IntegerField(source="one.all_plants", allow_null=True)
    plants_for_seed_only = serializers.IntegerField(
        source="one.plants.for_seed_only", allow_null=True, default=None
    )
    row_m = serializers.FloatField(source="one.stand.row_m", allow_null=True, default=None)
    area_m2 = serializers.FloatField(source="one.area_m2", allow_null=True)
    seeds = serializers.IntegerField(source="one.advice.seeds", allow_null=True, default=None)
    grams = serializers.FloatField(source="one.grams", allow_null=True)
    lot = serializers.CharField(source="one.lot.number", allow_null=True, default=None)
    packets = serializers.IntegerField(source="one.packets", allow_null=True)
    seeds_missing = serializers.IntegerField(source="one.seeds_missing")
    missing = serializers.ListField(
        source="one.missing",
        child=serializers.ChoiceField(
            choices=[(w, w) for w in ("produce", "yield", "spacing")]
        ),
        help_text="Figures that no table has and nobody gave.",
    )
    source_note = serializers.CharField(source="note", allow_blank=True)
    inputs = serializers.SerializerMethodField()

    @extend_schema_field(InputSerializer(many=True))
    def get_inputs(self, card: Any) -> list[dict[str, str]]:
        return inputs_of(card.rows)


class PreservingCautionSerializer(serializers.Serializer):
    topic = serializers.CharField()
    text = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    how = serializers.CharField()


class KitchenSerializer(serializers.Serializer):
    area_m2 = serializers.FloatField(help_text="Of the dishes of which it is known.")
    unknown = serializers.IntegerField(help_text="Dishes of which the room is not known.")
    dishes = ReckonedSerializer(many=True)
    cautions = PreservingCautionSerializer(many=True)
    pairs = PairSerializer(many=True)


class ProductSerializer(serializers.Serializer):
    key = serializers.CharField()
    section = serializers.CharField()
    name = serializers.CharField()
    unit = serializers.ChoiceField(choices=[(u, u) for u in ("quart", "pint", "lb")])
    pounds_each = serializers.FloatField(
        allow_null=True, help_text="Fresh, for one; null where the source tells no weight."
    )
    note = serializers.CharField(allow_blank=True)
    source = serializers.CharField()  # type: ignore[assignment]
    how = serializers.CharField()


class PublishedYieldSerializer(serializers.Serializer):
    key = serializers.CharField()
    kg = serializers.FloatField(source="figure.kg")
    per = serializers.ChoiceField(
        source="figure.per", choices=[(p.value, p.value) for p in Per]
    )
    printed = serializers.CharField()
    note = serializers.CharField(allow_blank=True)
    source = serializers.CharField()  # type: ignore[assignment]
    how = serializers.CharField()


class KitchenTablesSerializer(serializers.Serializer):
    """What the tables have of a crop."""

    crop = serializers.CharField()
    part_eaten = serializers.CharField(allow_blank=True)
    products = ProductSerializer(many=True)
    yields = PublishedYieldSerializer(many=True)

"""The shape of seasons, offers and plantings over the API. What may be is for the services."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.models import Garden
from accounts.roles import COORDINATE
from library.catalogue.models import Species, Variety
from library.catalogue.serializers import KnownBy
from library.growouts.experience import Experience
from library.growouts.models import (
    GardenOffer,
    GrowerOffer,
    OwnPlanting,
    Season,
    WantedVariety,
)
from library.growouts.services.rooms import Room
from library.lending.serializers import VarietyRef, VisibleField


def metres(help_text: str = "") -> serializers.DecimalField:
    """Square metres, as large as somebody may write them; the services know what may be."""
    return serializers.DecimalField(
        max_digits=12, decimal_places=4, required=False, allow_null=True, help_text=help_text
    )


class SeasonSerializer(serializers.ModelSerializer):
    """A season. ``growers`` who offer gardens are counted for coordinators only."""

    varieties = serializers.IntegerField(read_only=True, help_text="How many it is to renew.")
    promises = serializers.IntegerField(read_only=True)
    growers = serializers.SerializerMethodField()

    class Meta:
        model = Season
        fields = [
            "year",
            "offers_until",
            "note",
            "opened_at",
            "closed_on",
            "varieties",
            "promises",
            "growers",
        ]
        read_only_fields = fields

    @extend_schema_field(serializers.IntegerField(allow_null=True))
    def get_growers(self, season: Any) -> int | None:
        return season.growers if self.context["request"].user.has_perm(COORDINATE) else None


class ChangeSeasonInput(serializers.Serializer):
    offers_until = serializers.DateField(required=False, allow_null=True)
    note = serializers.CharField(max_length=4000, required=False, allow_blank=True)


class NewSeasonInput(ChangeSeasonInput):
    year = serializers.IntegerField(help_text="The year in which its spring falls.")


class WantedSerializer(serializers.ModelSerializer):
    """A variety that the season is to renew. What coordinators noted is for coordinators."""

    variety = VarietyRef(read_only=True)
    chance_of_loss = serializers.SerializerMethodField(
        help_text="0 to 1, within the years that the rules look ahead."
    )
    weight = serializers.SerializerMethodField()
    most_growers = serializers.SerializerMethodField()
    why = serializers.SerializerMethodField()

    class Meta:
        model = WantedVariety
        fields = ["variety", "chance_of_loss", "weight", "most_growers", "why"]
        read_only_fields = fields

    def _told(self, value: Any) -> Any:
        return value if self.context["request"].user.has_perm(COORDINATE) else None

    @extend_schema_field(serializers.FloatField(allow_null=True))
    def get_chance_of_loss(self, wanted: WantedVariety) -> float | None:
        return self.context.get("lost", {}).get(wanted.variety_id)

    @extend_schema_field(serializers.FloatField(allow_null=True))
    def get_weight(self, wanted: WantedVariety) -> float | None:
        return self._told(float(wanted.weight))

    @extend_schema_field(serializers.IntegerField(allow_null=True))
    def get_most_growers(self, wanted: WantedVariety) -> int | None:
        return self._told(wanted.most_growers)

    @extend_schema_field(serializers.CharField(allow_null=True))
    def get_why(self, wanted: WantedVariety) -> str | None:
        return self._told(wanted.why)


class VarietiesInput(serializers.Serializer):
    varieties = serializers.PrimaryKeyRelatedField(
        queryset=Variety.objects.all(), many=True, allow_empty=False
    )


class WantInput(VarietiesInput):
    weight = serializers.DecimalField(
        max_digits=12, decimal_places=4, required=False, help_text="0 to 100; 1 is usual."
    )
    most_growers = serializers.IntegerField(required=False, help_text="1 to 20.")
    why = serializers.CharField(max_length=250, required=False, allow_blank=True)


class DroppedSerializer(serializers.Serializer):
    dropped = serializers.IntegerField()


class GardenRef(serializers.ModelSerializer):
    class Meta:
        model = Garden
        fields = ["id", "name"]
        read_only_fields = fields


class GardenOfferSerializer(serializers.ModelSerializer):
    garden = GardenRef(read_only=True)

    class Meta:
        model = GardenOffer
        fields = [
            "garden",
            "room_m2",
            "room_next_m2",
            "can_cage",
            "can_bag",
            "can_pollinate_by_hand",
        ]
        read_only_fields = fields


class ExperienceSerializer(serializers.Serializer):
    """The share of grow-outs expected to give seed, with its 90 % range, and what went in."""

    mean = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    gave_seed = serializers.IntegerField()
    failed = serializers.IntegerField(help_text="Crossed, or not looked after.")
    excused = serializers.IntegerField(help_text="Failed otherwise; held against nobody.")
    expected = serializers.FloatField()
    weight = serializers.FloatField()
    source = serializers.CharField()  # type: ignore[assignment]


class GrowerOfferSerializer(serializers.ModelSerializer):
    season = serializers.IntegerField(source="season.year", read_only=True)
    member = serializers.CharField(source="member.display_name", read_only=True)
    gardens = GardenOfferSerializer(many=True, read_only=True)
    experience = serializers.SerializerMethodField()

    class Meta:
        model = GrowerOffer
        fields = [
            "id",
            "season",
            "member",
            "most",
            "wishes",
            "gardens",
            "experience",
            "made_at",
            "withdrawn_at",
        ]
        read_only_fields = fields

    @extend_schema_field(ExperienceSerializer)
    def get_experience(self, offer: GrowerOffer) -> dict[str, Any]:
        known: dict[int, Experience] = self.context["experience"]
        return dict(ExperienceSerializer(known[offer.member_id]).data)


class RoomInput(serializers.Serializer):
    """Room in one garden: ``room_m2``, or ``plots`` of ``plot_m2`` each."""

    garden = VisibleField(queryset=Garden.objects.all())
    room_m2 = metres()
    plots = serializers.IntegerField(required=False, allow_null=True)
    plot_m2 = metres()
    room_next_m2 = metres(
        "Of it, what may stay bound for a second season; null for all, 0 for none."
    )
    can_cage = serializers.BooleanField(required=False)
    can_bag = serializers.BooleanField(required=False)
    can_pollinate_by_hand = serializers.BooleanField(required=False)


class OfferInput(serializers.Serializer):
    season = serializers.SlugRelatedField("year", queryset=Season.objects.all())
    member = serializers.CharField(
        max_length=60,
        required=False,
        help_text="Coordinators: a display name; without it, yourself.",
    )
    most = serializers.IntegerField(help_text="Varieties at most, 1 to 50.")
    wishes = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    gardens = RoomInput(many=True, allow_empty=False)

    def rooms(self) -> list[Room]:
        return [Room(**told) for told in self.validated_data["gardens"]]


class PlantingSerializer(serializers.ModelSerializer):
    member = serializers.CharField(source="garden.member.display_name", read_only=True)
    garden = GardenRef(read_only=True)
    species: Any = serializers.SlugRelatedField("slug", read_only=True)
    variety = VarietyRef(read_only=True, allow_null=True)

    class Meta:
        model = OwnPlanting
        fields = [
            "id",
            "member",
            "garden",
            "year",
            "species",
            "variety",
            "name",
            "plants",
            "room_m2",
            "flowers",
            "for_seed",
            "note",
        ]
        read_only_fields = fields


class ChangePlantingInput(serializers.Serializer):
    """A variety of the catalogue, or a name and its species."""

    year = serializers.IntegerField(required=False)
    variety = serializers.PrimaryKeyRelatedField(
        queryset=Variety.objects.select_related("crop__species"),
        required=False,
        allow_null=True,
    )
    species = KnownBy("slug", queryset=Species.objects.all(), required=False)
    name = serializers.CharField(max_length=120, required=False, allow_blank=True)
    plants = serializers.IntegerField(required=False, allow_null=True)
    room_m2 = metres()
    flowers = serializers.BooleanField(required=False)
    for_seed = serializers.BooleanField(required=False)
    note = serializers.CharField(max_length=500, required=False, allow_blank=True)


class NewPlantingInput(ChangePlantingInput):
    garden = VisibleField(queryset=Garden.objects.all())
    year = serializers.IntegerField()

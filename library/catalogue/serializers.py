"""The shapes of the card file in the API; the rules are in the services."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from library.catalogue.figures import figure_lines
from library.catalogue.models import (
    BreedingStatus,
    Caution,
    Crop,
    How,
    SeasonNote,
    Species,
    Variety,
)
from library.catalogue.services import MOST_SYNONYMS


class FigureSerializer(serializers.Serializer):
    """A figure with its source; ``value`` is null where none was found."""

    quantity = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]  # a serializer's own label
    value = serializers.SerializerMethodField()
    unit = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]  # and its own source
    how = serializers.ChoiceField(choices=[("", ""), *How.choices])
    note = serializers.CharField()

    def get_value(self, line: Any) -> str | None:
        return line.value or None


class SourcedCautionSerializer(serializers.ModelSerializer):
    class Meta:
        model = Caution
        fields = ["topic", "text", "source", "how"]


class SpeciesSerializer(serializers.ModelSerializer):
    crops: Any = serializers.SlugRelatedField("slug", many=True, read_only=True)
    figures = serializers.SerializerMethodField()
    cautions = SourcedCautionSerializer(many=True, read_only=True)

    class Meta:
        model = Species
        fields = [
            "slug",
            "botanical_name",
            "common_name",
            "synonyms",
            "family",
            "pollination",
            "life_cycle",
            "breeding_note",
            "dioecious",
            "uncertain",
            "source",
            "how",
            "crops",
            "figures",
            "cautions",
        ]

    @extend_schema_field(FigureSerializer(many=True))
    def get_figures(self, species: Species) -> Any:
        return FigureSerializer(figure_lines(species), many=True).data


class CropSerializer(serializers.ModelSerializer):
    species = serializers.CharField(source="species.slug", read_only=True)
    botanical_name = serializers.CharField(source="species.botanical_name", read_only=True)
    crosses_with = serializers.SerializerMethodField()
    figures = serializers.SerializerMethodField()
    cautions = SourcedCautionSerializer(source="species.cautions", many=True, read_only=True)

    class Meta:
        model = Crop
        fields = [
            "slug",
            "name",
            "other_names",
            "species",
            "botanical_name",
            "crosses_with",
            "life_cycle",
            "counted_as",
            "note",
            "source",
            "how",
            "figures",
            "cautions",
        ]

    def get_crosses_with(self, crop: Crop) -> list[str]:
        """The other kinds of the same species, by slug."""
        return [kin.slug for kin in crop.species.crops.all() if kin.pk != crop.pk]

    @extend_schema_field(FigureSerializer(many=True))
    def get_figures(self, crop: Crop) -> Any:
        return FigureSerializer(figure_lines(crop.species), many=True).data


class VarietySerializer(serializers.ModelSerializer):
    crop = serializers.CharField(source="crop.slug", read_only=True)
    species = serializers.CharField(source="crop.species.slug", read_only=True)
    synonyms = serializers.SerializerMethodField()
    breeding_label = serializers.CharField(read_only=True)
    breeds_true = serializers.BooleanField(read_only=True)
    is_on_shelf = serializers.BooleanField(read_only=True)

    class Meta:
        model = Variety
        fields = [
            "id",
            "name",
            "synonyms",
            "crop",
            "species",
            "breeding_status",
            "generation",
            "breeding_label",
            "breeds_true",
            "description",
            "origin_story",
            "days_to_maturity",
            "own_caution",
            "is_rare",
            "min_population",
            "is_on_shelf",
            "added_at",
        ]

    def get_synonyms(self, variety: Variety) -> list[str]:
        return [name.name for name in variety.names.all() if name.is_synonym]


class VarietyDetailSerializer(VarietySerializer):
    """One card: with its cautions, and the revision to send along with a change."""

    cautions = serializers.SerializerMethodField()
    revision = serializers.SerializerMethodField()

    class Meta(VarietySerializer.Meta):
        fields = [*VarietySerializer.Meta.fields, "cautions", "revision"]

    @extend_schema_field(SourcedCautionSerializer(many=True))
    def get_cautions(self, variety: Variety) -> Any:
        cautions = Caution.objects.about_variety(variety)
        return SourcedCautionSerializer(cautions, many=True).data

    def get_revision(self, variety: Variety) -> int:
        return max((edit.pk for edit in variety.edits.all()), default=0)


class KnownBy(serializers.SlugRelatedField):
    """A row by what it is known by: its slug, number or code."""

    def to_internal_value(self, data):
        if "\x00" in str(data):  # PostgreSQL breaks when asked for it
            readable = str(data).replace("\x00", "\N{REPLACEMENT CHARACTER}")
            self.fail("does_not_exist", slug_name=self.slug_field, value=readable)
        return super().to_internal_value(data)


class VarietyInput(serializers.Serializer):
    """A card as somebody writes it."""

    crop = KnownBy("slug", queryset=Crop.objects.all())
    name = serializers.CharField(max_length=120)
    breeding_status = serializers.ChoiceField(choices=BreedingStatus.choices)
    generation = serializers.IntegerField(
        required=False, allow_null=True, min_value=2, max_value=30
    )
    synonyms = serializers.ListField(
        child=serializers.CharField(max_length=120), required=False, max_length=MOST_SYNONYMS
    )
    description = serializers.CharField(required=False, allow_blank=True, max_length=8000)
    origin_story = serializers.CharField(required=False, allow_blank=True, max_length=8000)
    days_to_maturity = serializers.IntegerField(
        required=False, allow_null=True, min_value=10, max_value=800
    )
    own_caution = serializers.CharField(required=False, allow_blank=True, max_length=2000)
    is_rare = serializers.BooleanField(required=False)
    min_population = serializers.IntegerField(
        required=False, allow_null=True, min_value=1, max_value=100_000
    )


class VarietyChange(VarietyInput):
    """What should change on a card; what is not named stays."""

    revision = serializers.IntegerField(
        required=False,
        min_value=0,
        max_value=2**63 - 1,
        help_text="The card's revision when you read it: a card changed since is a conflict.",
    )


class SeasonNoteSerializer(serializers.ModelSerializer):
    author = serializers.CharField(source="author.display_name", read_only=True)
    is_mine = serializers.SerializerMethodField()

    class Meta:
        model = SeasonNote
        fields = [
            "id",
            "variety",
            "year",
            "text",
            "readers",
            "author",
            "is_mine",
            "written_at",
        ]
        read_only_fields = fields

    def get_is_mine(self, note: SeasonNote) -> bool:
        return note.author_id == self.context["request"].user.pk


class SeasonNoteChange(serializers.Serializer):
    year = serializers.IntegerField(min_value=1900, max_value=2200)
    text = serializers.CharField(max_length=8000)
    readers = serializers.ChoiceField(choices=SeasonNote.Readers.choices, required=False)


class SeasonNoteInput(SeasonNoteChange):
    variety = serializers.PrimaryKeyRelatedField(queryset=Variety.objects.all())

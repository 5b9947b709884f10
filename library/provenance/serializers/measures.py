"""What the API tells of what a chain kept."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from library.provenance.asking import LEAST_LEVEL, MOST_GENES, MOST_LEVEL, reached
from library.provenance.generations import grow_outs_of
from library.provenance.measuring import ChainMeasures
from library.science.alleles import SOURCE as ALLELES_SOURCE

_SHARE = "From 0 to 1."


class LineAsked(serializers.Serializer):
    """When a line from an F1 breeds true: to what level, and at how many genes at once."""

    level = serializers.DecimalField(
        max_digits=4,
        decimal_places=1,
        min_value=LEAST_LEVEL,
        max_value=MOST_LEVEL,
        required=False,
        help_text="In percent; told beside the usual levels of 95 and 99.",
    )
    genes = serializers.IntegerField(min_value=1, max_value=MOST_GENES, default=1)


class MeasureSerializer(serializers.Serializer):
    key = serializers.CharField()
    label: Any = serializers.CharField()
    value = serializers.CharField(help_text="In words.")
    number = serializers.FloatField(allow_null=True)
    formula = serializers.CharField()
    source: Any = serializers.CharField()
    sentence = serializers.CharField()


class GrowOutSerializer(serializers.Serializer):
    lot = serializers.CharField(source="lot.number")
    harvest_year = serializers.IntegerField(source="lot.harvest_year", allow_null=True)
    generation = serializers.IntegerField(
        source="found.most_generations", help_text="By the longest way from a deposit."
    )
    plants = serializers.IntegerField(source="found.plants")
    plants_noted = serializers.BooleanField(help_text="Whether somebody counted them.")
    effective_size = serializers.FloatField(source="found.effective_size")
    kept = serializers.FloatField(source="found.kept", help_text=_SHARE)
    is_bottleneck = serializers.BooleanField()


class AlleleSerializer(serializers.Serializer):
    frequency = serializers.FloatField(help_text="In the deposits. " + _SHARE)
    kept = serializers.FloatField(help_text="The part of such forms still there. " + _SHARE)
    standard_error = serializers.FloatField()
    genes = serializers.IntegerField(help_text="How many were followed by chance.")


class ReachedSerializer(serializers.Serializer):
    level = serializers.FloatField(help_text=_SHARE)
    genes = serializers.IntegerField()
    generation = serializers.IntegerField(
        allow_null=True, help_text="The first that breeds true to it; null: none ever does."
    )


class LineSerializer(serializers.Serializer):
    generation = serializers.IntegerField(help_text="Of the lot's seed; 1 is the F1.")
    counted = serializers.BooleanField(
        help_text="Along the chain from an F1; else by the variety's card."
    )
    selfing_rate = serializers.FloatField(help_text=_SHARE)
    heterozygosity = serializers.FloatField(help_text=_SHARE)
    at_last = serializers.FloatField(help_text="What goes on varying. " + _SHARE)
    breeds_true = ReachedSerializer(many=True)
    remarks = serializers.ListField(child=serializers.CharField())
    source: Any = serializers.CharField()


class ChainMeasuresSerializer(serializers.Serializer):
    """What a chain kept, from `ChainMeasures`; the context has what was ``asked`` of a line."""

    lot = serializers.CharField(source="diversity.lot")
    gene_diversity_kept = serializers.FloatField(source="diversity.kept", help_text=_SHARE)
    gene_diversity = serializers.FloatField(source="diversity.gene_diversity", help_text=_SHARE)
    inbreeding = serializers.FloatField(source="diversity.inbreeding", help_text=_SHARE)
    effective_size = serializers.FloatField(
        source="diversity.harmonic_mean_size",
        allow_null=True,
        help_text="The harmonic mean; null where nothing was grown from seed.",
    )
    generations = serializers.FloatField(source="diversity.generations")
    fewest_generations = serializers.IntegerField(
        source="diversity.measured.fewest_generations"
    )
    most_generations = serializers.IntegerField(source="diversity.measured.most_generations")
    population = serializers.IntegerField(
        allow_null=True, help_text="Plants that keep the variety."
    )
    narrowest = serializers.SerializerMethodField()
    measures = MeasureSerializer(many=True)
    grow_outs = serializers.SerializerMethodField()
    alleles = AlleleSerializer(many=True)
    alleles_source = serializers.SerializerMethodField()
    line = serializers.SerializerMethodField()
    assumed = serializers.ListField(child=serializers.CharField())

    @extend_schema_field(serializers.CharField(allow_null=True))
    def get_narrowest(self, found: ChainMeasures) -> str | None:
        return found.narrowest.number if found.narrowest else None

    @extend_schema_field(GrowOutSerializer(many=True))
    def get_grow_outs(self, found: ChainMeasures) -> Any:
        return GrowOutSerializer(grow_outs_of(found), many=True).data

    def get_alleles_source(self, found: ChainMeasures) -> str:
        return ALLELES_SOURCE

    @extend_schema_field(LineSerializer(allow_null=True))
    def get_line(self, found: ChainMeasures) -> Any:
        if found.line is None:
            return None
        levels = reached(found.line, **self.context["asked"])
        told = {name: getattr(found.line, name) for name in _TOLD}
        return LineSerializer({**told, "breeds_true": levels}).data


_TOLD = (
    "generation",
    "counted",
    "selfing_rate",
    "heterozygosity",
    "at_last",
    "remarks",
    "source",
)

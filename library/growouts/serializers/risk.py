"""The shape of risk over the API: every number with what it is made of."""

from __future__ import annotations

import math
from typing import Any

from rest_framework import serializers

from library.catalogue.models import Variety
from library.growouts.models import Elsewhere
from library.growouts.risk.asking import LONGEST_LOOK
from library.growouts.risk.words import Told, assumptions, lot_note
from library.lending.serializers import VarietyRef
from library.science.risk import Help


def chance(help_text: str = "") -> serializers.FloatField:
    """From 0 to 1."""
    return serializers.FloatField(min_value=0, max_value=1, help_text=help_text)


class LivingSeedsSerializer(serializers.Serializer):
    """Seeds alive today; an estimate with its 90 % band, not a count."""

    low = serializers.IntegerField()
    median = serializers.IntegerField()
    high = serializers.IntegerField()


class LotAtRiskSerializer(serializers.Serializer):
    number = serializers.CharField()
    seeds = serializers.IntegerField()
    living = LivingSeedsSerializer()
    needed = serializers.IntegerField(help_text="Living seeds, enough to start again.")
    alive_then = chance("The chance that so many are alive at the end.")
    assumed = serializers.CharField(
        help_text="Why no estimate says so, and what is assumed instead; else empty."
    )


class RiskKeeperSerializer(serializers.Serializer):
    """Who keeps seed of it. The places of the library are named to its desk only."""

    name = serializers.CharField()
    is_member = serializers.BooleanField()
    fails = chance()
    lots = LotAtRiskSerializer(many=True)


class PromisedSerializer(serializers.Serializer):
    grower = serializers.CharField()
    season = serializers.IntegerField()
    success = serializers.FloatField(
        min_value=0,
        max_value=1,
        allow_null=True,
        help_text="Told to the grower and to coordinators; null for others.",
    )


class ElsewhereSerializer(serializers.ModelSerializer):
    """What a member knows of whether a variety can be had outside."""

    recorded_by = serializers.CharField(
        source="recorded_by.display_name", default=None, allow_null=True, read_only=True
    )

    class Meta:
        model = Elsewhere
        fields = ["id", "variety", "ease", "known_on", "note", "recorded_by", "recorded_at"]
        read_only_fields = fields


class CountedElsewhereSerializer(serializers.Serializer):
    chance = chance()
    record = ElsewhereSerializer(allow_null=True)


class ReserveAtRiskSerializer(serializers.Serializer):
    seeds = serializers.IntegerField(help_text="That should stay here to regrow it.")
    have = serializers.IntegerField()
    short = serializers.IntegerField()
    plants = serializers.IntegerField(help_text="That keep the variety.")
    plants_source = serializers.CharField()
    sowings = serializers.IntegerField()


class HelpfulDeedSerializer(serializers.Serializer):
    deed = serializers.ChoiceField(choices=[(one.value, one.value) for one in Help])
    words = serializers.CharField()
    lost = chance("The chance of loss after it.")
    saves = chance("By how much it falls.")


class RiskAssumptionSerializer(serializers.Serializer):
    says = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]


class RiskSerializer(serializers.Serializer):
    """A variety and its chance of loss. ``lost`` is null for a first-generation hybrid, which
    its own seed does not give again.
    """

    variety = VarietyRef()
    is_rare = serializers.BooleanField()
    years = serializers.FloatField(help_text="So far it is looked ahead.")
    lost = serializers.FloatField(min_value=0, max_value=1, allow_null=True)
    keepers = RiskKeeperSerializer(many=True)
    growing = PromisedSerializer(many=True)
    growing_fails = chance("That none of them gives seed which its place keeps.")
    elsewhere = CountedElsewhereSerializer()
    living_seeds = LivingSeedsSerializer()
    reserve = ReserveAtRiskSerializer()
    newest_harvest_year = serializers.IntegerField(allow_null=True)
    last_grown_year = serializers.IntegerField(allow_null=True)
    loans_out = serializers.IntegerField(help_text="Told, but counted for nothing.")
    would_help = HelpfulDeedSerializer(many=True)
    yearly_hazard = chance("That one place loses all it keeps in a year.")
    assumptions = RiskAssumptionSerializer(many=True)

    def to_representation(self, told: Told) -> dict[str, Any]:
        return super().to_representation(as_data(told))


def as_data(told: Told) -> dict[str, Any]:
    """A variety's risk as the serializer takes it."""
    one = told.risk
    reserve = one.reserve
    return {
        "variety": one.variety,
        "is_rare": one.variety.is_rare,
        "years": one.years,
        "lost": one.lost if told.is_counted else None,
        "keepers": [
            {
                "name": keeper.name,
                "is_member": keeper.is_member,
                "fails": keeper.fails,
                "lots": [_lot(lot) for lot in keeper.lots],
            }
            for keeper in told.keepers
        ],
        "growing": [
            {
                "grower": promised.commitment.grower.display_name,
                "season": promised.commitment.season.year,
                "success": promised.success if told.each_grower else None,
            }
            for promised in one.growing
        ],
        "growing_fails": math.prod(one.risk.growing),
        "elsewhere": {"chance": one.situation.elsewhere, "record": one.elsewhere},
        "living_seeds": _living(one.living_seeds),
        "reserve": {
            "seeds": reserve.seeds,
            "have": reserve.have,
            "short": one.reserve_short,
            "plants": reserve.population.plants,
            "plants_source": str(reserve.population.source),
            "sowings": reserve.sowings,
        },
        "newest_harvest_year": one.newest_harvest_year,
        "last_grown_year": one.last_grown_year,
        "loans_out": one.loans_out,
        "would_help": told.deeds,
        "yearly_hazard": one.situation.hazard,
        "assumptions": [{"says": says, "source": source} for says, source in assumptions(one)],
    }


def _lot(lot) -> dict[str, Any]:
    return {
        "number": lot.lot.number,
        "seeds": lot.seeds,
        "living": _living(lot.living),
        "needed": lot.needed,
        "alive_then": lot.alive,
        "assumed": lot_note(lot),
    }


def _living(living: tuple[int, int, int]) -> dict[str, int]:
    return dict(zip(("low", "median", "high"), living, strict=True))


class RiskAsked(serializers.Serializer):
    """How far one variety's risk is looked ahead."""

    years = serializers.IntegerField(
        min_value=1,
        max_value=LONGEST_LOOK,
        required=False,
        help_text="Years to look ahead; as the rules say unless told.",
    )


class ElsewhereInput(serializers.Serializer):
    variety = serializers.PrimaryKeyRelatedField(queryset=Variety.objects.all())
    ease = serializers.ChoiceField(choices=Elsewhere.Ease.choices)
    known_on = serializers.DateField(required=False)
    note = serializers.CharField(required=False, allow_blank=True, max_length=500)

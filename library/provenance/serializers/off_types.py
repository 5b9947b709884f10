"""What the API tells of off-types and of how sure a chain is, and what it takes."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.roles import BORROW
from library.catalogue.models import SpeciesFigure
from library.provenance.models import OffTypeClearance, OffTypeReport
from library.provenance.purity import ChainPurity, LinkJudgement
from library.provenance.services import MOST_PLANTS, MOST_WORDS
from library.provenance.warnings import CarriedWarning
from library.science.purity import Grade
from library.stock.models import Isolation, Lot


class _Named(serializers.ModelSerializer):
    """Who said it is told to members, by the name that they chose."""

    def name_of(self, person) -> str | None:
        request = self.context.get("request")
        may_know = request is not None and request.user.has_perm(BORROW)
        return person.display_name if person is not None and may_know else None


class OffTypeClearanceSerializer(_Named):
    lot = serializers.CharField(source="lot.number", read_only=True)
    cleared_by = serializers.SerializerMethodField()

    class Meta:
        model = OffTypeClearance
        fields = ["lot", "reason", "cleared_at", "cleared_by"]

    def get_cleared_by(self, clearance: OffTypeClearance) -> str | None:
        return self.name_of(clearance.cleared_by)


class OffTypeReportSerializer(_Named):
    """Names are told to members only. ``clearances`` are descendants that were found true."""

    lot = serializers.CharField(source="lot.number", read_only=True)
    variety_name = serializers.CharField(source="lot.variety.name", read_only=True)
    standing = serializers.BooleanField(source="stands", read_only=True)
    reported_by = serializers.SerializerMethodField()
    lifted_by = serializers.SerializerMethodField()
    clearances = OffTypeClearanceSerializer(many=True, read_only=True)

    class Meta:
        model = OffTypeReport
        fields = [
            "id",
            "lot",
            "variety_name",
            "seen_on",
            "what",
            "plants_seen",
            "plants_looked_at",
            "reported_by",
            "reported_at",
            "standing",
            "lifted_at",
            "lifted_by",
            "lift_reason",
            "clearances",
        ]

    def get_reported_by(self, report: OffTypeReport) -> str | None:
        return self.name_of(report.reported_by)

    def get_lifted_by(self, report: OffTypeReport) -> str | None:
        return self.name_of(report.lifted_by)


class LotNumberField(serializers.SlugRelatedField):
    """A lot that who asks may see, by its number."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(slug_field="number", queryset=Lot.objects.all(), **kwargs)

    def get_queryset(self):
        return Lot.objects.visible_to(self.context["request"].user)

    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, str) or not data.isprintable():
            self.fail("does_not_exist", slug_name=self.slug_field, value=repr(data)[:60])
        return super().to_internal_value(data)


class ReportIn(serializers.Serializer):
    lot = LotNumberField(help_text="The lot's number.")
    seen_on = serializers.DateField()
    what = serializers.CharField(max_length=MOST_WORDS)
    plants_seen = serializers.IntegerField(
        min_value=1, max_value=MOST_PLANTS, required=False, allow_null=True
    )
    plants_looked_at = serializers.IntegerField(
        min_value=1, max_value=MOST_PLANTS, required=False, allow_null=True
    )


class LiftIn(serializers.Serializer):
    reason = serializers.CharField(max_length=MOST_WORDS)


class ClearIn(LiftIn):
    lot = LotNumberField(help_text="The number of the descendant that was found true.")


class DistanceSerializer(serializers.ModelSerializer):
    """A published isolation distance, and how far to trust it."""

    metres = serializers.FloatField(source="number", allow_null=True)

    class Meta:
        model = SpeciesFigure
        fields = ["metres", "source", "how"]


class LinkJudgementSerializer(serializers.Serializer):
    """One stand: by the lot harvested from it, what was noted of its isolation, the distances
    published for the species, and the grade. ``share`` is the part of the chain's seed that
    came through it, 0 to 1.
    """

    lot = serializers.CharField(source="lot.number")
    harvest_year = serializers.IntegerField(source="lot.harvest_year", allow_null=True)
    grade = serializers.ChoiceField(choices=[grade.value for grade in Grade])
    sentence = serializers.CharField()
    share = serializers.FloatField()
    isolation = serializers.SerializerMethodField()
    isolation_distance_m = serializers.SerializerMethodField()
    crossing_neighbour = serializers.SerializerMethodField()
    home_distance = DistanceSerializer(source="distances.home", allow_null=True)
    certified_distance = DistanceSerializer(source="distances.certified", allow_null=True)

    @extend_schema_field(serializers.ChoiceField(choices=Isolation.choices))
    def get_isolation(self, link: LinkJudgement) -> str:
        return link.growing.isolation if link.growing else Isolation.UNKNOWN

    def get_isolation_distance_m(self, link: LinkJudgement) -> int | None:
        return link.growing.isolation_distance_m if link.growing else None

    def get_crossing_neighbour(self, link: LinkJudgement) -> str:
        return link.growing.crossing_neighbour if link.growing else ""


class CarriedWarningSerializer(serializers.Serializer):
    """A standing report, about the lot itself (``own``) or carried to it from an ancestor that
    is ``share`` of it, 0 to 1.
    """

    report = serializers.IntegerField(source="report.pk")
    lot = serializers.CharField(source="report.lot.number")
    seen_on = serializers.DateField(source="report.seen_on")
    share = serializers.FloatField()
    own = serializers.BooleanField()
    sentence = serializers.CharField()


class PuritySerializer(serializers.Serializer):
    """How sure it is that a lot was never crossed: as good as its weakest link."""

    lot = serializers.CharField()
    grade = serializers.ChoiceField(choices=[grade.value for grade in Grade])
    sentence = serializers.CharField()
    weakest = serializers.CharField(
        allow_null=True, help_text="The number of the lot whose stand decides."
    )
    links = LinkJudgementSerializer(many=True)
    warnings = CarriedWarningSerializer(many=True)

    @staticmethod
    def told(lot: Lot, purity: ChainPurity, warnings: list[CarriedWarning]) -> dict[str, Any]:
        """What is shown of a lot: its oldest link first."""
        return {
            "lot": lot.number,
            "grade": purity.grade,
            "sentence": purity.sentence,
            "weakest": purity.weakest.lot.number if purity.weakest else None,
            "links": list(purity.links.values()),
            "warnings": warnings,
        }

"""What the API shows and takes of commitments."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.models import Garden
from library.catalogue.models import Variety
from library.germination.advice import MOST_PLANTS
from library.growouts.commitments.words import sentence
from library.growouts.models import Cause, Commitment, Milestone, MilestoneReport, Season
from library.growouts.services.milestones import MOST_COUNTED, MOST_PHOTOS
from library.lending.serializers import GuidanceCautionSerializer, SowingAdviceSerializer
from library.stock.models import Isolation


class ReportOut(serializers.ModelSerializer):
    photos = serializers.SerializerMethodField(help_text="Identifiers of its photos.")

    class Meta:
        model = MilestoneReport
        fields = ["on", "number", "note", "off_types", "neighbour", "neighbour_m", "photos"]

    def get_photos(self, report) -> list[str]:
        return [str(link.photo.identifier) for link in report.photos.all()]


class MilestoneOut(serializers.ModelSerializer):
    why = serializers.SerializerMethodField()
    reports = ReportOut(many=True)

    class Meta:
        model = Milestone
        fields = ["kind", "due_on", "why", "done_on", "reports"]

    def get_why(self, row) -> str:
        return sentence(row.rule, row.inputs)


class CommitmentOut(serializers.ModelSerializer):
    season = serializers.IntegerField(source="season.year")
    variety_name = serializers.CharField(source="variety.name")
    grower = serializers.CharField(source="grower.display_name")
    garden = serializers.CharField(source="garden.name", allow_null=True)
    packets = serializers.SerializerMethodField(help_text="Codes of the packets lent for it.")
    lots = serializers.SerializerMethodField(help_text="Numbers of the lots that came of it.")
    milestones = MilestoneOut(many=True)

    class Meta:
        model = Commitment
        fields = [
            "id", "season", "variety", "variety_name", "grower", "garden", "state", "technique",
            "plants", "told", "offered_at", "answer_by", "answered_on", "answer_note",
            "suggested", "closed_on", "cause", "outcome_note", "replaces", "packets", "lots",
            "milestones",
        ]  # fmt: skip

    def get_packets(self, row) -> list[str]:
        return [link.loan.packet.code for link in row.lent.all()]

    def get_lots(self, row) -> list[str]:
        links = [link for lent in row.lent.all() for link in lent.loan.return_links.all()]
        made = {link.seed_return.lot for link in links if link.seed_return.lot_id}
        return [lot.number for lot in sorted(made, key=lambda lot: lot.pk)]


class AsideOut(serializers.Serializer):
    """A packet that is set aside; no code where it is filled once the offer is accepted."""

    lot = serializers.CharField(source="lot.number")
    harvest_year = serializers.IntegerField(source="lot.harvest_year", allow_null=True)
    seeds = serializers.IntegerField()
    code = serializers.CharField(source="packet.code", allow_null=True, default=None)


class FigureOut(serializers.Serializer):
    """A number, who says so, and whether somebody read it there."""

    label = serializers.CharField()  # type: ignore[assignment]
    value = serializers.CharField()
    unit = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    how = serializers.CharField()


class AdviceOut(serializers.Serializer):
    """What is asked and advised; it rests on the figures, and has no source of its own."""

    plants = serializers.IntegerField(source="told.plants")
    room_m2 = serializers.FloatField(source="told.room_m2")
    sowing = SowingAdviceSerializer(source="told.advice")
    isolation = serializers.ListField(child=serializers.CharField(), source="told.isolation")
    if_fewer_plants = serializers.CharField(source="told.guidance.few_plants")


class DayOut(serializers.Serializer):
    kind = serializers.ChoiceField(choices=Milestone.Kind.choices)
    on = serializers.DateField()
    why = serializers.CharField()


class GrowOutGuidanceOut(serializers.Serializer):
    """All that a grower must know: the seed for them, figures with their sources, advice."""

    seeds = serializers.IntegerField(help_text="In all packets that are set aside.")
    counted_as = serializers.CharField(source="advice.unit")
    packets = AsideOut(many=True, source="aside")
    seed_notes = serializers.ListField(child=serializers.CharField())
    figures = FigureOut(many=True)
    advice = serializers.SerializerMethodField()
    days = DayOut(many=True, source="steps")
    warnings = serializers.ListField(child=serializers.CharField(), source="guidance.warnings")
    cautions = GuidanceCautionSerializer(many=True, source="guidance.cautions")

    @extend_schema_field(AdviceOut)
    def get_advice(self, told) -> dict:
        return AdviceOut({"told": told}).data


class NoteIn(serializers.Serializer):
    note = serializers.CharField(max_length=2000, allow_blank=True, default="")


class DeclineIn(NoteIn):
    suggested = serializers.PrimaryKeyRelatedField(
        queryset=Variety.objects.all(),
        allow_null=True,
        default=None,
        help_text="A variety that the grower would rather grow.",
    )


class ReasonIn(serializers.Serializer):
    reason = serializers.CharField(max_length=2000)


class FailIn(NoteIn):
    cause = serializers.ChoiceField(choices=Cause.choices)


class OfferIn(serializers.Serializer):
    season = serializers.SlugRelatedField("year", queryset=Season.objects.all())
    variety = serializers.PrimaryKeyRelatedField(queryset=Variety.objects.all())
    garden = serializers.PrimaryKeyRelatedField(queryset=Garden.objects.all())
    technique = serializers.ChoiceField(choices=Isolation.choices)
    plants = serializers.IntegerField(
        min_value=1,
        max_value=MOST_PLANTS,
        allow_null=True,
        default=None,
        help_text="As many as keep the variety, unless told.",
    )
    despite_doubts = serializers.BooleanField(
        default=False,
        help_text="Ask although a plan would not.",
    )


class ReplaceIn(serializers.Serializer):
    garden = serializers.PrimaryKeyRelatedField(queryset=Garden.objects.all())


class CandidateOut(serializers.Serializer):
    """A garden that could take over, and why it could."""

    garden = serializers.IntegerField(source="garden.pk")
    garden_name = serializers.CharField(source="garden.name")
    grower = serializers.CharField(source="garden_offer.offer.member.display_name")
    technique = serializers.CharField()
    days_left = serializers.IntegerField(help_text="Before the autumn frost; 365: no end.")
    room_left = serializers.FloatField(help_text="Square metres.")
    likely = serializers.FloatField(source="experience.mean", help_text="To give seed, 0 to 1.")
    likely_low = serializers.FloatField(source="experience.low")
    likely_high = serializers.FloatField(source="experience.high")


class ReplacementOut(serializers.Serializer):
    days_needed = serializers.IntegerField()
    room_m2 = serializers.FloatField()
    seeds = serializers.IntegerField(help_text="Seeds that are here.")
    candidates = CandidateOut(many=True)


class StepReportIn(NoteIn):
    """A step that was done; photos are sent as multipart/form-data, up to four."""

    kind = serializers.ChoiceField(choices=Milestone.Kind.choices)
    on = serializers.DateField()
    counted = serializers.IntegerField(
        min_value=0, max_value=MOST_COUNTED, allow_null=True, default=None
    )
    off_types = serializers.IntegerField(
        min_value=0, max_value=MOST_COUNTED, allow_null=True, default=None
    )
    neighbour = serializers.CharField(max_length=120, allow_blank=True, default="")
    neighbour_m = serializers.IntegerField(
        min_value=0, max_value=MOST_COUNTED, allow_null=True, default=None
    )
    photos = serializers.ListField(
        child=serializers.FileField(), required=False, write_only=True, max_length=MOST_PHOTOS
    )

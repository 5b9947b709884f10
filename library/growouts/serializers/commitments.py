"""What the API shows and takes of commitments."""

from __future__ import annotations

from rest_framework import serializers

from library.catalogue.models import Variety
from library.growouts.commitments.words import sentence
from library.growouts.models import Cause, Commitment, Milestone, MilestoneReport
from library.growouts.services.milestones import MOST_COUNTED


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
    lot = serializers.CharField(source="seed_return.lot.number", allow_null=True)
    milestones = MilestoneOut(many=True)

    class Meta:
        model = Commitment
        fields = [
            "id", "season", "variety", "variety_name", "grower", "garden", "state", "technique",
            "plants", "told", "offered_at", "answer_by", "answered_on", "answer_note",
            "suggested", "closed_on", "cause", "outcome_note", "lot", "milestones",
        ]  # fmt: skip


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


class StepReportIn(NoteIn):
    """A step that was done; photos are sent on the page."""

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

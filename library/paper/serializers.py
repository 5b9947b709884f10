"""What the API shows and takes of paper."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from library.paper.forms import SheetForm
from library.paper.models import CardSize, Kind, LabelSheet, PaperSize, PrintJob


class LabelSheetSerializer(serializers.ModelSerializer):
    """A sheet or roll of labels; lengths in mm."""

    class Meta:
        model = LabelSheet
        fields = ["id", *SheetForm.Meta.fields]
        read_only_fields = fields


class NewLabelSheetInput(serializers.ModelSerializer):
    class Meta:
        model = LabelSheet
        fields = SheetForm.Meta.fields
        extra_kwargs: ClassVar[dict[str, Any]] = {"name": {"validators": []}}


class HowInput(serializers.Serializer):
    """On what it is printed."""

    sheet = serializers.PrimaryKeyRelatedField(
        queryset=LabelSheet.objects.all(),
        required=False,
        allow_null=True,
        help_text="For labels; without it the sheet that is used by default.",
    )
    start = serializers.IntegerField(
        required=False,
        min_value=1,
        max_value=400,
        help_text="For labels: the first place of the sheet that is free, from 1.",
    )
    paper = serializers.ChoiceField(choices=PaperSize.choices, required=False)
    card = serializers.ChoiceField(
        choices=CardSize.choices, required=False, help_text="For variety cards."
    )

    def options(self) -> dict[str, Any]:
        names = ("sheet", "start", "paper", "card")
        told = self.validated_data
        return {name: told[name] for name in names if told.get(name) is not None}


class PrintJobInput(HowInput):
    kind = serializers.ChoiceField(choices=Kind.choices)
    keys = serializers.ListField(
        child=serializers.CharField(max_length=40),
        required=False,
        max_length=2000,
        help_text="Labels: codes of packets, numbers of lots. Cards: ids of varieties, numbers "
        "of lots. Slips: ids of loans. Shelf list: ids of places. Season sheet: ids of "
        "commitments.",
    )


class PrintJobSerializer(serializers.ModelSerializer):
    id = serializers.UUIDField(source="identifier", read_only=True)
    percent = serializers.IntegerField(read_only=True)

    class Meta:
        model = PrintJob
        fields = [
            "id",
            "kind",
            "state",
            "total",
            "made",
            "percent",
            "asked_at",
            "finished_at",
            "trouble",
        ]
        read_only_fields = fields

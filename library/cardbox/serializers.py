"""What the API tells of files of the card box, and the shape of what it takes."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from library.cardbox.models import CardImport, CardRow, Kind, Question


class CardFileInput(serializers.Serializer):
    """A list: as a file in a form (multipart/form-data), or CSV as text in JSON."""

    kind = serializers.ChoiceField(choices=Kind.choices)
    file = serializers.FileField(
        max_length=200,
        required=False,
        help_text="CSV, XLSX or ODS with a row of headings; at most 20 MB and 60,000 rows.",
    )
    content = serializers.CharField(
        required=False, trim_whitespace=False, help_text="The text of a CSV file."
    )
    file_name = serializers.CharField(max_length=200, required=False, default="list.csv")

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        if ("content" in sent) == ("file" in sent):
            raise serializers.ValidationError(
                {"content": _("Send either the list's text as content, or the file.")}
            )
        return sent


class ColumnsInput(serializers.Serializer):
    """Which column (counted from 0) holds each field, and how the file is written."""

    fields_of_columns = serializers.DictField(
        child=serializers.IntegerField(min_value=0, max_value=1000),
        help_text='For instance `{"crop": 0, "name": 2}`.',
    )
    options = serializers.DictField(
        child=serializers.BooleanField(), required=False, default=dict
    )
    day_first = serializers.BooleanField(
        required=False, allow_null=True, default=None,
        help_text="Whether 3/4/2019 is 3 April. Null where the file has no such days.",
    )  # fmt: skip
    comma_is_decimal = serializers.BooleanField(
        required=False, allow_null=True, default=None,
        help_text="Whether 1,500 is one and a half. Null where the file has no such numbers.",
    )  # fmt: skip


class AnswersInput(serializers.Serializer):
    answers = serializers.DictField(
        child=serializers.CharField(max_length=40),
        help_text='Question number to answer, for instance `{"7": "new"}`.',
    )

    def validate_answers(self, answers: dict[str, str]) -> dict[int, str]:
        if not all(key.isascii() and key.isdigit() and len(key) < 19 for key in answers):
            raise serializers.ValidationError("Name each question by its number.")
        return {int(key): value for key, value in answers.items()}


class QuestionSerializer(serializers.ModelSerializer):
    options = serializers.SerializerMethodField()

    class Meta:
        model = Question
        fields = ["id", "field", "asked", "options", "answer"]

    def get_options(self, question: Question) -> list[dict[str, str]]:
        return [{"answer": value, "words": words} for value, words in question.options]


class CardImportSerializer(serializers.ModelSerializer):
    brought_by = serializers.CharField(source="brought_by.display_name", default=None)

    class Meta:
        model = CardImport
        fields = ["id", "kind", "state", "file_name", "rows_in_file", "brought_by",
                  "brought_at", "confirmed_on", "finished_at"]  # fmt: skip


class CardImportDetailSerializer(CardImportSerializer):
    columns = serializers.JSONField()
    headings = serializers.ListField(child=serializers.CharField())
    fates = serializers.SerializerMethodField()
    questions = serializers.SerializerMethodField()

    class Meta(CardImportSerializer.Meta):
        fields = [*CardImportSerializer.Meta.fields, "headings", "columns", "fates",
                  "questions"]  # fmt: skip

    @extend_schema_field({"type": "object", "additionalProperties": {"type": "integer"}})
    def get_fates(self, row: CardImport) -> dict[str, int]:
        return row.rows.by_fate()

    @extend_schema_field(QuestionSerializer(many=True))
    def get_questions(self, row: CardImport) -> list[dict[str, Any]]:
        """Those that are open, the first hundred."""
        return list(QuestionSerializer(row.questions.filter(answer="")[:100], many=True).data)


class CardRowSerializer(serializers.ModelSerializer):
    sentence = serializers.CharField()
    cells = serializers.ListField(child=serializers.CharField())

    class Meta:
        model = CardRow
        fields = ["number", "fate", "sentence", "cells", "made"]

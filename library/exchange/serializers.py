"""What the API tells of chains that were sent, and the shape of what it takes."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from library.exchange.looking import Fate
from library.exchange.models import ChainImport
from library.lending.serializers import QuantityInput
from library.stock.models import StoragePlace


class ChainInput(serializers.Serializer):
    """A chain's file: as text in JSON, or as a file in a form."""

    content = serializers.CharField(
        required=False,
        trim_whitespace=False,
        help_text="The file's text: PROV-JSON, at most 5 MB and 5,000 lots.",
    )
    file = serializers.FileField(
        required=False, help_text="The same as an uploaded file (multipart/form-data)."
    )
    file_name = serializers.CharField(max_length=200, required=False, allow_blank=True)

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        if ("content" in sent) == ("file" in sent):
            raise serializers.ValidationError(
                {"content": _("Send either the file's text as content, or the file.")}
            )
        return sent

    def words(self) -> dict[str, Any]:
        """What ``preview_chain`` asks."""
        sent = self.validated_data
        file = sent.get("file")
        name = sent.get("file_name") or (file.name if file else "")
        return {"content": file.read() if file else sent["content"], "file_name": name}


class ReceiveChainInput(QuantityInput):
    """What the desk counted or weighed, and who brought it."""

    on = serializers.DateField(required=False)
    thousand_seed_weight_g = serializers.DecimalField(
        max_digits=9, decimal_places=4, required=False, allow_null=True
    )
    storage_place = serializers.PrimaryKeyRelatedField(
        queryset=StoragePlace.objects.all(), required=False, allow_null=True
    )
    packets = serializers.IntegerField(required=False, allow_null=True)
    seeds_each = serializers.IntegerField(required=False, allow_null=True)
    depositor = serializers.CharField(
        max_length=60, required=False, help_text="A member's display name."
    )
    source_name = serializers.CharField(
        max_length=120,
        required=False,
        allow_blank=True,
        help_text="Who brought it, if not a member and if they agreed to be named.",
    )
    may_be_named = serializers.BooleanField(required=False)


class LotSeenSerializer(serializers.Serializer):
    """A lot of the file, and what becomes of it."""

    identifier = serializers.UUIDField(source="told.identifier")
    number = serializers.CharField(source="told.number", help_text="Its number there.")
    library = serializers.CharField(source="told.library")
    variety = serializers.IntegerField(source="variety.pk", help_text="The card it is of here.")
    variety_name = serializers.CharField(source="variety.name")
    harvest_year = serializers.IntegerField(source="told.harvest_year", allow_null=True)
    fate = serializers.ChoiceField(
        choices=[(fate.value, fate.value) for fate in Fate],
        help_text="new: will be written down; known: recorded here already; ours: one of our "
        "own that comes home; left: only a lot that is known here comes from it.",
    )
    here = serializers.CharField(
        source="here.number", allow_null=True, default=None, help_text="Its number here."
    )
    differs = serializers.ListField(
        child=serializers.CharField(), help_text="Where the file says otherwise than is here."
    )


class ChainImportSerializer(serializers.ModelSerializer):
    brought_by = serializers.CharField(
        source="brought_by.display_name", read_only=True, allow_null=True, default=None
    )
    lot = serializers.CharField(
        source="lot.number", read_only=True, allow_null=True, default=None
    )

    class Meta:
        model = ChainImport
        fields = [
            "id",
            "state",
            "file_name",
            "brought_by",
            "brought_at",
            "decided_at",
            "lot",
        ]
        read_only_fields = fields


class ChainImportDetailSerializer(ChainImportSerializer):
    """With the lots of the file, while it waits: the one it is about first."""

    lots = serializers.SerializerMethodField()
    all_ours = serializers.SerializerMethodField()

    class Meta(ChainImportSerializer.Meta):
        fields = [*ChainImportSerializer.Meta.fields, "lots", "all_ours"]
        read_only_fields = fields

    @extend_schema_field(LotSeenSerializer(many=True))
    def get_lots(self, chain_import: ChainImport) -> Any:
        seen = self.context.get("seen")
        rows = list(reversed(seen.lots.values())) if seen else []
        return LotSeenSerializer(rows, many=True).data

    def get_all_ours(self, chain_import: ChainImport) -> bool:
        """Whether this very library wrote the file."""
        seen = self.context.get("seen")
        return bool(seen and seen.is_all_ours)

"""What the API tells of a lot's relatives."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from library.provenance.walking import Relative
from library.stock.models import Lot
from library.stock.serializers import LotSerializer


class RelativeSerializer(serializers.Serializer):
    """A lot of the chain, and how it is related to the one that was asked about."""

    lot = serializers.SerializerMethodField()
    nearest = serializers.IntegerField(help_text="Links of the shortest way there.")
    farthest = serializers.IntegerField(help_text="Links of the longest way there.")
    share = serializers.FloatField(
        help_text="The part of the younger lot that comes from the older, from 0 to 1."
    )

    @extend_schema_field(LotSerializer)
    def get_lot(self, relative: Relative) -> dict[str, Any]:
        lots: dict[int, Lot] = self.context["lots"]
        return dict(LotSerializer(lots[relative.lot], context=self.context).data)

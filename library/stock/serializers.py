"""What the API tells of the stock, and the shape of what it takes."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.roles import SERVE_DESK
from library.catalogue.serializers import KnownBy
from library.stock.models import (
    ForeignLot,
    Growing,
    Lot,
    LotAmendment,
    LotParent,
    Movement,
    Packet,
    StoragePlace,
)
from library.stock.services.amendments import AMENDABLE


def for_the_desk(serializer: serializers.BaseSerializer) -> bool:
    """Whether who asked may know where seed lies and who recorded what."""
    request = serializer.context.get("request")
    return request is not None and request.user.has_perm(SERVE_DESK)


class ForeignLotSerializer(serializers.ModelSerializer):
    """Whose a lot was that another library kept, as that library told of it."""

    class Meta:
        model = ForeignLot
        fields = ["library", "number", "place", "grower_name", "origin_there"]


class LotSerializer(serializers.ModelSerializer):
    variety_name = serializers.CharField(source="variety.name", read_only=True)
    crop = serializers.CharField(source="variety.crop.slug", read_only=True)
    in_jar = serializers.IntegerField(source="loose", read_only=True)
    in_packets = serializers.IntegerField(source="packed", read_only=True)
    is_withheld = serializers.SerializerMethodField()
    kept_by = serializers.SerializerMethodField()
    grown_by = serializers.SerializerMethodField()
    elsewhere = serializers.SerializerMethodField()

    class Meta:
        model = Lot
        fields = [
            "number",
            "identifier",
            "variety",
            "variety_name",
            "crop",
            "origin",
            "harvest_year",
            "received_on",
            "counted_as",
            "in_jar",
            "in_packets",
            "awaits_first_test",
            "is_withheld",
            "kept_by",
            "grown_by",
            "elsewhere",
        ]

    @extend_schema_field(ForeignLotSerializer(allow_null=True))
    def get_elsewhere(self, lot: Lot) -> Any:
        """Null for a lot of this library."""
        return ForeignLotSerializer(lot.foreign).data if lot.is_elsewhere else None

    def get_is_withheld(self, lot: Lot) -> bool:
        return bool(lot.withheld_reason)

    def get_kept_by(self, lot: Lot) -> str | None:
        """The display name of the member who keeps it; null: the library, or for a lot kept
        elsewhere another one.
        """
        return lot.custodian.display_name if lot.custodian else None

    def get_grown_by(self, lot: Lot) -> str | None:
        return lot.grower.display_name if lot.grower else None


class GrowingSerializer(serializers.ModelSerializer):
    """How it was grown; never where."""

    class Meta:
        model = Growing
        exclude = ["id", "lot", "garden"]


class ParentSerializer(serializers.ModelSerializer):
    lot = serializers.CharField(source="parent.number")

    class Meta:
        model = LotParent
        fields = ["lot", "share"]


class AmendmentSerializer(serializers.ModelSerializer):
    class Meta:
        model = LotAmendment
        fields = ["field", "old_value", "new_value", "reason", "amended_at"]


class MovementSerializer(serializers.ModelSerializer):
    packet = serializers.CharField(source="packet.code", default=None, allow_null=True)
    recorded_by = serializers.CharField(
        source="recorded_by.display_name", default=None, allow_null=True
    )

    class Meta:
        model = Movement
        fields = [
            "id",
            "kind",
            "loose_change",
            "packed_change",
            "packet",
            "on",
            "reason",
            "mends",
            "recorded_by",
            "recorded_at",
        ]


class LotDetailSerializer(LotSerializer):
    """A lot whole. ``storage_place``, ``withheld_reason`` and ``movements`` are null for anyone
    but the desk.
    """

    parents = ParentSerializer(source="parent_links", many=True, read_only=True)
    children = serializers.SerializerMethodField()
    growing = serializers.SerializerMethodField()
    amendments = serializers.SerializerMethodField()
    storage_place = serializers.SerializerMethodField()
    withheld_reason = serializers.SerializerMethodField()
    movements = serializers.SerializerMethodField()

    class Meta(LotSerializer.Meta):
        fields = [
            *LotSerializer.Meta.fields,
            "thousand_seed_weight_g",
            "moisture_percent",
            "origin_region",
            "origin_story",
            "source_name",
            "parents",
            "children",
            "growing",
            "amendments",
            "storage_place",
            "withheld_reason",
            "movements",
        ]

    def get_children(self, lot: Lot) -> list[str]:
        return [link.child.number for link in lot.child_links.all()]

    @extend_schema_field(GrowingSerializer(allow_null=True))
    def get_growing(self, lot: Lot) -> Any:
        growing = getattr(lot, "growing", None)
        return GrowingSerializer(growing).data if growing else None

    @extend_schema_field(AmendmentSerializer(many=True))
    def get_amendments(self, lot: Lot) -> Any:
        rows = list(lot.amendments.all())
        if not for_the_desk(self):
            rows = [row for row in rows if row.field != "withheld"]
        return AmendmentSerializer(rows, many=True).data

    def get_storage_place(self, lot: Lot) -> int | None:
        return lot.storage_place_id if for_the_desk(self) else None

    def get_withheld_reason(self, lot: Lot) -> str | None:
        return lot.withheld_reason if for_the_desk(self) else None

    @extend_schema_field(MovementSerializer(many=True, allow_null=True))
    def get_movements(self, lot: Lot) -> Any:
        if not for_the_desk(self):
            return None
        return MovementSerializer(lot.movements.with_details(), many=True).data


class PacketSerializer(serializers.ModelSerializer):
    """A packet. ``storage_place`` is null for anyone but the desk."""

    lot = serializers.CharField(source="lot.number", read_only=True)
    variety = serializers.IntegerField(source="lot.variety_id", read_only=True)
    variety_name = serializers.CharField(source="lot.variety.name", read_only=True)
    storage_place = serializers.SerializerMethodField()

    class Meta:
        model = Packet
        fields = [
            "code",
            "lot",
            "variety",
            "variety_name",
            "seeds",
            "state",
            "sealed_on",
            "storage_place",
        ]

    def get_storage_place(self, packet: Packet) -> int | None:
        return packet.storage_place_id if for_the_desk(self) else None


class StoragePlaceSerializer(serializers.ModelSerializer):
    """A place. Climate that the place does not say itself is its nearest container's."""

    path = serializers.SerializerMethodField()
    climate_temperature_c = serializers.SerializerMethodField()
    climate_humidity_percent = serializers.SerializerMethodField()

    class Meta:
        model = StoragePlace
        fields = [
            "id",
            "name",
            "kind",
            "inside",
            "path",
            "temperature_c",
            "humidity_percent",
            "climate_temperature_c",
            "climate_humidity_percent",
            "note",
        ]

    def get_path(self, place: StoragePlace) -> str:
        return self.context["tree"].path(place.pk)

    def get_climate_temperature_c(self, place: StoragePlace) -> float | None:
        return _number(self.context["tree"].climate(place.pk).temperature_c)

    def get_climate_humidity_percent(self, place: StoragePlace) -> float | None:
        return _number(self.context["tree"].climate(place.pk).humidity_percent)


def _number(value: Any) -> float | None:
    return None if value is None else float(value)


class PackIn(serializers.Serializer):
    packets = serializers.IntegerField(min_value=1)
    seeds_each = serializers.IntegerField(min_value=1)
    on = serializers.DateField(required=False)
    storage_place = serializers.PrimaryKeyRelatedField(
        queryset=StoragePlace.objects.all(), required=False, allow_null=True
    )


class DiscardIn(serializers.Serializer):
    """Either ``seeds`` from the jar or the code of a ``packet`` on the shelf."""

    seeds = serializers.IntegerField(min_value=1, required=False)
    packet = KnownBy(slug_field="code", queryset=Packet.objects.all(), required=False)
    on = serializers.DateField(required=False)
    reason = serializers.CharField(max_length=250)


class MoveIn(serializers.Serializer):
    storage_place = serializers.PrimaryKeyRelatedField(
        queryset=StoragePlace.objects.all(), allow_null=True
    )
    with_packets = serializers.BooleanField(default=True)
    on = serializers.DateField(required=False)


class AmendIn(serializers.Serializer):
    field = serializers.ChoiceField(choices=AMENDABLE)
    value = serializers.CharField(allow_blank=True, allow_null=True, max_length=8000)
    reason = serializers.CharField(max_length=2000)

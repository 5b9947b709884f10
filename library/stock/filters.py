"""How lots and packets are filtered over the API; declared by hand."""

from __future__ import annotations

import django_filters as filters

from library.catalogue.models import Variety
from library.stock.models import Lot, Origin, Packet


class LotFilter(filters.FilterSet):
    variety = filters.ModelChoiceFilter(
        queryset=Variety.objects.all(), label="The variety's id."
    )
    crop = filters.CharFilter(field_name="variety__crop__slug", label="The crop's slug.")
    harvest_year = filters.NumberFilter(field_name="harvest_year")
    origin = filters.ChoiceFilter(
        choices=Origin.choices,
        label="How it came about. The lots that other libraries kept (elsewhere) are left out "
        "unless they are asked for.",
    )
    on_shelf = filters.BooleanFilter(method="shelf", label="Whether a packet is on the shelf.")
    awaiting_test = filters.BooleanFilter(
        field_name="awaits_first_test", label="Whether it is held for its first test."
    )

    class Meta:
        model = Lot
        fields: list[str] = []

    def filter_queryset(self, queryset):
        lots = super().filter_queryset(queryset)
        return lots if self.form.cleaned_data["origin"] else lots.kept_here()

    def shelf(self, lots, name, on_shelf):
        return lots.on_shelf() if on_shelf else lots.off_shelf()


class PacketFilter(filters.FilterSet):
    lot = filters.CharFilter(field_name="lot__number", label="The lot's number.")
    state = filters.ChoiceFilter(choices=Packet.State.choices)

    class Meta:
        model = Packet
        fields: list[str] = []

"""What the API's lists may be filtered by."""

from __future__ import annotations

import django_filters as filters

from accounts.models import Garden


class GardenFilter(filters.FilterSet):
    mine = filters.BooleanFilter(method="only_mine", label="Only the caller's own gardens")
    name = filters.CharFilter(lookup_expr="icontains")

    class Meta:
        model = Garden
        fields = ["mine", "name", "is_default"]

    def only_mine(self, gardens, name: str, value: bool):
        if value:
            return gardens.filter(member=self.request.user)
        return gardens.exclude(member=self.request.user)

"""What is due over the API."""

from __future__ import annotations

from typing import Any

from django.db.models import Min, OuterRef, Subquery
from rest_framework import mixins, viewsets

from accounts.access import IsCoordinator
from library.germination.filters import BenchFilter
from library.germination.models import BenchRules, GerminationTest, TestDate
from library.germination.serializers.bench import TestDateSerializer


class BenchViewSet(mixins.ListModelMixin, viewsets.GenericViewSet):
    """Lots with seed left that are to be tested, soonest first, by when and why, and what it
    will cost them in seeds; not those under test (coordinators).
    """

    queryset = TestDate.objects.none()  # for the API's description; see get_queryset
    serializer_class = TestDateSerializer
    permission_classes = [IsCoordinator]
    filterset_class = BenchFilter

    def get_queryset(self):
        planned = GerminationTest.objects.planned().filter(lot=OuterRef("lot")).order_by()
        first = planned.values("lot").annotate(first=Min("pk")).values("first")
        dates = TestDate.objects.with_seed().being_tested(False).with_lot()
        dates = dates.select_related("lot__estimate").annotate(planned_test=Subquery(first))
        return dates.order_by("due_on", "pk")

    def get_serializer_context(self) -> dict[str, Any]:
        context = super().get_serializer_context()
        # Not while the API describes itself: no database is needed for that.
        if self.request is None:
            return dict(context)
        return {**context, "rules": BenchRules.current()}

"""The bench over the API; each write calls the service that its page calls."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, status, viewsets
from rest_framework.decorators import action
from rest_framework.permissions import SAFE_METHODS
from rest_framework.response import Response

from accounts.access import IsCoordinator, IsDesk, IsMemberOrReadOnly
from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from library.errors import Refused
from library.germination import services
from library.germination.filters import BenchFilter, GerminationTestFilter
from library.germination.models import BenchRules, GerminationTest, TestDate
from library.germination.serializers import (
    CloseIn,
    GerminationTestSerializer,
    TestDateSerializer,
    TestIn,
    VoidIn,
)
from library.stock.models import Lot


class ReadAsCatalogueWriteAtDesk(IsDesk):
    """Tests are read like the catalogue and written by the desk."""

    def has_permission(self, request, view) -> bool:
        if request.method in SAFE_METHODS:
            return IsMemberOrReadOnly().has_permission(request, view)
        return super().has_permission(request, view)


class GerminationTestViewSet(IdempotentMixin, viewsets.ReadOnlyModelViewSet):
    """Germination tests with their dishes, result and exact interval."""

    queryset = GerminationTest.objects.none()  # for the API's description; see get_queryset
    serializer_class = GerminationTestSerializer
    permission_classes = [ReadAsCatalogueWriteAtDesk]
    filterset_class = GerminationTestFilter

    def get_queryset(self):
        lots = Lot.objects.visible_to(self.request.user)
        return GerminationTest.objects.filter(lot__in=lots).with_results()

    def filter_queryset(self, queryset):
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    def get_serializer_context(self) -> dict[str, Any]:
        context = super().get_serializer_context()
        # Not while the API describes itself: no database is needed for that.
        return context if self.request is None else {**context, "rules": BenchRules.current()}

    @extend_schema(
        request=TestIn, responses={201: GerminationTestSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request) -> Response:
        """Record a whole test, or start one by leaving ``closed_on`` out (desk)."""
        asked = self._asked(TestIn)
        test = _record(asked) if "closed_on" in asked else _start(asked)
        return self._answer(test, status.HTTP_201_CREATED)

    @extend_schema(
        request=CloseIn, responses=GerminationTestSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    def close(self, request, pk: str) -> Response:
        """Write down the counts of a running test (desk)."""
        asked = {"on": timezone.localdate()} | self._asked(CloseIn)
        return self._answer(services.close_test(test=self.get_object(), **asked))

    @extend_schema(
        request=VoidIn, responses=GerminationTestSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    def void(self, request, pk: str) -> Response:
        """Set a test aside; its seed stays used (desk)."""
        asked = self._asked(VoidIn)
        return self._answer(services.void_test(test=self.get_object(), **asked))

    def _asked(self, shape: type) -> dict[str, Any]:
        asked = shape(data=self.request.data)
        asked.is_valid(raise_exception=True)
        return {"by": self.request.user} | asked.validated_data

    def _answer(self, test: GerminationTest, code: int = status.HTTP_200_OK) -> Response:
        fresh = self.get_queryset().get(pk=test.pk)
        return Response(self.get_serializer(fresh).data, status=code)


def _record(asked: dict[str, Any]) -> GerminationTest:
    return services.record_test(**asked)


def _start(asked: dict[str, Any]) -> GerminationTest:
    dishes = asked.pop("replicates")
    if len({dish["seeds"] for dish in dishes}) > 1 or any(len(dish) > 1 for dish in dishes):
        raise Refused(
            _(
                "A test that is started has dishes of one size and no counts yet; give "
                "closed_on to record a test that is over."
            ),
            field="replicates",
        )
    return services.start_test(
        replicates=len(dishes),
        seeds_each=dishes[0]["seeds"],
        on=asked.pop("started_on"),
        **asked,
    )


class BenchViewSet(mixins.ListModelMixin, viewsets.GenericViewSet):
    """Lots with seed left that are to be tested, soonest first; not those under test
    (coordinators).
    """

    queryset = TestDate.objects.none()  # for the API's description; see get_queryset
    serializer_class = TestDateSerializer
    permission_classes = [IsCoordinator]
    filterset_class = BenchFilter

    def get_queryset(self):
        dates = TestDate.objects.with_seed().being_tested(False).with_lot()
        return dates.order_by("due_on", "pk")

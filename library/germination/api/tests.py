"""Tests over the API: planned, laid out, counted day by day, closed, corrected, set aside."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import status, viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from library.errors import Refused
from library.germination import services
from library.germination.api.base import Asking, ReadAsCatalogueWriteAtDesk, known_here_as
from library.germination.filters import GerminationTestFilter
from library.germination.models import BenchRules, GerminationTest, Replicate
from library.germination.serializers.asked import (
    AmendTestIn,
    CloseIn,
    DayCountIn,
    FinishIn,
    OnIn,
    TestIn,
    VoidIn,
)
from library.germination.serializers.tests import GerminationTestSerializer
from library.stock.models import Lot


def _acts(shape: type) -> Callable:
    """The description of an action that takes such a shape and answers with the test."""
    return extend_schema(
        request=shape, responses=GerminationTestSerializer, parameters=[KEY_PARAMETER]
    )


class GerminationTestViewSet(Asking, IdempotentMixin, viewsets.ReadOnlyModelViewSet):
    """Germination tests with their dishes, day counts, result and exact interval."""

    queryset = GerminationTest.objects.none()  # for the API's description; see get_queryset
    serializer_class = GerminationTestSerializer
    permission_classes = [ReadAsCatalogueWriteAtDesk]
    filterset_class = GerminationTestFilter

    def get_queryset(self):
        lots = Lot.objects.visible_to(self.request.user)
        return GerminationTest.objects.filter(lot__in=lots).with_results().with_all_counts()

    def filter_queryset(self, queryset):
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    def get_serializer_context(self) -> dict[str, Any]:
        context = super().get_serializer_context()
        # Not while the API describes itself: no database is needed for that.
        if self.request is None:
            return dict(context)
        return {**context, "rules": BenchRules.current()}

    @extend_schema(
        request=TestIn, responses={201: GerminationTestSerializer}, parameters=[KEY_PARAMETER]
    )
    def create(self, request: Request) -> Response:
        """Record a whole test, start one by leaving ``closed_on`` out, or plan one (desk)."""
        asked = self.asked(TestIn)
        kind, planned = asked.pop("kind"), asked.pop("planned")
        if "closed_on" in asked:
            test = services.record_test(**asked)
        else:
            verb = services.plan_test if planned else services.start_test
            with known_here_as(on="started_on", seeds_each="replicates"):
                test = verb(kind=kind, on=asked.pop("started_on"), **_sizes(asked))
        return self._answer(test, status.HTTP_201_CREATED)

    @_acts(OnIn)
    @action(detail=True, methods=["post"])
    def begin(self, request: Request, pk: str) -> Response:
        """Draw the seed of a planned test and lay it out (desk)."""
        return self._done(services.begin_test, OnIn)

    @_acts(DayCountIn)
    @action(detail=True, methods=["post"])
    def counts(self, request: Request, pk: str) -> Response:
        """Write down what was taken out of a dish on one day (desk)."""
        test, asked = self.get_object(), self._on(DayCountIn)
        with known_here_as(replicates="dish"):
            services.count_dish(dish=_dish(test, asked.pop("dish")), **asked)
        return self._answer(test)

    @_acts(FinishIn)
    @action(detail=True, methods=["post"], url_path="finish-group")
    def finish_group(self, request: Request, pk: str) -> Response:
        """Close the group that was counted; ``so_far`` says what follows (desk)."""
        return self._done(services.finish_group, FinishIn)

    @_acts(OnIn)
    @action(detail=True, methods=["post"], url_path="sow-more")
    def sow_more(self, request: Request, pk: str) -> Response:
        """Draw and sow the next group of a test with few seeds (desk)."""
        return self._done(services.sow_more, OnIn)

    @_acts(CloseIn)
    @action(detail=True, methods=["post"])
    def close(self, request: Request, pk: str) -> Response:
        """Write down the last counts of a running test (desk)."""
        return self._done(services.close_test, CloseIn)

    @_acts(AmendTestIn)
    @action(detail=True, methods=["post"])
    def amend(self, request: Request, pk: str) -> Response:
        """Correct a closed test; what it said before stays readable (desk)."""
        test = self.get_object()
        with known_here_as(replicates="dishes"):
            services.amend_test(test=test, **self.asked(AmendTestIn))
        return self._answer(test)

    @_acts(VoidIn)
    @action(detail=True, methods=["post"])
    def void(self, request: Request, pk: str) -> Response:
        """Set a test aside; its seed stays used (desk)."""
        test = self.get_object()
        services.void_test(test=test, **self.asked(VoidIn))
        return self._answer(test)

    def _on(self, shape: type) -> dict[str, Any]:
        return {"on": timezone.localdate()} | self.asked(shape)

    def _done(self, verb: Callable, shape: type) -> Response:
        test = self.get_object()
        verb(test=test, **self._on(shape))
        return self._answer(test)

    def _answer(self, test: GerminationTest, code: int = status.HTTP_200_OK) -> Response:
        fresh = self.get_queryset().get(pk=test.pk)
        return Response(self.get_serializer(fresh).data, status=code)


def _sizes(asked: dict[str, Any]) -> dict[str, Any]:
    """The dishes as a test that is laid out knows them: so many of one size."""
    dishes = asked.pop("replicates", None)
    if dishes:
        asked |= {"replicates": len(dishes), "seeds_each": dishes[0]["seeds"]}
    return asked


def _dish(test: GerminationTest, number: int) -> Replicate:
    dishes = {dish.number: dish for dish in test.replicates.all()}
    if number not in dishes:
        raise Refused(
            _("Test %(test)s has no dish %(number)s; it has %(dishes)s.")
            % {"test": test.pk, "number": number, "dishes": len(dishes)},
            field="dish",
        )
    return dishes[number]

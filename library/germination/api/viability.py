"""A lot's viability over the API."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from library.errors import Refused
from library.germination.estimates import counted_tests, estimate_of
from library.germination.models import BenchRules
from library.germination.serializers.viability import (
    Course,
    ViabilityAsked,
    ViabilitySerializer,
)
from library.science.dates import add_years
from library.stock.models import Lot
from library.stock.services.checks import in_words

YEARS_AHEAD, MOST_YEARS_AHEAD = 10, 50


class ViabilityView(GenericAPIView):
    """A lot's viability, read like the catalogue."""

    queryset = Lot.objects.none()  # for the API's description; see get_queryset
    serializer_class = ViabilitySerializer
    lookup_field = "number"
    pagination_class = None
    filter_backends: list = []

    def get_queryset(self):
        lots = Lot.objects.visible_to(self.request.user)
        species = "variety__crop__species"
        return lots.select_related(f"{species}__viability_constants").prefetch_related(
            "keepings", f"{species}__figures"
        )

    @extend_schema(parameters=[ViabilityAsked])
    def get(self, request: Request, number: str) -> Response:
        """How much of a lot is alive: today or on a day, over time, its tests as points, the
        day of its next test, and all that this rests on.
        """
        lot = get_object_or_404(self.get_queryset(), number=number)
        asked = ViabilityAsked(data=request.query_params)
        asked.is_valid(raise_exception=True)
        rules = BenchRules.current()
        tests = counted_tests(lot)
        viability = estimate_of(lot, rules=rules, tests=tests)
        today = max(timezone.localdate(), viability.stored_on)
        days = _days(asked.validated_data, viability.stored_on, today)
        course = Course(
            lot=lot,
            viability=viability,
            tests=tests,
            today=today,
            on=asked.validated_data.get("on"),
            days=days,
            level_percent=rules.chance_percent,
        )
        return Response(self.get_serializer(course).data)


def _days(asked: dict[str, Any], stored_on: dt.date, today: dt.date) -> list[dt.date]:
    """The days over which the estimate is shown; none of those asked for is out of range."""
    start = asked.get("start", stored_on)
    until = asked.get("until", max(start, add_years(today, YEARS_AHEAD)))
    latest = add_years(today, MOST_YEARS_AHEAD)
    for field, day in (("on", asked.get("on")), ("from", start), ("until", until)):
        if day is not None and not stored_on <= day <= latest:
            raise Refused(
                _(
                    "%(day)s cannot be asked for; give a day from %(first)s, when its storage "
                    "began, to %(last)s."
                )
                % {
                    "day": in_words(day),
                    "first": in_words(stored_on),
                    "last": in_words(latest),
                },
                field=field,
            )
    if until < start:
        raise Refused(
            _("%(until)s is before %(start)s; give a last day that is not before the first.")
            % {"until": in_words(until), "start": in_words(start)},
            field="until",
        )
    return _spaced(start, until, asked["points"])


def _spaced(start: dt.date, until: dt.date, points: int) -> list[dt.date]:
    """So many days from the first to the last; fewer where there are not so many between."""
    whole = (until - start).days
    steps = sorted({round(step * whole / (points - 1)) for step in range(points)})
    return [start + dt.timedelta(days=step) for step in steps]

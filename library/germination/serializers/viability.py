"""What the API tells of a lot's viability: today, over time, and what it rests on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from library.germination.estimates import CountedTest, LotViability
from library.germination.models import LotEstimate, TestDate
from library.germination.reasons import told
from library.germination.serializers.bench import in_percent
from library.science.germination import exact_interval
from library.science.longevity import Known
from library.science.reasons import Reason
from library.stock.models import Lot

FEWEST_POINTS, MOST_POINTS, USUAL_POINTS = 2, 200, 41


@dataclass(frozen=True)
class Course:
    """A lot's viability as somebody asked for it: today, perhaps on a day, and on several."""

    lot: Lot
    viability: LotViability
    tests: list[CountedTest]
    today: dt.date
    on: dt.date | None
    days: list[dt.date]
    level_percent: int

    @property
    def test_date(self) -> TestDate | None:
        return TestDate.objects.filter(lot=self.lot).first()

    @property
    def to_regrow(self) -> LotEstimate | None:
        return LotEstimate.objects.filter(lot=self.lot).exclude(regrow_rule="").first()


class ViabilityAsked(serializers.Serializer):
    """The days that are asked for; what of them can be is for the view to say."""

    on = serializers.DateField(required=False, help_text="The day of `then`.")
    until = serializers.DateField(
        required=False, help_text="The last day of `over_time`; else ten years from today."
    )
    points = serializers.IntegerField(
        min_value=FEWEST_POINTS,
        max_value=MOST_POINTS,
        default=USUAL_POINTS,
        help_text="How many days of `over_time`, evenly spaced.",
    )

    def get_fields(self) -> dict[str, serializers.Field]:
        start = serializers.DateField(
            required=False,
            source="start",
            help_text="The first day of `over_time`; else that on which its storage began.",
        )
        return {**super().get_fields(), "from": start}  # no attribute can have that name


class PointSerializer(serializers.Serializer):
    """The share alive on a day, in percent: the median and the band that holds it 9 times in
    10; and the chance that it is the library's standard or more.
    """

    on = serializers.DateField()
    low_percent = serializers.FloatField()
    median_percent = serializers.FloatField()
    high_percent = serializers.FloatField()
    chance_percent = serializers.FloatField()


class TestPointSerializer(serializers.Serializer):
    """A closed test as a point: its percent and its exact 95 % interval. ``counts`` is false
    where its dishes disagree, so that the estimate leaves it out.
    """

    __test__ = False  # not a test class, whatever its name says to pytest

    test = serializers.IntegerField(source="key")
    on = serializers.DateField()
    germinated = serializers.IntegerField()
    sown = serializers.IntegerField()
    percent = serializers.FloatField()
    low_percent = serializers.FloatField()
    high_percent = serializers.FloatField()
    counts = serializers.BooleanField(source="agrees")

    def to_representation(self, test: CountedTest) -> dict[str, Any]:
        low, high = exact_interval(test.germinated, test.sown)
        return {
            "test": test.key,
            "on": test.on.isoformat(),
            "germinated": test.germinated,
            "sown": test.sown,
            "percent": in_percent(test.germinated / test.sown),
            "low_percent": in_percent(low),
            "high_percent": in_percent(high),
            "counts": test.agrees,
        }


class ReasonSerializer(serializers.Serializer):
    """A rule or an assumption: its name, what it says, what went in, and who published it."""

    rule = serializers.CharField(source="key")
    sentence = serializers.SerializerMethodField()
    inputs = serializers.JSONField()
    source = serializers.CharField()  # type: ignore[assignment]  # a serializer's own source

    def get_sentence(self, reason: Reason) -> str:
        return told(reason).sentence


class StretchSerializer(serializers.Serializer):
    """So many days in one place: the warmth, and the moisture of the seed, percent of its fresh
    weight.
    """

    since = serializers.DateField()
    until = serializers.DateField()
    temperature_c = serializers.FloatField()
    moisture_percent = serializers.FloatField()


class StorageSerializer(serializers.Serializer):
    """The lot's way through its storage; never where that was."""

    stored_on = serializers.DateField()
    stretches = StretchSerializer(many=True)
    assumptions = ReasonSerializer(many=True)


class LongevitySerializer(serializers.Serializer):
    """How fast the species' seed dies: the constants of the viability equation, from what they
    are known, and how far a lot may be off (the standard deviation of the logarithm of its rate
    of loss).
    """

    known = serializers.ChoiceField([each.value for each in Known])
    ke = serializers.FloatField(source="constants.ke")
    cw = serializers.FloatField(source="constants.cw")
    ch = serializers.FloatField(source="constants.ch")
    cq = serializers.FloatField(source="constants.cq")
    spread = serializers.FloatField()
    sentence = serializers.SerializerMethodField()
    source = serializers.CharField(source="why.source")  # type: ignore[assignment]  # its own

    def get_sentence(self, longevity: Any) -> str:
        return told(longevity.why).sentence


class RetestSerializer(serializers.ModelSerializer):
    """The day by which the lot is tested (again), and why that day."""

    why = serializers.CharField(read_only=True)

    class Meta:
        model = TestDate
        fields = ["kind", "due_on", "rule", "why", "inputs", "source"]


class RegrowSerializer(serializers.ModelSerializer):
    """Why the lot should be regrown, and what the coordinator decided, if anything."""

    rule = serializers.CharField(source="regrow_rule")
    why = serializers.CharField(source="why_regrow")

    class Meta:
        model = LotEstimate
        fields = ["rule", "why", "inputs", "decided"]


class ViabilitySerializer(serializers.Serializer):
    """A lot's viability today, ``then`` (on the day that was asked for) and over time. Where
    nothing can predict it, ``predictable`` is false, ``cannot`` says why, and all of that is
    null or empty. ``falls_on`` is the day on which its chance of being above the standard falls
    to ``level_percent``.
    """

    lot = serializers.CharField(source="lot.number")
    variety = serializers.IntegerField(source="lot.variety_id")
    variety_name = serializers.CharField(source="lot.variety.name")
    standard_percent = serializers.SerializerMethodField()
    level_percent = serializers.IntegerField()
    predictable = serializers.SerializerMethodField()
    cannot = ReasonSerializer(source="viability.cannot", allow_null=True)
    today = serializers.SerializerMethodField()
    then = serializers.SerializerMethodField()
    over_time = serializers.SerializerMethodField()
    falls_on = serializers.SerializerMethodField()
    tests = TestPointSerializer(many=True)
    retest = RetestSerializer(source="test_date", allow_null=True)
    regrow = RegrowSerializer(source="to_regrow", allow_null=True)
    storage = serializers.SerializerMethodField()
    longevity = LongevitySerializer(
        source="viability.estimate.longevity", allow_null=True, default=None
    )

    def get_standard_percent(self, course: Course) -> float:
        return in_percent(course.viability.standard)

    def get_predictable(self, course: Course) -> bool:
        return course.viability.estimate is not None

    @extend_schema_field(PointSerializer(allow_null=True))
    def get_today(self, course: Course) -> Any:
        return _point(course.viability, course.today)

    @extend_schema_field(PointSerializer(allow_null=True))
    def get_then(self, course: Course) -> Any:
        return _point(course.viability, course.on) if course.on else None

    @extend_schema_field(PointSerializer(many=True))
    def get_over_time(self, course: Course) -> Any:
        return list(_points(course.viability, course.days))

    def get_falls_on(self, course: Course) -> dt.date | None:
        return course.viability.falls_on(course.level_percent / 100)

    @extend_schema_field(StorageSerializer)
    def get_storage(self, course: Course) -> Any:
        history = course.viability.history
        storage = {
            "stored_on": history.stored_on,
            "stretches": list(_stretches(course.viability)),
            "assumptions": history.notes,
        }
        return StorageSerializer(storage).data


def _point(viability: LotViability, on: dt.date) -> dict[str, Any] | None:
    return next(_points(viability, [on]), None)


def _points(viability: LotViability, days: list[dt.date]) -> Iterator[dict[str, Any]]:
    for on, seen in zip(days, viability.over(days), strict=False):
        yield {
            "on": on.isoformat(),
            "low_percent": in_percent(seen.low),
            "median_percent": in_percent(seen.median),
            "high_percent": in_percent(seen.high),
            "chance_percent": in_percent(seen.chance_above),
        }


def _stretches(viability: LotViability) -> Iterator[dict[str, Any]]:
    history = viability.history
    for stretch, (since, until) in zip(history.stretches, pairwise(history.days), strict=True):
        yield {
            "since": since,
            "until": until,
            "temperature_c": stretch.temperature_c,
            "moisture_percent": round(stretch.moisture_percent, 2),
        }

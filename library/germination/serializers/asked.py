"""The shape of what the bench takes over the API; the rules are in the services."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from rest_framework import serializers

from library.catalogue.serializers import KnownBy
from library.germination.models import GerminationTest
from library.germination.services import COUNTS, MOST_IN_A_REPLICATE, MOST_REPLICATES
from library.stock.models import Lot

Kind = GerminationTest.Kind
MOST_GROUPS = 400  # of a test with few seeds, in groups of the smallest size


def _count(**words: Any) -> serializers.IntegerField:
    return serializers.IntegerField(min_value=0, max_value=MOST_IN_A_REPLICATE, **words)


class CountIn(serializers.Serializer):
    """The last counts of one dish, those counted by day included; ``dead`` that is left out is
    the rest, another that is left out stays.
    """

    normal = _count()
    abnormal = _count(required=False)
    hard = _count(required=False)
    fresh = _count(required=False)
    dead = _count(required=False)


class DishIn(CountIn):
    seeds = serializers.IntegerField(min_value=1, max_value=MOST_IN_A_REPLICATE)
    normal = _count(required=False)


class TestIn(serializers.Serializer):
    """With ``closed_on`` the test is recorded whole, its dishes counted. Without it, it is
    started now, or ``planned`` for the day ``started_on``, and ``replicates`` says no more than
    the seeds in each dish; left out, the library says how many. A ``sequential`` test sows few
    seeds at a time, by the rules of the bench, and names no dishes.
    """

    __test__ = False  # not a test class, whatever its name says to pytest

    lot = KnownBy(slug_field="number", queryset=Lot.objects.all())
    kind = serializers.ChoiceField(Kind.choices, default=Kind.FIXED)
    planned = serializers.BooleanField(default=False)
    started_on = serializers.DateField()
    closed_on = serializers.DateField(required=False)
    replicates = serializers.ListField(
        child=DishIn(), min_length=1, max_length=MOST_REPLICATES, required=False
    )
    substrate = serializers.CharField(max_length=80, required=False, allow_blank=True)
    temperature_c = serializers.CharField(max_length=40, required=False, allow_blank=True)
    directions = serializers.CharField(max_length=400, required=False, allow_blank=True)
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        over = "closed_on" in sent
        if over and sent["kind"] == Kind.SEQUENTIAL:
            raise _wrong(
                "kind",
                _(
                    "A test with few seeds is not recorded whole: start it, count its groups "
                    "and finish them."
                ),
            )
        if over and sent["planned"]:
            raise _wrong(
                "planned", _("A test that is over is not planned; give one of the two.")
            )
        if over and "replicates" not in sent:
            raise _wrong("replicates", _("Say what was counted in each dish."))
        if not over:
            _check_not_counted(sent.get("replicates", []))
        return sent


def _check_not_counted(dishes: list[dict[str, int]]) -> None:
    if len({dish["seeds"] for dish in dishes}) > 1 or any(len(dish) > 1 for dish in dishes):
        raise _wrong(
            "replicates",
            _(
                "A test that is started has dishes of one size and no counts yet; give "
                "closed_on to record a test that is over."
            ),
        )


def _wrong(field: str, sentence: str) -> serializers.ValidationError:
    return serializers.ValidationError({field: [sentence]})


class OnIn(serializers.Serializer):
    """``on`` is today unless it is given."""

    on = serializers.DateField(required=False)


class DayCountIn(OnIn):
    """What was taken out of one dish on one day, in all: sent again, it says the same again. An
    earlier count of that day is replaced. What is left out is 0.
    """

    dish = serializers.IntegerField(min_value=1, max_value=MOST_GROUPS)
    normal = _count()
    abnormal = _count(default=0)
    dead = _count(default=0)


class FinishIn(OnIn):
    """What is left in the group after the last count; ``dead`` that is left out is the rest."""

    hard = _count(default=0)
    fresh = _count(default=0)
    dead = _count(required=False)


class CloseIn(OnIn):
    """One row for each dish that is not finished, in the order of their numbers."""

    replicates = serializers.ListField(
        child=CountIn(), min_length=1, max_length=MOST_REPLICATES
    )


class AmendedDishIn(serializers.Serializer):
    """A dish by its number; a count that is left out stays, but ``dead`` is then the rest."""

    number = serializers.IntegerField(min_value=1, max_value=MOST_GROUPS)
    normal = _count(required=False)
    abnormal = _count(required=False)
    hard = _count(required=False)
    fresh = _count(required=False)
    dead = _count(required=False)

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        if not sent.keys() & set(COUNTS):
            raise _wrong("number", _("Say which counts of the dish are to be corrected."))
        return sent


class AmendTestIn(serializers.Serializer):
    reason = serializers.CharField(max_length=250)
    started_on = serializers.DateField(required=False)
    closed_on = serializers.DateField(required=False)
    dishes = serializers.ListField(
        child=AmendedDishIn(), required=False, min_length=1, max_length=MOST_GROUPS
    )

    def validate_dishes(self, dishes: list[dict[str, int]]) -> dict[int, dict[str, int]]:
        """By their numbers, as the service takes them."""
        by_number = {dish.pop("number"): dish for dish in dishes}
        if len(by_number) < len(dishes):
            raise serializers.ValidationError(_("Name each dish once."))
        return by_number


class VoidIn(serializers.Serializer):
    reason = serializers.CharField(max_length=250)

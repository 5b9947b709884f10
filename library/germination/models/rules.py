"""The library's own rules for its bench."""

from __future__ import annotations

from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


def _percent(label: Any, default: int, *, least: int = 1, most: int = 99, help_text: Any = ""):
    return models.PositiveSmallIntegerField(
        label,
        default=default,
        validators=[MinValueValidator(least), MaxValueValidator(most)],
        help_text=help_text,
    )


class BenchRules(models.Model):
    """The library's own standard for its seed. One row."""

    standard_percent = _percent(_("germination the library wants, %"), 70)
    first_test_within_days = models.PositiveSmallIntegerField(
        _("days until a new lot's first test"),
        default=90,
        validators=[MinValueValidator(1), MaxValueValidator(365)],
    )
    hold_until_tested = models.BooleanField(
        _("do not lend a new lot before its first test"), default=True
    )

    chance_percent = _percent(
        _("chance of being above that, %"),
        80,
        least=50,
        help_text=_("A lot is tested again on the day its chance falls to this."),
    )
    test_share_percent = _percent(_("most of a lot that one test may cost, %"), 10, most=50)
    risk_good_percent = _percent(
        _("risk of calling a good lot poor, %"),
        10,
        most=40,
        help_text=_("For tests with few seeds."),
    )
    risk_poor_percent = _percent(
        _("risk of calling a poor lot good, %"),
        10,
        most=40,
        help_text=_("For tests with few seeds."),
    )
    width_points = _percent(
        _("distance between a good lot and a poor one, points"),
        15,
        least=5,
        most=40,
        help_text=_("Half of it lies above the library's standard, half below."),
    )
    group_seeds = models.PositiveSmallIntegerField(
        _("seeds sown at a time"),
        default=10,
        validators=[MinValueValidator(5), MaxValueValidator(50)],
        help_text=_("For tests with few seeds."),
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="bench_rules_one_row")]

    def __str__(self) -> str:
        return "bench rules"

    @classmethod
    def current(cls) -> BenchRules:
        return cls.objects.get_or_create(pk=1)[0]

"""What the chance of loss rests on that nothing else in the library knows."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.catalogue.models import Variety
from library.growouts.querysets import ElsewhereQuerySet


class GrowOutRules(models.Model):
    """How the library looks ahead, and what it expects of a grow-out. One row."""

    horizon_years = models.PositiveSmallIntegerField(
        _("years to look ahead"),
        default=3,
        validators=[MinValueValidator(1), MaxValueValidator(50)],
    )
    yearly_hazard_percent = models.DecimalField(
        _("chance in a year that one place loses all it keeps, %"),
        max_digits=4,
        decimal_places=1,
        default=3,
        validators=[MinValueValidator(0), MaxValueValidator(50)],
        help_text=_("Fire, flood, mice, a freezer that fails, a move."),
    )
    usual_success_percent = models.PositiveSmallIntegerField(
        _("chance that a grow-out of somebody new gives seed, %"),
        default=70,
        validators=[MinValueValidator(1), MaxValueValidator(99)],
    )
    apart_m = models.PositiveIntegerField(
        _("metres between two growers of one variety"),
        default=1000,
        validators=[MaxValueValidator(100_000)],
        help_text=_("So that one hailstorm does not take both."),
    )
    answer_within_days = models.PositiveSmallIntegerField(
        _("days a grower has to answer an offer"),
        default=14,
        validators=[MinValueValidator(1), MaxValueValidator(120)],
    )
    plan_seconds = models.PositiveSmallIntegerField(
        _("seconds a plan is worked on"),
        default=60,
        validators=[MinValueValidator(1), MaxValueValidator(1800)],
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="growout_rules_one_row")]

    def __str__(self) -> str:
        return "grow-out rules"

    @classmethod
    def current(cls) -> GrowOutRules:
        return cls.objects.get_or_create(pk=1)[0]


class Elsewhere(models.Model):
    """What a member knows of whether a variety can still be had outside; the newest counts."""

    class Ease(models.TextChoices):
        EASILY = "easily", _("easily")
        WITH_ASKING = "with_asking", _("with some asking")
        DOUBTFUL = "doubtful", _("doubtful")
        NOT_FOUND = "not_found", _("looked for and not found")

    variety = models.ForeignKey(Variety, on_delete=models.CASCADE, related_name="elsewhere")
    ease = models.CharField(_("can it be had?"), max_length=12, choices=Ease)
    known_on = models.DateField(_("as of"))
    note = models.CharField(_("how do you know?"), max_length=500, blank=True)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    recorded_at = models.DateTimeField(default=timezone.now)

    objects = ElsewhereQuerySet.as_manager()

    class Meta:
        ordering = ["-known_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ease__in=["easily", "with_asking", "doubtful", "not_found"]),
                name="elsewhere_ease_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.variety_id}: {self.ease}"

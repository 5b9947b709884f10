"""What a member wants to grow and save seed of, in one garden and one season.

It hangs on the garden: a garden that is removed, or forgotten with its member, takes it along.
"""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from accounts.models import Garden
from library.catalogue.models import Variety
from library.household.querysets import SavedVarietyQuerySet, SavingPlanQuerySet
from library.science.isolation import Technique
from library.science.rotation import MOST_YEARS
from library.stock.models import Lot

USUAL_YEARS = 6
USUAL_CHANCE_PERCENT = 50


class KeptApart(models.TextChoices):
    """What its grower does to keep a planting from crossing, besides distance."""

    NONE = Technique.NONE.value, _("nothing but distance")
    BAG = Technique.BAG.value, _("bags over the flowers")
    CAGE = Technique.CAGE.value, _("a cage over the plants")
    HAND_POLLINATION = Technique.HAND_POLLINATION.value, _("pollinating by hand")
    TIME = Technique.TIME.value, _("flowering at another time")


class SavingPlan(models.Model):
    """A garden's list for one season, called after the year in which its spring falls."""

    garden = models.ForeignKey(Garden, on_delete=models.CASCADE, related_name="saving_plans")
    year = models.PositiveSmallIntegerField(
        _("year"), validators=[MinValueValidator(1900), MaxValueValidator(2200)]
    )
    room_m2 = models.DecimalField(
        _("room for seed crops, m²"),
        max_digits=8,
        decimal_places=1,
        validators=[MinValueValidator(0)],
    )
    apart_m = models.PositiveIntegerField(
        _("how far apart two beds of it can be, m"), null=True, blank=True
    )
    years_ahead = models.PositiveSmallIntegerField(
        _("years to look ahead"),
        default=USUAL_YEARS,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_YEARS)],
    )
    chance_percent = models.PositiveSmallIntegerField(
        _("how sure seed must be, %"),
        default=USUAL_CHANCE_PERCENT,
        validators=[MinValueValidator(50), MaxValueValidator(95)],
    )
    made_at = models.DateTimeField(default=timezone.now)

    objects = SavingPlanQuerySet.as_manager()

    class Meta:
        ordering = ["-year", "garden__name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["garden", "year"], name="saving_plan_once_for_garden_and_year"
            ),
            models.CheckConstraint(
                condition=Q(
                    year__range=(1900, 2200),
                    room_m2__gt=0,
                    years_ahead__range=(1, MOST_YEARS),
                    chance_percent__range=(50, 95),
                ),
                name="saving_plan_figures_can_be",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.garden_id} in {self.year}"

    def get_absolute_url(self) -> str:
        return reverse("own-garden-plan", args=[self.pk])


class SavedVariety(models.Model):
    """A variety on the list: from which lot, how many plants, and how it is kept apart."""

    plan = models.ForeignKey(SavingPlan, on_delete=models.CASCADE, related_name="choices")
    variety = models.ForeignKey(Variety, on_delete=models.CASCADE, related_name="+")
    lot = models.ForeignKey(
        Lot, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    plants = models.PositiveIntegerField(
        _("plants"), null=True, blank=True, help_text=_("Empty: as many as keep the variety.")
    )
    technique = models.CharField(
        _("kept apart by"), max_length=20, choices=KeptApart, default=KeptApart.NONE
    )
    keeps_years = models.PositiveSmallIntegerField(
        _("years that its seed keeps, as I know it"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(50)],
    )
    note = models.CharField(_("note"), max_length=500, blank=True)
    added_at = models.DateTimeField(default=timezone.now)

    objects = SavedVarietyQuerySet.as_manager()

    class Meta:
        ordering = ["variety__folded_name", "pk"]
        verbose_name_plural = "saved varieties"
        constraints = [
            models.UniqueConstraint(fields=["plan", "variety"], name="saved_variety_once"),
            models.CheckConstraint(
                condition=Q(technique__in=KeptApart.values),
                name="saved_variety_technique_known",
            ),
            models.CheckConstraint(
                condition=Q(plants=None) | Q(plants__gte=1), name="saved_variety_has_plants"
            ),
            models.CheckConstraint(
                condition=Q(keeps_years=None) | Q(keeps_years__range=(1, 50)),
                name="saved_variety_keeps_some_years",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.variety_id} in {self.plan_id}"

    def get_absolute_url(self) -> str:
        return reverse("own-garden-choice", args=[self.pk])

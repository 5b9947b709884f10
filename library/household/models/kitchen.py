"""What a household eats and preserves of one garden in one year, and what the member knows
better than the tables.

It hangs on the garden, as the lists of seed do: what is forgotten with it is forgotten.
"""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from accounts.models import Garden
from library.catalogue.models import Crop, Variety
from library.household.querysets import DishQuerySet, KitchenPlanQuerySet
from library.science.kitchen import Per


class YieldPer(models.TextChoices):
    """What a member counts their own harvest by."""

    PLANT = Per.PLANT.value, _("from one plant")
    METRE = Per.METRE.value, _("from one metre of row")
    SQUARE_METRE = Per.SQUARE_METRE.value, _("from one square metre")


class KitchenPlan(models.Model):
    """A year's kitchen: what is to come of one garden."""

    garden = models.ForeignKey(Garden, on_delete=models.CASCADE, related_name="kitchen_plans")
    year = models.PositiveSmallIntegerField(
        _("year"), validators=[MinValueValidator(1900), MaxValueValidator(2200)]
    )
    margin_percent = models.PositiveSmallIntegerField(
        _("margin for a bad year, %"), default=0, validators=[MaxValueValidator(500)]
    )
    made_at = models.DateTimeField(default=timezone.now)

    objects = KitchenPlanQuerySet.as_manager()

    class Meta:
        ordering = ["-year", "garden__name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["garden", "year"], name="kitchen_plan_once_for_garden_and_year"
            ),
            models.CheckConstraint(
                condition=Q(year__range=(1900, 2200), margin_percent__range=(0, 500)),
                name="kitchen_plan_figures_can_be",
            ),
        ]

    def __str__(self) -> str:
        return f"kitchen of {self.garden_id} in {self.year}"

    def get_absolute_url(self) -> str:
        return reverse("kitchen-plan", args=[self.pk])


def _own(label, **options):
    return models.DecimalField(
        label,
        max_digits=9,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        **options,
    )


class Dish(models.Model):
    """Something that is eaten or preserved: so much of it, so many times a year.

    ``product`` is the key of a row of the tables, empty for what is eaten fresh (then the
    amount is kilograms). What is ``own`` is the member's own figure and goes before a table's.
    """

    plan = models.ForeignKey(KitchenPlan, on_delete=models.CASCADE, related_name="dishes")
    crop = models.ForeignKey(Crop, on_delete=models.CASCADE, related_name="+")
    variety = models.ForeignKey(
        Variety, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    product = models.CharField(_("as"), max_length=200, blank=True)
    amount = models.DecimalField(
        _("how much"), max_digits=8, decimal_places=2, validators=[MinValueValidator(0)]
    )
    times = models.PositiveSmallIntegerField(_("times a year"), default=1)
    own_kg_each = _own(_("fresh produce for one, kg"))
    yield_key = models.CharField(_("yield"), max_length=200, blank=True)
    own_yield_kg = _own(_("my harvest, kg"))
    own_yield_per = models.CharField(
        _("my harvest is"), max_length=15, choices=YieldPer, default=YieldPer.METRE
    )
    own_between_rows_cm = models.PositiveSmallIntegerField(
        _("between rows, cm"), null=True, blank=True
    )
    own_in_row_cm = models.PositiveSmallIntegerField(_("in the row, cm"), null=True, blank=True)
    save_seed = models.BooleanField(_("save seed of it too"), default=False)
    note = models.CharField(_("note"), max_length=500, blank=True)

    objects = DishQuerySet.as_manager()

    class Meta:
        ordering = ["crop__name", "pk"]
        verbose_name_plural = "dishes"
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gt=0, times__gte=1), name="dish_is_some"
            ),
            models.CheckConstraint(
                condition=Q(own_kg_each=None) | Q(own_kg_each__gt=0),
                name="dish_takes_some_produce",
            ),
            models.CheckConstraint(
                condition=Q(own_yield_kg=None) | Q(own_yield_kg__gt=0),
                name="dish_own_yield_is_some",
            ),
            models.CheckConstraint(
                condition=Q(own_between_rows_cm=None, own_in_row_cm=None)
                | Q(own_between_rows_cm__gte=1, own_in_row_cm__gte=1),
                name="dish_own_distances_both_or_none",
            ),
            models.CheckConstraint(
                condition=Q(own_yield_per__in=YieldPer.values), name="dish_own_yield_per_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} × {self.times} of {self.crop_id}"

    def get_absolute_url(self) -> str:
        return reverse("kitchen-dish", args=[self.pk])

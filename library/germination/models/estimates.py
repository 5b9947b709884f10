"""What is known of a lot's viability today, and the day by which it is tested again."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.germination.querysets import (
    LotEstimateQuerySet,
    PlannedSowingQuerySet,
    TestDateQuerySet,
)
from library.germination.reasons import rows_for, sentence_for
from library.stock.models import Lot


class TestDate(models.Model):
    """The day by which a lot must be tested (again), and why that day."""

    __test__ = False  # not a test class, whatever its name says to pytest

    class Kind(models.TextChoices):
        FIRST = "first", _("first test")
        RETEST = "retest", _("retest")

    lot = models.OneToOneField(Lot, on_delete=models.CASCADE, related_name="test_date")
    kind = models.CharField(max_length=10, choices=Kind)
    due_on = models.DateField()
    rule = models.CharField(max_length=60)
    inputs = models.JSONField(default=dict)
    source = models.TextField(blank=True)
    set_at = models.DateTimeField(default=timezone.now)

    objects = TestDateQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["due_on"], name="test_date_due")]

    def __str__(self) -> str:
        return f"{self.kind} {self.due_on}"

    @property
    def why(self) -> str:
        """Why that day, in words."""
        return sentence_for(self.rule, self.inputs)

    @property
    def why_inputs(self) -> list[tuple[str, Any]]:
        """What the rule was given, as labelled rows."""
        return rows_for(self.inputs)


class LotEstimate(models.Model):
    """A lot's viability on a day, from its storage and its tests: shares from 0 to 1.

    Kept beside the lot so that lists need not compute it; ``low`` and ``high`` are the 90 %
    band, ``chance`` that of being above the library's standard on that day. ``evidence`` is
    the tests that went in: what the coordinator ``decided`` of a lot to regrow holds until
    they change. Lots that nothing can predict have no row.
    """

    class Decided(models.TextChoices):
        KEEP = "keep", _("goes on being lent")
        WITHHOLD = "withhold", _("taken off the lending shelf")

    lot = models.OneToOneField(Lot, on_delete=models.CASCADE, related_name="estimate")
    on = models.DateField()
    low = models.FloatField()
    median = models.FloatField()
    high = models.FloatField()
    chance = models.FloatField()
    standard_percent = models.PositiveSmallIntegerField()
    regrow_rule = models.CharField(max_length=60, blank=True)
    inputs = models.JSONField(default=dict)
    evidence = models.JSONField(default=list, help_text=_("Test, germinated, sown."))
    decided = models.CharField(max_length=10, choices=Decided, blank=True)
    computed_at = models.DateTimeField(default=timezone.now)

    objects = LotEstimateQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["on", "lot"], name="estimate_oldest_first"),
            models.Index(
                fields=["lot"], condition=~Q(regrow_rule=""), name="estimate_to_regrow"
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    low__gte=0, low__lte=F("median"), median__lte=F("high"), high__lte=1
                ),
                name="estimate_band_in_order",
            ),
            models.CheckConstraint(
                condition=Q(chance__gte=0, chance__lte=1), name="estimate_chance_is_a_share"
            ),
        ]

    def __str__(self) -> str:
        return f"estimate of {self.lot_id} on {self.on}"

    @property
    def why_regrow(self) -> str:
        """Why the lot should be regrown, in words; empty while it need not be."""
        return sentence_for(self.regrow_rule, self.inputs) if self.regrow_rule else ""

    @property
    def is_under_standard(self) -> bool:
        """Whether less is likely to sprout than the library wanted on that day."""
        return 100 * self.median < self.standard_percent


class PlannedSowing(models.Model):
    """A day on which somebody counts on a lot: it is tested in time for that."""

    lot = models.ForeignKey(Lot, on_delete=models.CASCADE, related_name="planned_sowings")
    on = models.DateField(_("to be sown on"))
    what_for = models.CharField(_("what for"), max_length=120)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    added_at = models.DateTimeField(default=timezone.now)

    objects = PlannedSowingQuerySet.as_manager()

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["lot", "on", "what_for"], name="planned_sowing_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} sown on {self.on}"


class ShelfDecision(models.Model):
    """What the coordinator decided of a lot that should be regrown, and why."""

    Decision = LotEstimate.Decided

    lot = models.ForeignKey(Lot, on_delete=models.CASCADE, related_name="shelf_decisions")
    decision = models.CharField(max_length=10, choices=Decision)
    reason = models.CharField(max_length=250)
    median = models.FloatField(null=True, help_text=_("The estimate on that day, 0 to 1."))
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    decided_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.lot_id}: {self.decision}"

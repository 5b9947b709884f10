"""A germination test: its dishes, what was counted on which day, and what was corrected."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.catalogue.reference_words import sentence
from library.germination.querysets import GerminationTestQuerySet
from library.stock.models import Lot


class GerminationTest(models.Model):
    """A counted test of a sample of one lot."""

    class Kind(models.TextChoices):
        FIXED = "fixed", _("all dishes at once")
        SEQUENTIAL = "sequential", _("few seeds at a time")

    class Verdict(models.TextChoices):
        ABOVE = "above", _("above the standard")
        BELOW = "below", _("below the standard")

    class State(models.TextChoices):
        PLANNED = "planned", _("planned")
        RUNNING = "running", _("running")
        CLOSED = "closed", _("closed")
        VOID = "void", _("void")

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="germination_tests")
    state = models.CharField(max_length=10, choices=State, default=State.RUNNING)
    kind = models.CharField(max_length=12, choices=Kind, default=Kind.FIXED)
    started_on = models.DateField(
        _("started on"), help_text=_("For a planned test the day it is to be laid out.")
    )
    first_count_on = models.DateField(_("first count on"), null=True, blank=True)
    final_count_on = models.DateField(_("final count on"), null=True, blank=True)
    closed_on = models.DateField(_("counted on"), null=True, blank=True)
    substrate = models.CharField(_("substrate"), max_length=80, blank=True)
    temperature_c = models.CharField(_("temperature, °C"), max_length=40, blank=True)
    directions = models.CharField(_("special handling"), max_length=400, blank=True)
    note = models.TextField(_("note"), blank=True, max_length=2000)
    good_percent = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    poor_percent = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    risk_good_percent = models.PositiveSmallIntegerField(null=True, blank=True)
    risk_poor_percent = models.PositiveSmallIntegerField(null=True, blank=True)
    group_seeds = models.PositiveSmallIntegerField(null=True, blank=True)
    most_seeds = models.PositiveSmallIntegerField(null=True, blank=True)
    verdict = models.CharField(max_length=10, choices=Verdict, blank=True)
    cut_off = models.BooleanField(
        default=False, help_text=_("The seeds that might be spent ran out first.")
    )
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    recorded_at = models.DateTimeField(default=timezone.now)
    void_reason = models.CharField(max_length=250, blank=True)

    objects = GerminationTestQuerySet.as_manager()

    class Meta:
        ordering = ["-started_on", "-pk"]
        indexes = [models.Index(fields=["-started_on", "-id"], name="test_newest_first")]
        constraints = [
            models.CheckConstraint(
                condition=Q(closed_on=None) | Q(closed_on__gte=F("started_on")),
                name="test_not_counted_before_it_started",
            ),
            models.CheckConstraint(
                condition=~Q(state="closed") | Q(closed_on__isnull=False),
                name="test_closed_has_a_day",
            ),
            models.CheckConstraint(
                condition=~Q(kind="sequential")
                | Q(
                    good_percent__gt=F("poor_percent"),
                    poor_percent__gt=0,
                    good_percent__lt=100,
                    risk_good_percent__range=(1, 49),
                    risk_poor_percent__range=(1, 49),
                    group_seeds__gt=0,
                    most_seeds__gte=F("group_seeds"),
                ),
                name="test_few_seeds_has_its_plan",
            ),
        ]

    def __str__(self) -> str:
        return f"test {self.pk}"

    # The conditions as published, where nobody chose others, in the reader's language.

    @property
    def local_substrate(self) -> str:
        return sentence(self.substrate)

    @property
    def local_temperature(self) -> str:
        return sentence(self.temperature_c)

    @property
    def local_directions(self) -> str:
        return sentence(self.directions)


class Replicate(models.Model):
    """One dish of a test."""

    test = models.ForeignKey(
        GerminationTest, on_delete=models.CASCADE, related_name="replicates"
    )
    number = models.PositiveSmallIntegerField()
    seeds = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    sown_on = models.DateField(null=True, blank=True)
    counted_on = models.DateField(
        null=True,
        blank=True,
        help_text=_("The day its last seed was accounted for."),
    )
    normal = models.PositiveIntegerField(_("normal"), default=0)
    abnormal = models.PositiveIntegerField(_("abnormal"), default=0)
    hard = models.PositiveIntegerField(_("hard"), default=0)
    fresh = models.PositiveIntegerField(_("fresh"), default=0)
    dead = models.PositiveIntegerField(_("dead"), default=0)
    amendment = models.OneToOneField(
        "TestAmendment",
        null=True,
        editable=False,
        on_delete=models.PROTECT,
        related_name="+",
        help_text=_("The newest correction of its counts."),
    )

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["test", "number"], name="replicate_number_once"),
            models.CheckConstraint(condition=Q(seeds__gt=0), name="replicate_has_seeds"),
            models.CheckConstraint(
                condition=Q(
                    seeds__gte=F("normal") + F("abnormal") + F("hard") + F("fresh") + F("dead")
                ),
                name="replicate_counts_no_more_than_sown",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.test_id}/{self.number}"


class DayCount(models.Model):
    """What was taken out of a dish on one day. The dish holds the sums."""

    replicate = models.ForeignKey(
        Replicate, on_delete=models.CASCADE, related_name="day_counts"
    )
    on = models.DateField()
    normal = models.PositiveIntegerField(default=0)
    abnormal = models.PositiveIntegerField(default=0)
    dead = models.PositiveIntegerField(default=0)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["on"]
        constraints = [
            models.UniqueConstraint(fields=["replicate", "on"], name="day_count_once_a_day")
        ]

    def __str__(self) -> str:
        return f"{self.replicate_id} on {self.on}"


class TestAmendment(models.Model):
    """A correction of a closed test: what it said before, what it says now, and why."""

    __test__ = False  # not a test class, whatever its name says to pytest

    test = models.ForeignKey(
        GerminationTest, on_delete=models.PROTECT, related_name="amendments"
    )
    field = models.CharField(max_length=20, help_text=_("A date, or dish and its number."))
    old_value = models.JSONField()
    new_value = models.JSONField()
    reason = models.CharField(max_length=250)
    amended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    amended_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"amendment of {self.test_id}: {self.field}"

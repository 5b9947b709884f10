"""Germination tests, and the day by which a lot must be tested again."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.germination.querysets import GerminationTestQuerySet, TestDateQuerySet
from library.germination.reasons import rows_for, sentence_for
from library.stock.models import Lot


class BenchRules(models.Model):
    """The library's own standard for its seed. One row."""

    standard_percent = models.PositiveSmallIntegerField(
        _("germination the library wants, %"),
        default=70,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
    )
    first_test_within_days = models.PositiveSmallIntegerField(
        _("days until a new lot's first test"),
        default=90,
        validators=[MinValueValidator(1), MaxValueValidator(365)],
    )
    hold_until_tested = models.BooleanField(
        _("do not lend a new lot before its first test"), default=True
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="bench_rules_one_row")]

    def __str__(self) -> str:
        return "bench rules"

    @classmethod
    def current(cls) -> BenchRules:
        return cls.objects.get_or_create(pk=1)[0]


class GerminationTest(models.Model):
    """A counted test of a sample of one lot."""

    class State(models.TextChoices):
        RUNNING = "running", _("running")
        CLOSED = "closed", _("closed")
        VOID = "void", _("void")

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="germination_tests")
    state = models.CharField(max_length=10, choices=State, default=State.RUNNING)
    started_on = models.DateField(_("started on"))
    closed_on = models.DateField(_("counted on"), null=True, blank=True)
    substrate = models.CharField(_("substrate"), max_length=80, blank=True)
    temperature_c = models.CharField(_("temperature, °C"), max_length=40, blank=True)
    note = models.TextField(_("note"), blank=True, max_length=2000)
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
        ]

    def __str__(self) -> str:
        return f"test {self.pk}"


class Replicate(models.Model):
    """One dish of a test."""

    test = models.ForeignKey(
        GerminationTest, on_delete=models.CASCADE, related_name="replicates"
    )
    number = models.PositiveSmallIntegerField()
    seeds = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    normal = models.PositiveIntegerField(default=0)
    abnormal = models.PositiveIntegerField(default=0)
    hard = models.PositiveIntegerField(default=0)
    fresh = models.PositiveIntegerField(default=0)
    dead = models.PositiveIntegerField(default=0)

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

"""The plan of a season: worked out in the background, kept with what it was worked out from."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from accounts.models import Garden
from library.catalogue.models import Variety
from library.growouts.models.seasons import Season
from library.growouts.querysets import PlanQuerySet
from library.stock.models import Isolation


class Plan(models.Model):
    """One working out of who grows what; the newest that ended is the one looked at.

    ``given`` is all that it was made from (a ``science.assignment.Season`` as JSON), so that it
    can explain itself when gardens and offers have changed since. ``cost`` and ``bound`` are in
    expected losses of varieties; ``gap`` is a share, None where none was proved.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        SOLVING = "solving", _("being worked on")
        DONE = "done", _("done")
        STOPPED = "stopped", _("stopped; its best so far")
        FAILED = "failed", _("failed")

    season = models.ForeignKey(Season, on_delete=models.CASCADE, related_name="plans")
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    asked_at = models.DateTimeField(default=timezone.now)
    seconds = models.PositiveSmallIntegerField()
    given = models.JSONField(default=dict)
    worker = models.CharField(max_length=80, blank=True)
    started_at = models.DateTimeField(null=True, blank=True)
    heard_at = models.DateTimeField(null=True, blank=True)  # a sign of life of its worker
    stop_asked_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    stage = models.CharField(max_length=40, blank=True)
    best = models.JSONField(default=list)  # pairs of the best so far
    covered = models.PositiveIntegerField(null=True)
    could_be_covered = models.PositiveIntegerField(null=True)
    most_covered = models.PositiveIntegerField(null=True)
    loss = models.FloatField(null=True)
    cost = models.FloatField(null=True)
    bound = models.FloatField(null=True)
    gap = models.FloatField(null=True)
    all_pairs = models.BooleanField(default=True)
    method = models.CharField(max_length=40, blank=True)
    by_hand = models.JSONField(default=dict)  # what the hand methods came to
    trouble = models.JSONField(default=dict)  # pins that clash, or what failed

    objects = PlanQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["season"],
                condition=Q(state__in=["waiting", "solving"]),
                name="plan_one_at_work_for_each_season",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["waiting", "solving"], finished_at=None)
                | Q(state__in=["done", "stopped", "failed"], finished_at__isnull=False),
                name="plan_ended_has_a_time",
            ),
        ]

    def __str__(self) -> str:
        return f"plan {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("growout-plan", args=[self.pk])

    @property
    def is_at_work(self) -> bool:
        return self.state in (self.State.WAITING, self.State.SOLVING)


class PlannedPair(models.Model):
    """A variety in a garden, as the plan has it, and why."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="pairs")
    variety = models.ForeignKey(Variety, on_delete=models.CASCADE, related_name="+")
    garden = models.ForeignKey(Garden, on_delete=models.CASCADE, related_name="+")
    technique = models.CharField(max_length=20, choices=Isolation, default=Isolation.DISTANCE)
    pinned = models.BooleanField(default=False)
    why = models.JSONField(default=dict)

    class Meta:
        ordering = ["variety__folded_name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["plan", "variety", "garden"], name="planned_pair_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.variety_id} in {self.garden_id}"


class LeftOut(models.Model):
    """A variety for which the plan found nobody, what stood in the way, and what would help."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="left_out")
    variety = models.ForeignKey(Variety, on_delete=models.CASCADE, related_name="+")
    why = models.JSONField(default=dict)

    class Meta:
        ordering = ["variety__folded_name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "variety"], name="left_out_once"),
        ]

    def __str__(self) -> str:
        return f"{self.variety_id} left out of {self.plan_id}"


class Pin(models.Model):
    """What the coordinator decided before the plan: this pair always, or never."""

    class Kind(models.TextChoices):
        KEEP = "keep", _("keep")
        NEVER = "never", _("never")

    season = models.ForeignKey(Season, on_delete=models.CASCADE, related_name="pins")
    variety = models.ForeignKey(Variety, on_delete=models.CASCADE, related_name="+")
    garden = models.ForeignKey(Garden, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=10, choices=Kind)
    reason = models.CharField(_("why"), max_length=250, blank=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["variety__folded_name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["season", "variety", "garden"], name="pin_once"),
            models.CheckConstraint(
                condition=Q(kind__in=["keep", "never"]), name="pin_kind_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.variety_id} in {self.garden_id}"

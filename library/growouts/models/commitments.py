"""A grower's promise to grow one variety in one garden in one season, and what came of it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from accounts.models import Garden
from library.catalogue.models import Variety
from library.growouts.models.plans import Plan
from library.growouts.models.seasons import Season
from library.growouts.querysets import (
    CommitmentQuerySet,
    MilestonePhotoQuerySet,
    MilestoneQuerySet,
)
from library.lending.models import Loan, Return
from library.photos.models import Photo
from library.stock.models import Isolation


class Cause(models.TextChoices):
    """Why a grow-out gave no seed; only the last few say anything of the grower's skill."""

    HAIL = "hail", _("hail or storm")
    FROST = "frost", _("frost")
    DROUGHT = "drought", _("drought or heat")
    FLOOD = "flood", _("too much rain")
    PESTS = "pests", _("slugs, insects, mice or birds")
    DISEASE = "disease", _("disease")
    ANIMALS = "animals", _("deer, sheep, a dog")
    BAD_SEED = "bad_seed", _("the seed did not come up")
    ILLNESS = "illness", _("illness or a move")
    CROSSED = "crossed", _("it crossed with something")
    NEGLECT = "neglect", _("it was not looked after")
    OTHER = "other", _("something else")


class Commitment(models.Model):
    """An offer to a grower and, once accepted, their promise.

    ``told`` is what the grower was told when it was offered: plants, isolation, dates, each
    with its source.
    """

    class State(models.TextChoices):
        OFFERED = "offered", _("offered")
        ACCEPTED = "accepted", _("accepted")
        DECLINED = "declined", _("declined")
        LAPSED = "lapsed", _("not answered in time")
        WITHDRAWN = "withdrawn", _("withdrawn")
        FULFILLED = "fulfilled", _("seed came back")
        FAILED = "failed", _("failed")

    season = models.ForeignKey(Season, on_delete=models.PROTECT, related_name="commitments")
    variety = models.ForeignKey(Variety, on_delete=models.PROTECT, related_name="commitments")
    grower = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="commitments"
    )
    garden = models.ForeignKey(
        Garden, null=True, on_delete=models.SET_NULL, related_name="commitments"
    )
    plan = models.ForeignKey(
        Plan, null=True, blank=True, on_delete=models.SET_NULL, related_name="commitments"
    )
    replaces = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="replaced_by"
    )
    state = models.CharField(max_length=10, choices=State, default=State.OFFERED)
    technique = models.CharField(max_length=20, choices=Isolation, default=Isolation.UNKNOWN)
    plants = models.PositiveIntegerField(_("plants"))
    told = models.JSONField(default=dict)
    offered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    offered_at = models.DateTimeField(default=timezone.now)
    answer_by = models.DateField(_("answer until"))
    answered_on = models.DateField(null=True, blank=True)
    answer_note = models.TextField(blank=True, max_length=2000)
    suggested = models.ForeignKey(
        Variety, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    closed_on = models.DateField(null=True, blank=True)
    cause = models.CharField(max_length=10, choices=Cause, blank=True)
    outcome_note = models.TextField(blank=True, max_length=2000)
    seed_return = models.ForeignKey(
        Return, null=True, blank=True, on_delete=models.PROTECT, related_name="commitments"
    )

    objects = CommitmentQuerySet.as_manager()

    class Meta:
        ordering = ["-offered_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["season", "variety", "grower"],
                condition=Q(state__in=["offered", "accepted", "fulfilled"]),
                name="commitment_one_for_each_grower",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["offered", "accepted"], closed_on=None)
                | Q(
                    state__in=["declined", "lapsed", "withdrawn", "fulfilled", "failed"],
                    closed_on__isnull=False,
                ),
                name="commitment_closed_has_a_day",
            ),
            models.CheckConstraint(
                condition=Q(state="failed", cause__gt="") | (~Q(state="failed") & Q(cause="")),
                name="commitment_failed_has_a_cause",
            ),
            models.CheckConstraint(
                condition=Q(suggested=None) | Q(state="declined"),
                name="commitment_another_suggested_when_declined",
            ),
            models.CheckConstraint(condition=Q(plants__gte=1), name="commitment_has_plants"),
        ]
        indexes = [
            # What waits for an answer, and what is growing.
            models.Index(
                fields=["season", "state"],
                condition=Q(state__in=["offered", "accepted"]),
                name="commitment_open",
            ),
        ]

    def __str__(self) -> str:
        return f"commitment {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("commitment", args=[self.pk])

    @property
    def is_offered(self) -> bool:
        return self.state == self.State.OFFERED

    @property
    def is_growing(self) -> bool:
        return self.state == self.State.ACCEPTED


class CommitmentLoan(models.Model):
    """A packet that was lent under a commitment."""

    commitment = models.ForeignKey(Commitment, on_delete=models.CASCADE, related_name="lent")
    loan = models.OneToOneField(Loan, on_delete=models.PROTECT, related_name="commitment_link")

    def __str__(self) -> str:
        return f"{self.commitment_id} {self.loan_id}"


class Milestone(models.Model):
    """A step of the grow-out, with the day it is expected on in that garden."""

    class Kind(models.TextChoices):
        SOWN = "sown", _("sown")
        STAND = "stand", _("stand counted")
        ROGUED = "rogued", _("rogued")
        ISOLATED = "isolated", _("flowering, isolated")
        HARVESTED = "harvested", _("harvested")
        CLEANED = "cleaned", _("cleaned")
        RETURNED = "returned", _("returned")

    commitment = models.ForeignKey(
        Commitment, on_delete=models.CASCADE, related_name="milestones"
    )
    kind = models.CharField(max_length=10, choices=Kind)
    step = models.PositiveSmallIntegerField()
    due_on = models.DateField()
    rule = models.CharField(max_length=60)
    inputs = models.JSONField(default=dict)
    done_on = models.DateField(null=True, blank=True)

    objects = MilestoneQuerySet.as_manager()

    class Meta:
        ordering = ["commitment", "step"]
        constraints = [
            models.UniqueConstraint(fields=["commitment", "kind"], name="milestone_once"),
            models.UniqueConstraint(
                fields=["commitment", "step"], name="milestone_steps_in_order"
            ),
        ]
        indexes = [
            models.Index(
                fields=["due_on"], condition=Q(done_on=None), name="milestone_to_come"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.commitment_id}"


class MilestoneReport(models.Model):
    """What the grower told of a step; a later one corrects, the earlier stays readable."""

    milestone = models.ForeignKey(Milestone, on_delete=models.CASCADE, related_name="reports")
    on = models.DateField()
    number = models.PositiveIntegerField(null=True, blank=True)
    note = models.TextField(blank=True, max_length=2000)
    off_types = models.PositiveIntegerField(null=True, blank=True)
    neighbour = models.CharField(max_length=120, blank=True)
    neighbour_m = models.PositiveIntegerField(null=True, blank=True)
    reported_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    reported_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"report of {self.milestone_id}"


class MilestonePhoto(models.Model):
    """A photo that was sent with a report."""

    report = models.ForeignKey(MilestoneReport, on_delete=models.CASCADE, related_name="photos")
    photo = models.OneToOneField(Photo, on_delete=models.CASCADE, related_name="+")

    objects = MilestonePhotoQuerySet.as_manager()

    def __str__(self) -> str:
        return f"photo of {self.report_id}"

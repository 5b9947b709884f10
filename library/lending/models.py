"""Deposits, loans and returns: the desk."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.catalogue.models import Crop, Variety
from library.germination.advice import MOST_LOSSES_PERCENT, USUAL_LOSSES_PERCENT
from library.lending import sentences
from library.lending.querysets import (
    DepositQuerySet,
    LoanEventQuerySet,
    LoanQuerySet,
    ReturnQuerySet,
)
from library.stock.models import Isolation, Lot, Packet


class LendingRules(models.Model):
    """What the library lends, and to whom how much. One row."""

    max_open_loans = models.PositiveSmallIntegerField(
        _("packets a member may have out"), default=12, validators=[MinValueValidator(1)]
    )
    max_packets_of_variety = models.PositiveSmallIntegerField(
        _("packets of one variety a member may have out"),
        default=2,
        validators=[MinValueValidator(1)],
    )
    grace_days = models.PositiveSmallIntegerField(
        _("days after seed is ripe until it is due"),
        default=60,
        validators=[MaxValueValidator(365)],
    )
    reserve_sowings = models.PositiveSmallIntegerField(
        _("sowings of its minimum population kept in reserve"),
        default=2,
        validators=[MaxValueValidator(10)],
    )
    expected_losses_percent = models.PositiveSmallIntegerField(
        _("seedlings lost to birds, slugs and weather, %"),
        default=USUAL_LOSSES_PERCENT,
        validators=[MaxValueValidator(MOST_LOSSES_PERCENT)],
        help_text=_(
            "What sowing advice and packet sizes begin with; a borrower can ask for another."
        ),
    )
    exchange_notice = models.TextField(_("rules of exchange"), blank=True, max_length=8000)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="lending_rules_one_row")]

    def __str__(self) -> str:
        return "lending rules"

    @classmethod
    def current(cls) -> LendingRules:
        return cls.objects.get_or_create(pk=1)[0]


class Deposit(models.Model):
    """Seed brought in from outside: proposed by a member, then received at the desk."""

    class State(models.TextChoices):
        PROPOSED = "proposed", _("proposed")
        RECEIVED = "received", _("received")
        DECLINED = "declined", _("declined")
        WITHDRAWN = "withdrawn", _("withdrawn")

    state = models.CharField(max_length=10, choices=State, default=State.PROPOSED)
    depositor = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="deposits",
        help_text=_("Empty: somebody who is not a member."),
    )
    variety = models.ForeignKey(
        Variety, null=True, blank=True, on_delete=models.PROTECT, related_name="deposits"
    )
    crop = models.ForeignKey(
        Crop, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    new_variety_name = models.CharField(
        _("name, if it is not in the catalogue"), max_length=120, blank=True
    )
    seeds = models.PositiveIntegerField(_("seeds"), null=True, blank=True)
    grams = models.DecimalField(
        _("grams"),
        max_digits=9,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    harvest_year = models.PositiveSmallIntegerField(_("harvest year"), null=True, blank=True)
    origin_region = models.CharField(max_length=120, blank=True)
    origin_story = models.TextField(blank=True, max_length=8000)
    source_name = models.CharField(max_length=120, blank=True)
    may_be_named = models.BooleanField(
        _("the lot's page may name me as the giver"), default=False
    )
    growing = models.JSONField(default=dict, blank=True)
    proposed_at = models.DateTimeField(default=timezone.now)
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    decision_note = models.TextField(blank=True, max_length=2000)
    lot = models.OneToOneField(
        Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="deposit"
    )

    objects = DepositQuerySet.as_manager()

    class Meta:
        ordering = ["-proposed_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="received", lot__isnull=False)
                | (~Q(state="received") & Q(lot=None)),
                name="deposit_received_has_a_lot",
            ),
            models.CheckConstraint(
                condition=Q(variety__isnull=False)
                | (~Q(new_variety_name="") & Q(crop__isnull=False)),
                name="deposit_says_what_it_is",
            ),
            models.CheckConstraint(
                condition=~Q(state="declined") | ~Q(decision_note=""),
                name="deposit_declined_has_a_reason",
            ),
        ]
        indexes = [
            # What waits at the desk.
            models.Index(
                fields=["proposed_at"], condition=Q(state="proposed"), name="deposit_waiting"
            ),
        ]

    def __str__(self) -> str:
        return f"deposit {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("deposit", args=[self.pk])

    @property
    def what(self) -> str:
        """The name of what is brought: a variety's, or the new one's."""
        return self.variety.name if self.variety else self.new_variety_name

    @property
    def is_waiting(self) -> bool:
        return self.state == self.State.PROPOSED


class Return(models.Model):
    """Seed brought back against one or more loans: a new lot whose parents are those lent."""

    class State(models.TextChoices):
        ANNOUNCED = "announced", _("announced")
        RECEIVED = "received", _("received")
        WITHDRAWN = "withdrawn", _("withdrawn")

    state = models.CharField(max_length=10, choices=State, default=State.ANNOUNCED)
    member = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="returns"
    )
    seeds = models.PositiveIntegerField(_("seeds"), null=True, blank=True)
    grams = models.DecimalField(
        _("grams"),
        max_digits=9,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    harvest_year = models.PositiveSmallIntegerField(_("harvest year"))
    garden = models.ForeignKey(
        "accounts.Garden", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    plants_sown = models.PositiveIntegerField(null=True, blank=True)
    plants_stood = models.PositiveIntegerField(null=True, blank=True)
    plants_gave_seed = models.PositiveIntegerField(null=True, blank=True)
    pollen_plants = models.PositiveIntegerField(null=True, blank=True)
    isolation = models.CharField(max_length=20, choices=Isolation, default=Isolation.UNKNOWN)
    isolation_distance_m = models.PositiveIntegerField(null=True, blank=True)
    crossing_neighbour = models.CharField(max_length=120, blank=True)
    selection = models.TextField(blank=True, max_length=2000)
    roguing = models.TextField(blank=True, max_length=2000)
    notes = models.TextField(blank=True, max_length=4000)
    announced_at = models.DateTimeField(default=timezone.now)
    received_at = models.DateTimeField(null=True, blank=True)
    received_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    lot = models.OneToOneField(
        Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="returned_as"
    )

    objects = ReturnQuerySet.as_manager()

    class Meta:
        ordering = ["-announced_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="received", lot__isnull=False)
                | (~Q(state="received") & Q(lot=None)),
                name="return_received_has_a_lot",
            ),
            models.CheckConstraint(
                condition=Q(plants_stood=None)
                | Q(plants_gave_seed=None)
                | Q(plants_gave_seed__lte=F("plants_stood")),
                name="return_no_more_gave_seed_than_stood",
            ),
        ]
        indexes = [
            # What waits at the desk.
            models.Index(
                fields=["announced_at"], condition=Q(state="announced"), name="return_waiting"
            ),
        ]

    def __str__(self) -> str:
        return f"return {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("return", args=[self.pk])

    @property
    def what(self) -> str:
        """The variety that was lent; one query for each, unless the links are prefetched."""
        links = list(self.loan_links.all())
        return links[0].loan.packet.lot.variety.name if links else ""

    @property
    def is_waiting(self) -> bool:
        return self.state == self.State.ANNOUNCED


class Loan(models.Model):
    """A packet handed to a member for sowing."""

    class Outcome(models.TextChoices):
        RETURNED = "returned", _("seed returned")
        CROP_FAILED = "crop_failed", _("crop failed")
        NOTHING_TO_RETURN = "nothing_to_return", _("nothing to return")
        TAKEN_BACK = "taken_back", _("packet brought back unopened")
        NOT_COLLECTED = "not_collected", _("not collected")

    packet = models.ForeignKey(Packet, on_delete=models.PROTECT, related_name="loans")
    borrower = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="loans"
    )
    garden = models.ForeignKey(
        "accounts.Garden", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    lent_on = models.DateField()
    lent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    handed_over_on = models.DateField(null=True, blank=True)
    due_on = models.DateField()
    due_rule = models.CharField(max_length=60)
    due_inputs = models.JSONField(default=dict)
    closed_on = models.DateField(null=True, blank=True)
    outcome = models.CharField(max_length=20, choices=Outcome, blank=True)
    outcome_note = models.TextField(blank=True, max_length=2000)
    override_reason = models.CharField(max_length=250, blank=True)

    objects = LoanQuerySet.as_manager()

    class Meta:
        ordering = ["due_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["packet"], condition=Q(closed_on=None), name="loan_one_open_per_packet"
            ),
            models.CheckConstraint(
                condition=Q(closed_on=None, outcome="")
                | (Q(closed_on__isnull=False) & ~Q(outcome="")),
                name="loan_closed_has_an_outcome",
            ),
            models.CheckConstraint(
                condition=Q(due_on__gte=F("lent_on")), name="loan_due_not_before_lent"
            ),
            models.CheckConstraint(
                condition=Q(handed_over_on=None) | Q(handed_over_on__gte=F("lent_on")),
                name="loan_not_handed_over_before_lent",
            ),
            models.CheckConstraint(
                condition=Q(closed_on=None) | Q(closed_on__gte=F("lent_on")),
                name="loan_not_closed_before_lent",
            ),
        ]
        indexes = [
            # What is due, and what a member has out.
            models.Index(fields=["due_on"], condition=Q(closed_on=None), name="loan_open_due"),
            models.Index(
                fields=["borrower"], condition=Q(closed_on=None), name="loan_open_borrower"
            ),
        ]

    def __str__(self) -> str:
        return f"loan {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("loan", args=[self.pk])

    @property
    def is_open(self) -> bool:
        return self.closed_on is None

    @property
    def is_collected(self) -> bool:
        return self.handed_over_on is not None

    def waiting_return(self) -> Return | None:
        """What is announced of its seed and not received yet."""
        return Return.objects.waiting().filter(loan_links__loan=self).first()

    @property
    def due_reason(self) -> str:
        """Why it is due on that day, in one sentence."""
        return sentences.sentence(self.due_rule, self.due_inputs)

    @property
    def due_rows(self) -> list[tuple[str, str]]:
        """What went into the due date, for a table."""
        return sentences.input_rows(self.due_inputs)


class LoanEvent(models.Model):
    """What happened to a loan after it was made: who, when, what and why. Only ever added."""

    class What(models.TextChoices):
        LENT = "lent", _("lent")
        HANDED_OVER = "handed_over", _("handed over")
        DUE_DATE_CHANGED = "due_date_changed", _("due date changed")
        GARDEN_CHANGED = "garden_changed", _("garden changed")
        PART_RETURNED = "part_returned", _("part of the seed returned")
        CLOSED = "closed", _("closed")

    loan = models.ForeignKey(Loan, on_delete=models.CASCADE, related_name="events")
    what = models.CharField(max_length=20, choices=What)
    on = models.DateField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    was_due_on = models.DateField(null=True, blank=True)
    now_due_on = models.DateField(null=True, blank=True)
    why = models.CharField(max_length=2000, blank=True)
    recorded_at = models.DateTimeField(default=timezone.now)

    objects = LoanEventQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(what="due_date_changed") | ~Q(why=""),
                name="loan_extension_has_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what} {self.loan_id}"


class ReturnedLoan(models.Model):
    """A loan that a return answers; a partial return leaves the loan open."""

    seed_return = models.ForeignKey(Return, on_delete=models.CASCADE, related_name="loan_links")
    loan = models.ForeignKey(Loan, on_delete=models.PROTECT, related_name="return_links")
    closes = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["seed_return", "loan"], name="returned_loan_once"),
        ]

    def __str__(self) -> str:
        return f"{self.seed_return_id} {self.loan_id}"

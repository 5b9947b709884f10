"""Lots, where they came from, and where they lie."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.catalogue.models import CountedAs, Variety
from library.stock.models.places import StoragePlace
from library.stock.querysets import LotQuerySet


class NumberSeries(models.Model):
    """The last number given out in a series; taken with one UPDATE."""

    name = models.CharField(max_length=20, unique=True)
    last = models.PositiveBigIntegerField(default=0)

    def __str__(self) -> str:
        return self.name


class Origin(models.TextChoices):
    DEPOSIT = "deposit", _("deposited from outside")
    RETURN = "return", _("grown and returned")
    BULK = "bulk", _("bulked from several lots")
    ELSEWHERE = "elsewhere", _("kept by another library")


class Lot(models.Model):
    """Seed of one variety harvested together, or bulked; the unit of provenance and testing.

    ``loose`` and ``packed`` are the seeds in the jar and in packets on the shelf. They are the
    sums of the lot's movements, kept here so that taking some is one conditional UPDATE.
    """

    number = models.CharField(max_length=20, unique=True)
    identifier = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    variety = models.ForeignKey(Variety, on_delete=models.PROTECT, related_name="lots")
    origin = models.CharField(_("origin"), max_length=10, choices=Origin)
    harvest_year = models.PositiveSmallIntegerField(
        _("harvest year"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1900), MaxValueValidator(2200)],
        help_text=_("Empty where it was never known."),
    )
    received_on = models.DateField(_("received on"))
    counted_as = models.CharField(max_length=10, choices=CountedAs, default=CountedAs.SEED)
    loose = models.PositiveIntegerField(default=0)
    packed = models.PositiveIntegerField(default=0)
    thousand_seed_weight_g = models.DecimalField(
        _("weight of a thousand seeds, g"),
        max_digits=9,
        decimal_places=4,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    moisture_percent = models.DecimalField(
        _("seed moisture, % of fresh weight"),
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )
    storage_place = models.ForeignKey(
        StoragePlace, null=True, blank=True, on_delete=models.PROTECT, related_name="lots"
    )
    custodian = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="lots_kept",
        help_text=_("Empty: the library."),
    )
    grower = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="lots_grown",
    )
    origin_region = models.CharField(
        _("where it came from, as coarsely as you like"), max_length=120, blank=True
    )
    origin_story = models.TextField(_("what was told of it"), blank=True, max_length=8000)
    source_name = models.CharField(
        _("who gave it, if they agreed to be named"), max_length=120, blank=True
    )
    awaits_first_test = models.BooleanField(default=False)
    withheld_reason = models.CharField(_("withheld"), max_length=250, blank=True)
    created_at = models.DateTimeField(default=timezone.now)

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ["-received_on", "-pk"]
        constraints = [
            # PositiveIntegerField checks >= 0 on both databases; named so that it is findable.
            models.CheckConstraint(condition=Q(loose__gte=0), name="lot_loose_never_negative"),
            models.CheckConstraint(
                condition=Q(packed__gte=0), name="lot_packed_never_negative"
            ),
            models.CheckConstraint(
                condition=Q(harvest_year=None) | Q(harvest_year__range=(1900, 2200)),
                name="lot_harvest_year_plausible",
            ),
            models.CheckConstraint(
                condition=~Q(origin="elsewhere") | Q(loose=0, packed=0),
                name="lot_elsewhere_holds_no_seed_here",
            ),
        ]
        indexes = [
            # A variety's shelf.
            models.Index(fields=["variety", "packed"], name="lot_shelf_of_variety"),
            # All lots in their order, a page at a time.
            models.Index(fields=["-received_on", "-id"], name="lot_newest_first"),
        ]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("lot", args=[self.number])

    @property
    def unit(self) -> str:
        """What the lot is counted in: seeds, tubers, cloves or slips."""
        return self.get_counted_as_display()

    @property
    def is_elsewhere(self) -> bool:
        """Whether another library kept it: a link of the chain, never seed on our shelf."""
        return self.origin == Origin.ELSEWHERE

    @property
    def balance(self) -> int:
        return self.loose + self.packed


class ForeignLot(models.Model):
    """What another library told of a lot that it kept; the lot's row here holds no seed."""

    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="foreign")
    library = models.CharField(_("the library that kept it"), max_length=120)
    number = models.CharField(_("its number there"), max_length=40)
    place = models.CharField(_("where that library is"), max_length=120, blank=True)
    grower_name = models.CharField(
        _("who grew it, by the name chosen there"), max_length=120, blank=True
    )
    origin_there = models.CharField(
        _("how it came about there"),
        max_length=10,
        choices=[choice for choice in Origin.choices if choice[0] != "elsewhere"],
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(origin_there__in=["deposit", "return", "bulk"]),
                name="foreign_lot_origin_is_known",
            ),
            models.CheckConstraint(
                condition=~Q(library="") & ~Q(number=""), name="foreign_lot_says_whose_it_was"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} of {self.library}"


class Keeping(models.Model):
    """Where a lot lay and who held it, from a day on; the newest row says where it is now."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="keepings")
    storage_place = models.ForeignKey(
        StoragePlace, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    custodian = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    since = models.DateField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"keeping of {self.lot_id} since {self.since}"


class LotParent(models.Model):
    """A link of the chain. A parent is always an older row, so a cycle cannot be written."""

    child = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="parent_links")
    parent = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="child_links")
    share = models.DecimalField(
        max_digits=7,
        decimal_places=6,
        validators=[MinValueValidator(0), MaxValueValidator(1)],
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["child", "parent"], name="lot_parent_once"),
            models.CheckConstraint(
                condition=Q(parent__lt=F("child")), name="lot_parent_is_older_row"
            ),
            models.CheckConstraint(
                condition=Q(share__gt=0, share__lte=1), name="lot_parent_share_is_a_part"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.child_id} from {self.parent_id}"

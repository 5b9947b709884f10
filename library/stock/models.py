"""Lots and where they came from, packets, storage places, and the seed ledger."""

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
from library.stock.querysets import LotQuerySet, MovementQuerySet, PacketQuerySet


class StoragePlace(models.Model):
    """A room, a freezer, a box in it: a tree. Unknown climate is left empty, never guessed."""

    class Kind(models.TextChoices):
        ROOM = "room", _("room")
        CUPBOARD = "cupboard", _("cupboard")
        REFRIGERATOR = "refrigerator", _("refrigerator")
        FREEZER = "freezer", _("freezer")
        BOX = "box", _("box or tin")
        SHELF = "shelf", _("shelf")

    name = models.CharField(_("name"), max_length=80)
    kind = models.CharField(_("kind"), max_length=20, choices=Kind)
    inside = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="holds",
        verbose_name=_("inside"),
    )
    temperature_c = models.DecimalField(
        _("temperature, °C"),
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(-80), MaxValueValidator(60)],
    )
    humidity_percent = models.DecimalField(
        _("relative humidity, %"),
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )
    note = models.TextField(_("note"), blank=True, max_length=2000)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["inside", "name"],
                name="storage_place_name_once",
                nulls_distinct=False,
            ),
            models.CheckConstraint(
                condition=Q(inside=None) | ~Q(inside=F("pk")),
                name="storage_place_not_in_itself",
            ),
        ]

    def __str__(self) -> str:
        return self.name


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
    withheld_reason = models.CharField(max_length=250, blank=True)
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
        ]
        indexes = [
            # A variety's shelf.
            models.Index(fields=["variety", "packed"], name="lot_shelf_of_variety"),
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
    def balance(self) -> int:
        return self.loose + self.packed


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


class Isolation(models.TextChoices):
    DISTANCE = "distance", _("distance")
    TIME = "time", _("flowered at another time")
    CAGE = "cage", _("cage")
    BAG = "bag", _("bagged flowers")
    HAND_POLLINATION = "hand_pollination", _("pollinated by hand")
    NONE = "none", _("nothing")
    UNKNOWN = "unknown", _("not known")


class Growing(models.Model):
    """How a lot was grown. What was not told is empty."""

    lot = models.OneToOneField(Lot, on_delete=models.CASCADE, related_name="growing")
    garden = models.ForeignKey(
        "accounts.Garden", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    plants_sown = models.PositiveIntegerField(
        _("seeds or plants set out"), null=True, blank=True
    )
    plants_stood = models.PositiveIntegerField(_("plants that stood"), null=True, blank=True)
    plants_gave_seed = models.PositiveIntegerField(
        _("plants that gave seed"), null=True, blank=True
    )
    isolation = models.CharField(
        _("isolated by"), max_length=20, choices=Isolation, default=Isolation.UNKNOWN
    )
    isolation_distance_m = models.PositiveIntegerField(
        _("metres to the nearest that could cross"), null=True, blank=True
    )
    crossing_neighbour = models.CharField(
        _("what that neighbour was"), max_length=120, blank=True
    )
    selection = models.TextField(_("what was selected for"), blank=True, max_length=2000)
    roguing = models.TextField(_("what was rogued out"), blank=True, max_length=2000)
    notes = models.TextField(_("notes"), blank=True, max_length=4000)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(plants_stood=None)
                | Q(plants_gave_seed=None)
                | Q(plants_gave_seed__lte=F("plants_stood")),
                name="growing_no_more_gave_seed_than_stood",
            ),
        ]

    def __str__(self) -> str:
        return f"growing of {self.lot_id}"


class LotAmendment(models.Model):
    """A fact of origin that was corrected: the old value stays readable."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="amendments")
    field = models.CharField(max_length=60)
    old_value = models.TextField(blank=True)
    new_value = models.TextField(blank=True)
    reason = models.TextField()
    amended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    amended_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["amended_at"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="amendment_has_a_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} {self.field}"


class Packet(models.Model):
    """A sealed, labelled part of a lot with a code that can be scanned."""

    class State(models.TextChoices):
        ON_SHELF = "on_shelf", _("on the shelf")
        LENT = "lent", _("lent")
        EMPTIED = "emptied", _("opened or emptied")
        DISCARDED = "discarded", _("discarded")
        GIVEN_AWAY = "given_away", _("given away")
        MISSING = "missing", _("missing at stock-taking")

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="packets")
    code = models.CharField(max_length=20, unique=True)
    seeds = models.PositiveIntegerField(_("seeds"), validators=[MinValueValidator(1)])
    state = models.CharField(max_length=10, choices=State, default=State.ON_SHELF)
    storage_place = models.ForeignKey(
        StoragePlace, null=True, blank=True, on_delete=models.PROTECT, related_name="packets"
    )
    sealed_on = models.DateField(_("sealed on"))

    objects = PacketQuerySet.as_manager()

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(condition=Q(seeds__gt=0), name="packet_is_not_empty"),
            models.CheckConstraint(
                condition=Q(
                    state__in=[
                        "on_shelf",
                        "lent",
                        "emptied",
                        "discarded",
                        "given_away",
                        "missing",
                    ]
                ),
                name="packet_state_is_known",
            ),
        ]
        indexes = [
            # The packets of a lot that can be lent.
            models.Index(
                fields=["lot"], condition=Q(state="on_shelf"), name="packet_on_shelf_of_lot"
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("packet", args=[self.code])


def _goes_the_way_of_its_kind() -> Q:
    """What each kind of movement may do to the jar and to the packets on the shelf."""
    into_the_jar = Q(loose_change__gt=0, packed_change=0)
    out_of_the_jar = Q(loose_change__lt=0, packed_change=0)
    of_a_packet = Q(loose_change=0, packet__isnull=False)
    return (
        Q(into_the_jar, kind__in=["received", "returned", "bulked_in"])
        | Q(out_of_the_jar, kind__in=["bulked_out", "drawn_for_test"])
        | Q(kind="packed", loose_change__lt=0)
        | Q(kind="unpacked", loose_change__gt=0, packet__isnull=False)
        | Q(of_a_packet, kind="lent", packed_change__lt=0)
        | Q(of_a_packet, kind="taken_back", packed_change__gt=0)
        | Q(kind__in=["discarded", "given_away"], loose_change__lte=0, packed_change__lte=0)
        | Q(kind__in=["miscounted", "found_different"])
    )


class Movement(models.Model):
    """One line of the seed ledger; only ever added.

    ``loose_change`` and ``packed_change`` are what it did to the jar and to the packets on the
    shelf, in seeds; their sum is what it did to the lot's balance.
    """

    class Kind(models.TextChoices):
        RECEIVED = "received", _("received")
        RETURNED = "returned", _("returned from a loan")
        BULKED_IN = "bulked_in", _("bulked from other lots")
        BULKED_OUT = "bulked_out", _("bulked into another lot")
        PACKED = "packed", _("packed")
        UNPACKED = "unpacked", _("packet emptied into the jar")
        LENT = "lent", _("lent")
        TAKEN_BACK = "taken_back", _("packet taken back unopened")
        DRAWN_FOR_TEST = "drawn_for_test", _("drawn for a test")
        DISCARDED = "discarded", _("discarded")
        GIVEN_AWAY = "given_away", _("given away")
        MISCOUNTED = "miscounted", _("miscounted")
        FOUND_DIFFERENT = "found_different", _("difference at stock-taking")

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements")
    packet = models.ForeignKey(
        Packet, null=True, blank=True, on_delete=models.PROTECT, related_name="movements"
    )
    kind = models.CharField(max_length=20, choices=Kind)
    loose_change = models.IntegerField(default=0)
    packed_change = models.IntegerField(default=0)
    on = models.DateField()
    reason = models.CharField(max_length=250, blank=True)
    mends = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="mended_by"
    )
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    recorded_at = models.DateTimeField(default=timezone.now)

    objects = MovementQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(loose_change=0) | ~Q(packed_change=0),
                name="movement_moves_something",
            ),
            models.CheckConstraint(
                condition=Q(mends=None) | ~Q(reason=""), name="movement_mending_has_a_reason"
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["packed", "unpacked"])
                | Q(loose_change=-F("packed_change")),
                name="movement_packing_keeps_the_sum",
            ),
            models.CheckConstraint(
                condition=Q(mends__isnull=False) | _goes_the_way_of_its_kind(),
                name="movement_goes_the_way_of_its_kind",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.loose_change:+d} {self.packed_change:+d}"


class StockTake(models.Model):
    """A day on which what is there was counted and compared with the ledger."""

    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    started_at = models.DateTimeField(default=timezone.now)
    closed_at = models.DateTimeField(null=True, blank=True)
    storage_place = models.ForeignKey(
        StoragePlace, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    note = models.TextField(blank=True, max_length=2000)

    def __str__(self) -> str:
        return f"stock-taking {self.pk}"


class StockTakeLine(models.Model):
    """One lot as counted: what the ledger said then, and what was there."""

    stock_take = models.ForeignKey(StockTake, on_delete=models.CASCADE, related_name="lines")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="stock_take_lines")
    expected_loose = models.PositiveIntegerField()
    counted_loose = models.PositiveIntegerField()
    expected_packets = models.PositiveIntegerField()
    found_packets = models.PositiveIntegerField()
    counted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    counted_at = models.DateTimeField(default=timezone.now)
    missing = models.ManyToManyField(Packet, related_name="+")
    found_again = models.ManyToManyField(Packet, related_name="+")

    class Meta:
        ordering = ["lot_id"]
        constraints = [
            models.UniqueConstraint(fields=["stock_take", "lot"], name="stock_take_lot_once"),
        ]

    def __str__(self) -> str:
        return f"{self.stock_take_id} {self.lot_id}"

"""Packets, and the ledger of all seed."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.stock.models.lots import Lot
from library.stock.models.places import StoragePlace
from library.stock.querysets import MovementQuerySet, PacketQuerySet


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

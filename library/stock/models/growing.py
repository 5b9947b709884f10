"""How a lot was grown, and what was corrected afterwards."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.stock.models.lots import Lot


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
    pollen_plants = models.PositiveIntegerField(
        _("plants that shed pollen, where the sexes are apart"), null=True, blank=True
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

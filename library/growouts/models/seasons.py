"""A season, what it is to renew, and what its growers offer."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from accounts.models import Garden
from library.catalogue.models import Species, Variety
from library.growouts.querysets import (
    GardenOfferQuerySet,
    GrowerOfferQuerySet,
    OwnPlantingQuerySet,
    SeasonQuerySet,
    WantedVarietyQuerySet,
)
from library.science.isolation import Technique


class Season(models.Model):
    """The grow-outs of one year, called after the year in which its spring falls."""

    year = models.PositiveSmallIntegerField(
        _("year"), unique=True, validators=[MinValueValidator(1900), MaxValueValidator(2200)]
    )
    offers_until = models.DateField(_("gardens are offered until"), null=True, blank=True)
    note = models.TextField(_("a word to the growers"), blank=True, max_length=4000)
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    opened_at = models.DateTimeField(default=timezone.now)
    closed_on = models.DateField(null=True, blank=True)

    objects = SeasonQuerySet.as_manager()

    class Meta:
        ordering = ["-year"]
        constraints = [
            models.CheckConstraint(
                condition=Q(year__range=(1900, 2200)), name="season_year_plausible"
            ),
        ]

    def __str__(self) -> str:
        return str(self.year)

    def get_absolute_url(self) -> str:
        return reverse("growout-season", args=[self.year])

    @property
    def is_over(self) -> bool:
        return self.closed_on is not None

    def takes_offers(self, on: dt.date) -> bool:
        """Whether growers may still say on that day what they offer."""
        return not self.is_over and (self.offers_until is None or on <= self.offers_until)


class WantedVariety(models.Model):
    """A variety that the season is to renew."""

    season = models.ForeignKey(Season, on_delete=models.CASCADE, related_name="wanted")
    variety = models.ForeignKey(Variety, on_delete=models.CASCADE, related_name="+")
    weight = models.DecimalField(
        _("how much its loss counts"),
        max_digits=4,
        decimal_places=1,
        default=1,
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )
    most_growers = models.PositiveSmallIntegerField(
        _("growers at most"),
        default=2,
        validators=[MinValueValidator(1), MaxValueValidator(20)],
    )
    why = models.CharField(_("why"), max_length=250, blank=True)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    added_at = models.DateTimeField(default=timezone.now)

    objects = WantedVarietyQuerySet.as_manager()

    class Meta:
        ordering = ["variety__folded_name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["season", "variety"], name="season_wants_once"),
            models.CheckConstraint(
                condition=Q(weight__gte=0, most_growers__gte=1), name="wanted_counts"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.variety_id} in {self.season_id}"


class GrowerOffer(models.Model):
    """What one grower offers for a season: so many varieties, in these gardens."""

    season = models.ForeignKey(Season, on_delete=models.CASCADE, related_name="offers")
    member = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="grower_offers"
    )
    most = models.PositiveSmallIntegerField(
        _("varieties at most"),
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(50)],
    )
    wishes = models.TextField(
        _("what you would like, or rather not"), blank=True, max_length=2000
    )
    made_at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = GrowerOfferQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["season", "member"], name="grower_offers_once"),
            models.CheckConstraint(condition=Q(most__gte=1), name="grower_wants_some"),
        ]

    def __str__(self) -> str:
        return f"{self.member_id} in {self.season_id}"

    def get_absolute_url(self) -> str:
        return self.season.get_absolute_url()


class GardenOffer(models.Model):
    """Room in one garden, and what its grower can do there to keep flowers apart."""

    offer = models.ForeignKey(GrowerOffer, on_delete=models.CASCADE, related_name="gardens")
    garden = models.ForeignKey(Garden, on_delete=models.CASCADE, related_name="+")
    room_m2 = models.DecimalField(
        _("room in square metres"),
        max_digits=8,
        decimal_places=1,
        validators=[MinValueValidator(0)],
    )
    room_next_m2 = models.DecimalField(
        _("room that may stay bound for a second season"),
        max_digits=8,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    can_cage = models.BooleanField(_("a cage over the plants"), default=False)
    can_bag = models.BooleanField(_("bags over the flowers"), default=False)
    can_pollinate_by_hand = models.BooleanField(_("pollinating by hand"), default=False)

    objects = GardenOfferQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["offer", "garden"], name="garden_offered_once"),
            models.CheckConstraint(condition=Q(room_m2__gte=0), name="garden_offer_has_room"),
        ]

    def __str__(self) -> str:
        return f"garden {self.garden_id}"

    @property
    def techniques(self) -> frozenset[Technique]:
        """What its grower can do to keep flowers apart, as the plan reads it."""
        can = {
            Technique.CAGE: self.can_cage,
            Technique.BAG: self.can_bag,
            Technique.HAND_POLLINATION: self.can_pollinate_by_hand,
        }
        return frozenset(technique for technique, able in can.items() if able)


class OwnPlanting(models.Model):
    """What somebody grows for themselves in a year: a neighbour's crop may cross with it."""

    garden = models.ForeignKey(Garden, on_delete=models.CASCADE, related_name="plantings")
    year = models.PositiveSmallIntegerField(
        _("year"), validators=[MinValueValidator(1900), MaxValueValidator(2200)]
    )
    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="+")
    variety = models.ForeignKey(
        Variety, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    name = models.CharField(_("name"), max_length=120, blank=True)
    plants = models.PositiveIntegerField(_("plants"), null=True, blank=True)
    room_m2 = models.DecimalField(
        _("room in square metres"),
        max_digits=8,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    flowers = models.BooleanField(_("it will flower"), default=True)
    for_seed = models.BooleanField(_("I want to save seed of it"), default=False)
    note = models.CharField(_("note"), max_length=500, blank=True)

    objects = OwnPlantingQuerySet.as_manager()

    class Meta:
        ordering = ["year", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(variety=None) | ~Q(name=""), name="own_planting_says_what_it_is"
            ),
        ]
        indexes = [models.Index(fields=["year", "species"], name="own_planting_of_year")]

    def __str__(self) -> str:
        return f"{self.name or self.variety_id} {self.year}"

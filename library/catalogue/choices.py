"""The words that the card file chooses from."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _


class LifeCycle(models.TextChoices):
    ANNUAL = "annual", _("annual")
    BIENNIAL = "biennial", _("biennial")
    PERENNIAL = "perennial", _("perennial")
    CLONAL = "clonal", _("replanted from tubers, cloves or slips")


class Pollination(models.TextChoices):
    SELF = "self", _("pollinates itself")
    MOSTLY_SELF = "mostly-self", _("mostly pollinates itself")
    INSECT = "insect", _("by insects")
    WIND = "wind", _("by wind")
    CLONAL = "clonal", _("not by seed")


class CountedAs(models.TextChoices):
    SEED = "seed", _("seeds")
    TUBER = "tuber", _("tubers")
    CLOVE = "clove", _("cloves")
    SLIP = "slip", _("slips")


class How(models.TextChoices):
    """How far to trust a figure."""

    READ = "read", _("read in the source")
    MEMORY = "memory", _("from memory")
    COMPUTED = "computed", _("computed")
    COMMON_PRACTICE = "common practice", _("common practice, no source")


class BreedingStatus(models.TextChoices):
    OPEN_POLLINATED = "open-pollinated", _("open-pollinated")
    F1 = "f1", _("F1 hybrid")
    SEGREGATING = "segregating", _("segregating line")
    STABILISED = "stabilised", _("stabilised")
    LANDRACE = "landrace", _("landrace")
    CLONE = "clone", _("clone")

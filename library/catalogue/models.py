"""Species, crops and varieties: the card file."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext_lazy as _

from library.catalogue.querysets import CropQuerySet, SeasonNoteQuerySet, VarietyQuerySet


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


class Species(models.Model):
    """The crossing unit: everything in it can cross."""

    botanical_name = models.CharField(max_length=120, unique=True)
    slug = models.SlugField(max_length=120, unique=True)
    common_name = models.CharField(max_length=120)
    synonyms = models.CharField(max_length=250, blank=True)
    family = models.CharField(max_length=60)
    pollination = models.CharField(max_length=20, choices=Pollination)
    breeding_note = models.TextField(blank=True)

    class Meta:
        ordering = ["common_name"]
        verbose_name_plural = "species"

    def __str__(self) -> str:
        return self.botanical_name


class SpeciesFigure(models.Model):
    """One sourced figure of a species. What was not found has no row."""

    class How(models.TextChoices):
        READ = "read", _("read in the source")
        MEMORY = "memory", _("from memory")
        COMPUTED = "computed", _("computed")
        COMMON_PRACTICE = "common practice", _("common practice, no source")

    class Quantity(models.TextChoices):
        ISOLATION_HOME_M = "isolation_home_m", _("isolation distance, home garden")
        ISOLATION_CERTIFIED_M = "isolation_certified_m", _("isolation distance, certified seed")
        MIN_POPULATION = "min_population", _("plants to keep the variety")
        STORAGE_BEHAVIOUR = "storage_behaviour", _("storage behaviour")
        LONGEVITY_YEARS = "longevity_years", _("keeps, cool and dry")
        THOUSAND_SEED_WEIGHT_G = "thousand_seed_weight_g", _("weight of a thousand seeds")
        SEEDS_PER_GRAM_CFR = "seeds_per_gram_cfr", _("seeds in a gram")
        FEDERAL_MIN_PERCENT = "federal_min_percent", _("federal minimum germination")
        STATE_MIN_PERCENT = "state_min_percent", _("state minimum germination")
        TEST_TEMPERATURE_C = "test_temperature_c", _("test temperature")
        TEST_FIRST_COUNT_DAYS = "test_first_count_days", _("first count after")
        TEST_FINAL_COUNT_DAYS = "test_final_count_days", _("final count after")
        TEST_DIRECTIONS = "test_directions", _("special handling in the test")

    species = models.ForeignKey(Species, on_delete=models.CASCADE, related_name="figures")
    quantity = models.CharField(max_length=40, choices=Quantity)
    number = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    text = models.CharField(max_length=400, blank=True)
    unit = models.CharField(max_length=30, blank=True)
    source = models.TextField()
    how = models.CharField(max_length=20, choices=How)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["species", "quantity"], name="species_figure_once"),
            models.CheckConstraint(
                condition=~Q(number=None) | ~Q(text=""), name="species_figure_says_something"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.species_id} {self.quantity}"


class Caution(models.Model):
    """Where the work can hurt someone, and what is usually said about it."""

    topic = models.SlugField(max_length=60, unique=True)
    text = models.TextField()
    source = models.TextField()
    how = models.CharField(max_length=20, choices=SpeciesFigure.How)
    for_everything = models.BooleanField(default=False)
    species = models.ManyToManyField(Species, blank=True, related_name="cautions")

    def __str__(self) -> str:
        return self.topic


class Crop(models.Model):
    """A kind within a species as gardeners say it; sowing and test facts are read here."""

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="crops")
    name = models.CharField(max_length=80, unique=True)
    slug = models.SlugField(max_length=80, unique=True)
    other_names = models.CharField(max_length=250, blank=True)
    life_cycle = models.CharField(max_length=20, choices=LifeCycle)
    counted_as = models.CharField(max_length=10, choices=CountedAs, default=CountedAs.SEED)
    note = models.TextField(blank=True)

    objects = CropQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("crop", args=[self.slug])


class BreedingStatus(models.TextChoices):
    OPEN_POLLINATED = "open-pollinated", _("open-pollinated")
    F1 = "f1", _("F1 hybrid")
    SEGREGATING = "segregating", _("segregating line")
    STABILISED = "stabilised", _("stabilised")
    LANDRACE = "landrace", _("landrace")
    CLONE = "clone", _("clone")


class Variety(models.Model):
    """A named member of a crop: one card."""

    crop = models.ForeignKey(Crop, on_delete=models.PROTECT, related_name="varieties")
    name = models.CharField(_("name"), max_length=120)
    breeding_status = models.CharField(
        _("breeding status"), max_length=20, choices=BreedingStatus
    )
    generation = models.PositiveSmallIntegerField(
        _("generation"),
        null=True,
        blank=True,
        validators=[MinValueValidator(2), MaxValueValidator(30)],
        help_text=_("For a segregating line: 2 for F2, 3 for F3 …"),
    )
    description = models.TextField(_("description"), blank=True, max_length=8000)
    origin_story = models.TextField(_("origin story"), blank=True, max_length=8000)
    days_to_maturity = models.PositiveSmallIntegerField(
        _("days from sowing to harvest for eating"),
        null=True,
        blank=True,
        validators=[MinValueValidator(10), MaxValueValidator(800)],
    )
    own_caution = models.TextField(_("caution"), blank=True, max_length=2000)
    is_rare = models.BooleanField(_("rare"), default=False)
    min_population = models.PositiveIntegerField(
        _("plants to keep it, if not as its species"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
    )
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    added_at = models.DateTimeField(default=timezone.now)

    objects = VarietyQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "varieties"
        constraints = [
            models.UniqueConstraint(fields=["crop", "name"], name="variety_name_once_in_crop"),
            models.CheckConstraint(
                condition=Q(breeding_status="segregating", generation__gte=2)
                | (~Q(breeding_status="segregating") & Q(generation=None)),
                name="variety_generation_only_while_segregating",
            ),
        ]
        indexes = [models.Index(fields=["name"], name="variety_by_name")]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("variety", args=[self.pk, self.slug])

    @property
    def slug(self) -> str:
        return slugify(self.name) or "variety"

    @property
    def breeds_true(self) -> bool:
        return self.breeding_status not in (BreedingStatus.F1, BreedingStatus.SEGREGATING)


class VarietyName(models.Model):
    """Every name a variety is known by, its own included, folded for finding."""

    variety = models.ForeignKey(Variety, on_delete=models.CASCADE, related_name="names")
    name = models.CharField(max_length=120)
    folded = models.CharField(max_length=120, db_index=True)
    is_synonym = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["variety", "folded"], name="variety_known_by_once"),
        ]

    def __str__(self) -> str:
        return self.name


class SeasonNote(models.Model):
    """What a member saw of a variety in one year; who may read it is theirs to say."""

    class Readers(models.TextChoices):
        ME = "me", _("only me")
        MEMBERS = "members", _("members")
        EVERYONE = "everyone", _("everyone")

    variety = models.ForeignKey(Variety, on_delete=models.CASCADE, related_name="season_notes")
    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="season_notes"
    )
    year = models.PositiveSmallIntegerField(
        _("year"), validators=[MinValueValidator(1900), MaxValueValidator(2200)]
    )
    text = models.TextField(_("note"), max_length=8000)
    readers = models.CharField(
        _("who may read it"), max_length=10, choices=Readers, default=Readers.MEMBERS
    )
    written_at = models.DateTimeField(default=timezone.now)

    objects = SeasonNoteQuerySet.as_manager()

    class Meta:
        ordering = ["-year", "-written_at"]

    def __str__(self) -> str:
        return f"{self.variety_id} {self.year}"

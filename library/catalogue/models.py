"""Species, crops and varieties: the card file."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from library.catalogue.choices import BreedingStatus, CountedAs, How, LifeCycle, Pollination
from library.catalogue.names import FOLDED_LENGTH, fold
from library.catalogue.querysets import (
    CautionQuerySet,
    CropQuerySet,
    SeasonNoteQuerySet,
    SpeciesQuerySet,
    VarietyQuerySet,
)
from library.catalogue.reference_words import (
    name_of_crop,
    name_of_species,
    names_of_crop,
    sentence,
)


class Species(models.Model):
    """The crossing unit: everything in it can cross."""

    botanical_name = models.CharField(max_length=120, unique=True)
    slug = models.SlugField(max_length=120, unique=True)
    common_name = models.CharField(max_length=120)
    synonyms = models.CharField(max_length=250, blank=True)
    family = models.CharField(max_length=60)
    pollination = models.CharField(max_length=20, choices=Pollination)
    life_cycle = models.CharField(max_length=120, blank=True)
    breeding_note = models.TextField(blank=True)
    dioecious = models.BooleanField(default=False, help_text=_("Plants are male or female."))
    uncertain = models.TextField(blank=True, help_text=_("What is doubtful in its figures."))
    source = models.TextField(blank=True)
    how = models.CharField(max_length=20, choices=How, default=How.MEMORY)

    objects = SpeciesQuerySet.as_manager()

    class Meta:
        ordering = ["common_name"]
        verbose_name_plural = "species"

    def __str__(self) -> str:
        return self.botanical_name

    @property
    def local_name(self) -> str:
        """What the reader's language calls it; ``common_name`` is for files."""
        return name_of_species(self.common_name)

    @property
    def local_life_cycle(self) -> str:
        return sentence(self.life_cycle)

    @property
    def local_breeding_note(self) -> str:
        return sentence(self.breeding_note)

    @property
    def local_doubt(self) -> str:
        return sentence(self.uncertain)


class SpeciesFigure(models.Model):
    """One sourced figure of a species. What was not found has no row."""

    How = How

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
        TEST_SUBSTRATE = "test_substrate", _("test substrate")

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

    @property
    def local_text(self) -> str:
        """Its words, in the reader's language."""
        return sentence(self.text)


class ViabilityConstants(models.Model):
    """How fast a species' seed dies in storage: the constants of the viability equation.

    Only species for which somebody published them, and only the set that is recommended.
    """

    species = models.OneToOneField(
        Species, on_delete=models.CASCADE, related_name="viability_constants"
    )
    ke = models.FloatField()
    cw = models.FloatField()
    ch = models.FloatField()
    cq = models.FloatField()
    source = models.TextField()
    how = models.CharField(max_length=20, choices=How)
    note = models.TextField(blank=True)

    class Meta:
        verbose_name_plural = "viability constants"
        constraints = [
            models.CheckConstraint(
                condition=Q(cw__gt=0), name="viability_drier_seed_lives_longer"
            ),
        ]

    def __str__(self) -> str:
        return f"viability constants of {self.species_id}"


class Caution(models.Model):
    """Where the work can hurt someone, and what is usually said about it."""

    class Concern(models.TextChoices):
        """Seed that a caution is about whatever its species."""

        F1 = "f1", _("first-generation hybrids")
        TREATED = "treated", _("treated seed")
        ORNAMENTAL_POISON = "ornamental_poison", _("poisonous ornamentals")

    topic = models.SlugField(max_length=60, unique=True)
    text = models.TextField()
    source = models.TextField()
    how = models.CharField(max_length=20, choices=How)
    for_everything = models.BooleanField(default=False)
    concerns = models.CharField(max_length=20, choices=Concern, blank=True)
    species = models.ManyToManyField(Species, blank=True, related_name="cautions")

    objects = CautionQuerySet.as_manager()

    def __str__(self) -> str:
        return self.topic

    @property
    def local_text(self) -> str:
        """What it says, in the reader's language."""
        return sentence(self.text)


class Crop(models.Model):
    """A kind within a species as gardeners say it; sowing and test facts are read here."""

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="crops")
    name = models.CharField(max_length=80, unique=True)
    slug = models.SlugField(max_length=80, unique=True)
    other_names = models.CharField(max_length=250, blank=True)
    life_cycle = models.CharField(max_length=20, choices=LifeCycle)
    counted_as = models.CharField(max_length=10, choices=CountedAs, default=CountedAs.SEED)
    note = models.TextField(blank=True)
    source = models.TextField(blank=True)
    how = models.CharField(max_length=20, choices=How, default=How.MEMORY)

    objects = CropQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(life_cycle__in=LifeCycle.values), name="crop_life_cycle_is_known"
            ),
            models.CheckConstraint(
                condition=Q(counted_as__in=CountedAs.values), name="crop_counted_as_is_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("crop", args=[self.slug])

    @property
    def local_name(self) -> str:
        """What the reader's language calls it; ``name`` is for files and looking up."""
        return name_of_crop(self.name)

    @property
    def local_other_names(self) -> str:
        """Its other names in the reader's language, with semicolons between."""
        names = names_of_crop(self.name)
        return "; ".join(names[1:]) if names else self.other_names

    @property
    def local_note(self) -> str:
        return sentence(self.note)

    @property
    def is_counted_in_plant_parts(self) -> bool:
        return self.counted_as != CountedAs.SEED


class Variety(models.Model):
    """A named member of a crop: one card."""

    crop = models.ForeignKey(Crop, on_delete=models.PROTECT, related_name="varieties")
    name = models.CharField(_("name"), max_length=120)
    folded_name = models.CharField(max_length=FOLDED_LENGTH, editable=False)
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
        validators=[MinValueValidator(1), MaxValueValidator(100_000)],
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
        ordering = ["folded_name", "pk"]
        verbose_name_plural = "varieties"
        constraints = [
            models.UniqueConstraint(
                fields=["crop", "folded_name"],
                name="variety_name_once_in_crop",
                violation_error_message=_("This crop has a variety of that name already."),
            ),
            models.CheckConstraint(
                condition=Q(breeding_status__in=BreedingStatus.values),
                name="variety_breeding_status_is_known",
            ),
            models.CheckConstraint(
                condition=Q(
                    breeding_status="segregating",
                    generation__isnull=False,  # a CHECK lets through what is NULL
                    generation__gte=2,
                )
                | (~Q(breeding_status="segregating") & Q(generation=None)),
                name="variety_generation_only_while_segregating",
            ),
            models.CheckConstraint(
                condition=Q(min_population=None) | Q(min_population__gte=1),
                name="variety_min_population_is_some",
            ),
        ]
        # The browse page: a page of names in order, over everything or within a crop (the
        # unique constraint above serves that one). The home page: the newest few.
        indexes = [
            models.Index(fields=["folded_name", "id"], name="variety_by_name"),
            models.Index(fields=["-added_at", "-id"], name="variety_newest_first"),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, **options) -> None:
        """Keep the folded name in step, whoever saves: order and uniqueness rest on it."""
        self.folded_name = fold(self.name)
        if options.get("update_fields") is not None and "name" in options["update_fields"]:
            options["update_fields"] = {*options["update_fields"], "folded_name"}
        super().save(**options)

    def get_absolute_url(self) -> str:
        return reverse("variety", args=[self.pk, self.slug])

    @property
    def slug(self) -> str:
        return slugify(self.name) or "variety"

    @property
    def breeds_true(self) -> bool:
        return self.breeding_status not in (BreedingStatus.F1, BreedingStatus.SEGREGATING)

    @property
    def breeding_label(self) -> str:
        """The words for its breeding status, with what a borrower must know of it."""
        if self.breeding_status == BreedingStatus.F1:
            return gettext("F1 hybrid: will not breed true")
        if self.breeding_status == BreedingStatus.SEGREGATING:
            return gettext("F%(n)s, still segregating: plants will differ") % {
                "n": self.generation
            }
        if self.breeding_status == BreedingStatus.CLONE:
            return gettext("clone: grown from plant parts, not from seed")
        return str(self.get_breeding_status_display())


class VarietyName(models.Model):
    """Every name a variety is known by, its own included, folded for finding."""

    variety = models.ForeignKey(Variety, on_delete=models.CASCADE, related_name="names")
    name = models.CharField(max_length=120)
    folded = models.CharField(max_length=FOLDED_LENGTH, db_index=True)
    is_synonym = models.BooleanField(default=True)

    class Meta:
        ordering = ["is_synonym", "name"]
        constraints = [
            models.UniqueConstraint(fields=["variety", "folded"], name="variety_known_by_once"),
            models.UniqueConstraint(
                fields=["variety"],
                condition=Q(is_synonym=False),
                name="variety_has_one_own_name",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class VarietyEdit(models.Model):
    """One change of a variety's card: who, when, what it said before and says now."""

    variety = models.ForeignKey(Variety, on_delete=models.CASCADE, related_name="edits")
    field = models.CharField(max_length=60)
    old_value = models.TextField(blank=True)
    new_value = models.TextField(blank=True)
    edited_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    edited_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-edited_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.variety_id} {self.field}"

    @property
    def field_label(self) -> str:
        if self.field == "synonyms":
            return gettext("other names")
        if self.field == "crop":
            return gettext("crop")
        field = Variety._meta.get_field(self.field)
        return str(getattr(field, "verbose_name", self.field))

    @property
    def old_words(self) -> str:
        return self._words(self.old_value)

    @property
    def new_words(self) -> str:
        return self._words(self.new_value)

    def _words(self, value: str) -> str:
        if self.field == "breeding_status":
            return str(dict(BreedingStatus.choices).get(value, value))
        if self.field == "crop":
            return name_of_crop(value)
        if self.field == "is_rare":
            return gettext("yes") if value == "True" else gettext("no")
        return value


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
        constraints = [
            models.CheckConstraint(
                condition=Q(readers__in=["me", "members", "everyone"]),
                name="season_note_readers_are_known",
            ),
            models.CheckConstraint(
                condition=Q(year__range=(1900, 2200)), name="season_note_year_plausible"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.variety_id} {self.year}"


class ReferenceFile(models.Model):
    """A reference file as last read; the same content is not read twice."""

    name = models.CharField(max_length=60, unique=True)
    digest = models.CharField(max_length=64)
    read_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return self.name

"""Where seed is kept."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _


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

    told: tuple[str, ...] = ()  # what followed from an edit, for the person who made it

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["inside", "name"], name="storage_place_name_once"),
            # A NULL is different from every NULL, and SQLite cannot be told otherwise.
            models.UniqueConstraint(
                fields=["name"],
                condition=Q(inside=None),
                name="storage_place_name_once_at_the_top",
            ),
            models.CheckConstraint(
                condition=Q(inside=None) | ~Q(inside=F("pk")),
                name="storage_place_not_in_itself",
            ),
        ]

    def __str__(self) -> str:
        return self.name

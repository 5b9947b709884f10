"""A photo and the one thing that it shows."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.urls import reverse

from library.album.querysets import AttachedPhotoQuerySet
from library.catalogue.models import SeasonNote, Variety
from library.photos.models import Photo
from library.stock.models import Lot


class AttachedPhoto(models.Model):
    """A photo of a variety, of a lot, or of what a season note tells: of one of them."""

    photo = models.OneToOneField(Photo, on_delete=models.CASCADE, related_name="attached")
    variety = models.ForeignKey(
        Variety, null=True, on_delete=models.PROTECT, related_name="photos"
    )
    lot = models.ForeignKey(Lot, null=True, on_delete=models.PROTECT, related_name="photos")
    note = models.ForeignKey(
        SeasonNote, null=True, on_delete=models.PROTECT, related_name="photos"
    )

    objects = AttachedPhotoQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        verbose_name = "photo"
        constraints = [
            models.CheckConstraint(
                condition=Q(variety__isnull=False, lot=None, note=None)
                | Q(variety=None, lot__isnull=False, note=None)
                | Q(variety=None, lot=None, note__isnull=False),
                name="attached_photo_shows_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"photo {self.pk}"

    def get_absolute_url(self) -> str:
        """The page of what it shows."""
        if self.note is not None:
            return f"{self.note.variety.get_absolute_url()}#note-{self.note_id}"
        return self.subject.get_absolute_url()  # type: ignore[union-attr]

    @property
    def subject(self) -> Variety | Lot | SeasonNote:
        return self.variety or self.lot or self.note  # type: ignore[return-value]

    def get_image_url(self) -> str:
        return reverse("album-photo", args=[self.photo.identifier])

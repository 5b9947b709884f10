"""Pictures that people took: written anew before they are kept, without the place they name."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone


class Photo(models.Model):
    """One picture, as it is shown: in the database, so that a backup and every host have it.

    ``content`` was written by us from the pixels alone; nothing that the camera noted is in it.
    Who may see it is said by what it is attached to.
    """

    identifier = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    content = models.BinaryField()
    content_type = models.CharField(max_length=20)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    caption = models.CharField(max_length=250, blank=True)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    added_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(content_type__in=["image/jpeg", "image/webp"]),
                name="photo_type_is_ours",
            ),
            models.CheckConstraint(
                condition=Q(width__gte=1, height__gte=1), name="photo_has_a_size"
            ),
        ]

    def __str__(self) -> str:
        return str(self.identifier)

"""The questions asked of the card file."""

from __future__ import annotations

from django.db import models
from django.db.models import Q


class CropQuerySet(models.QuerySet):
    def with_figures(self):
        return self.select_related("species").prefetch_related(
            "species__figures", "species__cautions"
        )


class VarietyQuerySet(models.QuerySet):
    def with_crop(self):
        return self.select_related("crop__species")


class SeasonNoteQuerySet(models.QuerySet):
    def readable_by(self, member):
        """Everyone's open notes; for members those kept to members; one's own always."""
        if not member.is_authenticated:
            return self.filter(readers="everyone")
        if member.has_perm("accounts.borrow"):
            return self.filter(Q(readers__in=["everyone", "members"]) | Q(author=member))
        return self.filter(Q(readers="everyone") | Q(author=member))

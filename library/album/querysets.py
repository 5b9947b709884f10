"""The questions asked of attached photos."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from accounts.access import may_browse
from accounts.roles import COORDINATE


class AttachedPhotoQuerySet(models.QuerySet):
    def visible_to(self, member):
        """Who sees the variety, the lot or the note sees its photos."""
        from library.catalogue.models import SeasonNote
        from library.stock.models import Lot

        notes = Q(note__in=SeasonNote.objects.readable_by(member))
        if may_browse(member):
            return self.filter(Q(note=None) | notes)
        if not member.is_authenticated:
            return self.none()
        return self.filter(Q(lot__in=Lot.objects.visible_to(member)))

    def removable_by(self, member):
        """One's own, and those of one's notes; for a coordinator every one that they see."""
        seen = self.visible_to(member)
        if not member.is_authenticated:
            return self.none()
        if member.has_perm(COORDINATE):
            return seen
        return seen.filter(Q(photo__added_by=member) | Q(note__author=member))

    def with_details(self):
        """With what is shown of them, without the pictures themselves."""
        return self.select_related("photo__added_by", "variety", "lot", "note__variety").defer(
            "photo__content"
        )

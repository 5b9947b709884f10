"""The questions asked of chains that were sent."""

from __future__ import annotations

from django.db import models

from accounts.roles import SERVE_DESK


class ChainImportQuerySet(models.QuerySet):
    def visible_to(self, member):
        """The desk brings chains in; nobody else sees a file that was sent."""
        return self if member.has_perm(SERVE_DESK) else self.none()

    def waiting(self):
        return self.filter(state="preview")

    def answered(self):
        return self.exclude(state="preview")

    def with_details(self):
        """For a list: who and what, without the file itself."""
        return self.select_related("brought_by", "decided_by", "lot").defer("content")

"""The questions asked of files that were brought in, and of their rows."""

from __future__ import annotations

from django.db import models
from django.db.models import Count

from accounts.roles import ADMINISTER, COORDINATE


class CardImportQuerySet(models.QuerySet):
    def visible_to(self, member):
        """Coordinators see files of seed; those of people are for administrators alone."""
        if member.has_perm(ADMINISTER):
            return self
        return self.exclude(kind="members") if member.has_perm(COORDINATE) else self.none()

    def at_work(self):
        return self.filter(state__in=["looking", "writing", "undoing"])

    def with_details(self):
        """For a list: who and what, without the file itself."""
        return self.select_related("brought_by", "confirmed_by", "undone_by").defer(
            "content", "sample"
        )


class CardRowQuerySet(models.QuerySet):
    def by_fate(self) -> dict[str, int]:
        """How many rows there are of each fate."""
        counted = self.order_by().values_list("fate").annotate(n=Count("pk"))
        return dict(counted)

    def still_there(self):
        """Rows that were written and not undone: what they say is here."""
        return self.filter(fate__in=["written", "kept"])

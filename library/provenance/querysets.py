"""The questions asked of a chain's reports, in the trade's words."""

from __future__ import annotations

from django.db import models


class OffTypeReportQuerySet(models.QuerySet):
    def standing(self):
        """Reports that nobody has lifted."""
        return self.filter(lifted_at=None)

    def lifted(self):
        """Reports that warn of nothing any more."""
        return self.exclude(lifted_at=None)

    def with_people(self):
        return self.select_related("reported_by", "lifted_by")


class OffTypeClearanceQuerySet(models.QuerySet):
    def with_people(self):
        return self.select_related("cleared_by")

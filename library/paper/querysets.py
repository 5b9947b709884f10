"""The questions asked of sheets and print jobs."""

from __future__ import annotations

from django.db import models


class LabelSheetQuerySet(models.QuerySet):
    def first_choice(self):
        """The sheet that is used unless another is named."""
        return self.order_by("-is_default", "name").first()


class PrintJobQuerySet(models.QuerySet):
    def visible_to(self, member):
        """One's own: what is on paper was chosen by the rights of whoever asked."""
        return self.filter(asked_by=member) if member.is_authenticated else self.none()

    def at_work(self):
        return self.filter(state__in=["waiting", "working"])

    def without_file(self):
        return self.defer("content")

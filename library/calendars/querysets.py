"""The questions asked about what is in calendars."""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.db.models import Count, Max, Sum


class EntryQuerySet(models.QuerySet):
    def of(self, member):
        return self.filter(member=member)

    def ended_before(self, when: dt.datetime):
        """What was over before ``when``."""
        return self.filter(ended_at__lt=when)

    def state(self) -> dict:
        """Differs whenever an entry was added, changed, ended or taken away."""
        return self.aggregate(
            entries=Count("pk"),
            changes=Sum("sequence"),
            last=Max("changed_at"),
            keys=Sum("pk"),
        )

    def in_order(self):
        return self.order_by("due_on", "pk")

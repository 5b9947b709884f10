"""The questions asked about what is in calendars."""

from __future__ import annotations

import datetime as dt

from django.db import models


class EntryQuerySet(models.QuerySet):
    def of(self, member):
        return self.filter(member=member)

    def ended_before(self, when: dt.datetime):
        """What was over before ``when``."""
        return self.filter(ended_at__lt=when)

    def in_order(self):
        return self.order_by("due_on", "pk")

"""The questions asked about waiting mail."""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.db.models import Q


class MessageQuerySet(models.QuerySet):
    def waiting(self):
        """Mail that is neither sent, nor given up, nor dropped."""
        return self.filter(sent_at=None, failed_at=None, dropped_at=None)

    def ready(self, at: dt.datetime):
        """Waiting mail whose time has come and that nobody is delivering."""
        return self.waiting().filter(not_before__lte=at, claimed_at=None)

    def claimed(self):
        return self.waiting().filter(claimed_at__isnull=False)

    def stale(self, before: dt.datetime):
        """Mail whose deliverer has not been heard of since ``before``."""
        return self.claimed().filter(claimed_at__lt=before)

    def finished(self):
        return self.filter(
            Q(sent_at__isnull=False) | Q(failed_at__isnull=False) | Q(dropped_at__isnull=False)
        )

    def finished_before(self, when: dt.datetime):
        return self.filter(Q(sent_at__lt=when) | Q(failed_at__lt=when) | Q(dropped_at__lt=when))

"""The questions asked about waiting mail."""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.db.models import Exists, OuterRef, Q


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

    def refused(self, address: str):
        """The newest mail that the server refused for good for this address, unless one came
        through since; None.
        """
        return self._refused().filter(to=address).order_by("-failed_at").first()

    def refused_addresses(self):
        """Addresses that were refused for good, and nothing came through since."""
        return self._refused().order_by().values_list("to", flat=True).distinct()

    def _refused(self):
        later = self.model._default_manager.filter(
            to=OuterRef("to"), sent_at__gt=OuterRef("failed_at")
        )
        bad = self.filter(failed_at__isnull=False, last_error__contains="RecipientsRefused")
        return bad.exclude(to="").exclude(Exists(later))

    def finished(self):
        return self.filter(
            Q(sent_at__isnull=False) | Q(failed_at__isnull=False) | Q(dropped_at__isnull=False)
        )

    def finished_before(self, when: dt.datetime):
        return self.filter(Q(sent_at__lt=when) | Q(failed_at__lt=when) | Q(dropped_at__lt=when))

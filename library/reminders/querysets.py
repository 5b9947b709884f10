"""The questions asked about reminders."""

from __future__ import annotations

from django.db import models


class ReminderQuerySet(models.QuerySet):
    def waiting(self):
        """Planned, and neither queued as mail nor withdrawn."""
        return self.filter(queued_at=None, withdrawn_at=None)

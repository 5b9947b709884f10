"""The questions asked at the bench."""

from __future__ import annotations

from django.db import models


class GerminationTestQuerySet(models.QuerySet):
    def closed(self):
        return self.filter(state="closed")


class TestDateQuerySet(models.QuerySet):
    def due(self, on):
        """Lots with seed left whose test day has come, on or before ``on``."""
        has_seed = models.Q(lot__loose__gt=0) | models.Q(lot__packed__gt=0)
        return self.filter(has_seed, due_on__lte=on)

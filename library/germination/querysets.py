"""The questions asked at the bench."""

from __future__ import annotations

from django.db import models
from django.db.models import Exists, OuterRef, Q


class GerminationTestQuerySet(models.QuerySet):
    def closed(self):
        return self.filter(state="closed")

    def running(self):
        return self.filter(state="running")

    def planned(self):
        return self.filter(state="planned")

    def with_lot(self):
        return self.select_related("lot__variety__crop__species").prefetch_related("replicates")

    def with_results(self):
        """Ready for ``result_of``: dishes, and the figures of the species."""
        return self.select_related("lot__variety__crop__species").prefetch_related(
            "replicates", "lot__variety__crop__species__figures"
        )


class TestDateQuerySet(models.QuerySet):
    def with_seed(self):
        """Dates of lots of which anything is left to test."""
        return self.filter(Q(lot__loose__gt=0) | Q(lot__packed__gt=0))

    def due(self, on):
        """Lots with seed left whose test day has come, on or before ``on``."""
        return self.with_seed().filter(due_on__lte=on)

    def being_tested(self, yes: bool = True):
        """Lots of which a test is running, or of which none is."""
        from library.germination.models import GerminationTest

        running = Exists(GerminationTest.objects.running().filter(lot=OuterRef("lot")))
        return self.filter(running if yes else ~running)

    def with_lot(self):
        return self.select_related("lot__variety__crop__species")


class LotEstimateQuerySet(models.QuerySet):
    def to_regrow(self):
        """Lots with seed left that should be regrown."""
        left = Q(lot__loose__gt=0) | Q(lot__packed__gt=0)
        return self.filter(left).exclude(regrow_rule="")

    def with_lot(self):
        return self.select_related("lot__variety__crop__species")

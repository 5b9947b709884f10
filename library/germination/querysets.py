"""The questions asked at the bench."""

from __future__ import annotations

from django.db import models
from django.db.models import DateField, Exists, F, OuterRef, Q, Value


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

    def with_all_counts(self):
        """With what was counted by day, what was corrected, and by whom."""
        return self.select_related("recorded_by").prefetch_related(
            "replicates__day_counts", "amendments__amended_by"
        )

    def counts_due(self, on):
        """Running tests of which a published count has come, on or before ``on``: the first
        while nothing was counted since, the final one while a dish lies open.

        A group that was sown later is counted later by as much.
        """
        from library.germination.models import DayCount, Replicate

        day = Value(on, output_field=DateField())
        lying = Replicate.objects.filter(test=OuterRef("pk"), counted_on=None)
        of_lying = {"replicate__test": OuterRef("pk"), "replicate__counted_on": None}
        counted = DayCount.objects.filter(**of_lying)
        final_due = _after(lying, day, "final_count_on", "test__", "")
        first_due = _after(lying, day, "first_count_on", "test__", "")
        first_made = _after(
            counted, F("on"), "first_count_on", "replicate__test__", "replicate__"
        )
        due = Exists(final_due) | (Exists(first_due) & ~Exists(first_made))
        return self.running().filter(due)


def _after(rows, day, count: str, test: str, dish: str):
    """Rows whose dish lies, on a day, as long as the test's published count asks for."""
    waits = F(f"{test}{count}") - F(f"{test}started_on")
    return rows.alias(lies=day - F(f"{dish}sown_on")).filter(lies__gte=waits)


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

    def to_regrow(self, yes: bool = True):
        """Dates of lots that are to be regrown, or of the others."""
        from library.germination.models import LotEstimate

        poor = LotEstimate.objects.to_regrow().filter(lot=OuterRef("lot"))
        return self.filter(Exists(poor) if yes else ~Exists(poor))

    def with_lot(self):
        return self.select_related("lot__variety__crop__species")


class LotEstimateQuerySet(models.QuerySet):
    def fallen(self):
        """Lots with seed left that have fallen so far that they should be regrown."""
        left = Q(lot__loose__gt=0) | Q(lot__packed__gt=0)
        return self.filter(left).exclude(regrow_rule="")

    def to_regrow(self):
        """Of those the ones of which nobody decided that they go on being lent."""
        return self.fallen().exclude(decided="keep")

    def undecided(self):
        """Of those the ones that wait for the coordinator: lent as if nothing were."""
        return self.to_regrow().filter(
            Q(decided="") | Q(decided="withhold", lot__withheld_reason="")
        )

    def with_lot(self):
        return self.select_related("lot__variety__crop__species")


class PlannedSowingQuerySet(models.QuerySet):
    def to_come(self, on):
        """Sowings planned for ``on`` or later."""
        return self.filter(on__gte=on)

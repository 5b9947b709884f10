"""What was seen of a lot later that casts doubt on where it came from."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.provenance.querysets import OffTypeClearanceQuerySet, OffTypeReportQuerySet
from library.stock.models import Lot


class OffTypeReport(models.Model):
    """Off-type plants seen in a stand of a lot: a warning for it and for all grown from it.

    Reports are only added. One that turned out wrong, or was dealt with, is lifted with a
    reason; it stays readable.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="off_type_reports")
    seen_on = models.DateField(_("seen on"))
    what = models.TextField(_("what was seen"), max_length=2000)
    plants_seen = models.PositiveIntegerField(_("off-type plants"), null=True, blank=True)
    plants_looked_at = models.PositiveIntegerField(_("plants looked at"), null=True, blank=True)
    reported_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    reported_at = models.DateTimeField(default=timezone.now)
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    lift_reason = models.TextField(blank=True, max_length=2000)

    objects = OffTypeReportQuerySet.as_manager()

    class Meta:
        ordering = ["seen_on", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(what=""), name="off_type_report_says_what"),
            models.CheckConstraint(
                condition=Q(lifted_at=None, lift_reason="")
                | (Q(lifted_at__isnull=False) & ~Q(lift_reason="")),
                name="off_type_report_lifted_with_a_reason",
            ),
            models.CheckConstraint(
                condition=Q(plants_seen=None)
                | Q(plants_looked_at=None)
                | Q(plants_seen__lte=models.F("plants_looked_at")),
                name="off_type_report_saw_no_more_than_looked_at",
            ),
        ]
        indexes = [
            models.Index(
                fields=["lot"], condition=Q(lifted_at=None), name="off_type_report_standing"
            ),
        ]

    def __str__(self) -> str:
        return f"off-types in {self.lot_id}"

    @property
    def stands(self) -> bool:
        return self.lifted_at is None


class OffTypeClearance(models.Model):
    """A descendant that was found true: the warning goes no further than it on that way.

    Rows are only added; a clearance that was wrong is answered by a new report.
    """

    report = models.ForeignKey(
        OffTypeReport, on_delete=models.PROTECT, related_name="clearances"
    )
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="off_type_clearances")
    reason = models.TextField(max_length=2000)
    cleared_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    cleared_at = models.DateTimeField(default=timezone.now)

    objects = OffTypeClearanceQuerySet.as_manager()

    class Meta:
        ordering = ["cleared_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["report", "lot"], name="off_type_cleared_once_for_a_lot"
            ),
            models.CheckConstraint(
                condition=~Q(reason=""), name="off_type_clearance_has_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} cleared of {self.report_id}"

"""The questions asked at the desk."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import models

from accounts.roles import SERVE_DESK

UNCOLLECTED_AFTER = dt.timedelta(days=21)


class _OwnOrDesk(models.QuerySet):
    """A member sees their own; the desk sees all."""

    owner = ""

    def visible_to(self, member):
        if not member.is_authenticated:
            return self.none()
        if member.has_perm(SERVE_DESK):
            return self
        return self.of(member)

    def of(self, member):
        """That member's own."""
        return self.filter(**{self.owner: member})


class DepositQuerySet(_OwnOrDesk):
    owner = "depositor"

    def waiting(self):
        return self.filter(state="proposed")

    def with_details(self):
        return self.select_related("depositor", "variety__crop", "crop", "lot", "decided_by")


class ReturnQuerySet(_OwnOrDesk):
    owner = "member"

    def waiting(self):
        return self.filter(state="announced")

    def with_details(self):
        links: Any = self.model._meta.get_field("loan_links").related_model
        lent = links.objects.select_related("loan__packet__lot__variety__crop").order_by("loan")
        return self.select_related("member", "lot__variety").prefetch_related(
            models.Prefetch("loan_links", queryset=lent)
        )


class LoanQuerySet(_OwnOrDesk):
    owner = "borrower"

    def open(self):
        return self.filter(closed_on=None)

    def closed(self):
        return self.exclude(closed_on=None)

    def due(self, on):
        return self.open().filter(due_on__lte=on)

    def overdue(self, on):
        return self.open().filter(due_on__lt=on)

    def collected(self):
        return self.filter(handed_over_on__isnull=False)

    def to_hand_over(self):
        """Packets that a member chose and nobody handed over yet."""
        return self.open().filter(handed_over_on=None)

    def never_collected(self, on):
        """Those chosen so long ago that the desk should ask, or put the packet back."""
        return self.to_hand_over().filter(lent_on__lt=on - UNCOLLECTED_AFTER)

    def announced(self):
        """Open loans of which seed is announced as coming back."""
        return self.open().filter(return_links__seed_return__state="announced").distinct()

    def of_variety(self, variety):
        return self.filter(packet__lot__variety=variety)

    def with_details(self):
        return self.select_related("borrower", "lent_by", "packet__lot__variety__crop__species")

    def with_estimates(self):
        """And what is likely to sprout of the lot that was lent."""
        return self.select_related("packet__lot__estimate")


class LoanEventQuerySet(models.QuerySet):
    def at_desk(self, *, by, on):
        """What one volunteer lent, handed over and took back on a day."""
        handed = models.Q(what="handed_over") | models.Q(what="lent", loan__lent_by=by)
        back = models.Q(what="closed", loan__outcome="taken_back")
        return self.filter(handed | back, by=by, on=on)

    def counted(self) -> dict[str, int]:
        """How many of them were lent (or handed over), and how many taken back."""
        back = models.Q(what="closed")
        return self.aggregate(
            lent=models.Count("pk", filter=~back), taken_back=models.Count("pk", filter=back)
        )

    def with_loans(self):
        return self.select_related("loan__borrower", "loan__packet__lot__variety__crop")

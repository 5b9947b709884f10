"""The questions asked about reminders."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

STATES = {
    "planned": Q(queued_at=None, withdrawn_at=None),
    "waiting": Q(
        queued_at__isnull=False,
        withdrawn_at=None,
        message__sent_at=None,
        message__failed_at=None,
        message__dropped_at=None,
        message__isnull=False,
    ),
    "sent": Q(message__sent_at__isnull=False, withdrawn_at=None),
    "failed": Q(message__failed_at__isnull=False, withdrawn_at=None),
    "withdrawn": Q(withdrawn_at__isnull=False),
}


class ReminderQuerySet(models.QuerySet):
    def waiting(self):
        """Planned, and neither queued as mail nor withdrawn."""
        return self.filter(STATES["planned"])

    def withdrawn(self):
        return self.filter(STATES["withdrawn"])

    def let_wait_again(self) -> int:
        """Wait for the next queueing, with a mail of another key than before."""
        return self.update(
            withdrawn_at=None,
            queued_at=None,
            message=None,
            times_sent_again=F("times_sent_again") + 1,
        )

    def in_state(self, state: str):
        """One of ``STATES``."""
        return self.filter(STATES[state])

    def telling_names(self):
        """Those told to whoever answers for a thing, whose title may name somebody else."""
        named = ("growout-late", "membership-request")
        return self.filter(Q(kind__endswith=":late") | Q(kind__in=named))

    def of(self, member):
        return self.filter(recipient=member)

    def with_mail(self):
        """Each with its recipient and the mail that carries it."""
        return self.select_related("recipient", "message")

"""The questions asked at the desk."""

from __future__ import annotations

from django.db import models

from accounts.roles import SERVE_DESK


class _OwnOrDesk(models.QuerySet):
    """A member sees their own; the desk sees all."""

    owner = ""

    def visible_to(self, member):
        if not member.is_authenticated:
            return self.none()
        if member.has_perm(SERVE_DESK):
            return self
        return self.filter(**{self.owner: member})


class DepositQuerySet(_OwnOrDesk):
    owner = "depositor"

    def waiting(self):
        return self.filter(state="proposed")


class ReturnQuerySet(_OwnOrDesk):
    owner = "member"

    def waiting(self):
        return self.filter(state="announced")


class LoanQuerySet(_OwnOrDesk):
    owner = "borrower"

    def open(self):
        return self.filter(closed_on=None)

    def due(self, on):
        return self.open().filter(due_on__lte=on)

    def overdue(self, on):
        return self.open().filter(due_on__lt=on)

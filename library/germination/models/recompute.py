"""How far the recompute of all estimates and test days has come."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone


class Recompute(models.Model):
    """The round of one day: begun, how far, and over. One row, so that a round that was cut
    short goes on where it was.

    Lots are done in the order of their keys, by a second process from the other end: what lies
    between ``after`` and ``before`` is still to do.
    """

    on = models.DateField(null=True)
    after = models.BigIntegerField(default=0)
    before = models.BigIntegerField(null=True)
    lots = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    moved = models.PositiveIntegerField(default=0)  # test days
    started_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)
    asked_at = models.DateTimeField(null=True)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="recompute_one_row")]

    def __str__(self) -> str:
        return f"recompute of {self.on}"

    @classmethod
    def current(cls) -> Recompute:
        """The row, not kept yet before the first round."""
        return cls.objects.filter(pk=1).first() or cls(pk=1)

    def has_to_do(self, pk: int) -> bool:
        """Whether the lot of that key is not done yet."""
        return self.after < pk and (self.before is None or pk < self.before)

    @property
    def is_running(self) -> bool:
        return self.started_at is not None and self.finished_at is None

    @property
    def is_asked_for(self) -> bool:
        """Whether somebody asked for a round since the last one began."""
        if self.asked_at is None:
            return False
        return self.started_at is None or self.asked_at > self.started_at

    def is_over(self, on: dt.date) -> bool:
        """Whether all lots are done for that day, and nobody asked for them again."""
        return self.on == on and self.finished_at is not None and not self.is_asked_for

    def begin(self, on: dt.date, total: int) -> None:
        """A new round, of all lots."""
        self.on, self.total = on, total
        self.after, self.before = 0, None
        self.lots = self.moved = 0
        self.started_at, self.finished_at = timezone.now(), None
        self.save()
